import { gaussian, type Random } from '../../simulator/random.ts';

/** Readings as a common digital probe sends them: their times jitter, and their noise is rounded to steps. */
export const JITTER_MS = 5;
export const STEP_C = 0.0625;
const NOISE_C = 0.05;

/** °C of a vessel that is held warm, without noise. */
export const steady = (atMs: number): number => 55 + 2 * Math.sin((2 * Math.PI * atMs) / 1_500_000);
export const reading = (truth: number, random: Random): number =>
  Math.round((truth + NOISE_C * gaussian(random)) / STEP_C) * STEP_C;

/** Bits of a normal number rounded to whole steps, its mean `phase` beside one. */
function roundedBits(deviation: number, phase: number): number {
  const reach = Math.ceil(8 * deviation) + 1;
  let bits = 0;
  for (let whole = -reach; whole <= reach; whole++) {
    const probability = within(whole - 0.5 - phase, whole + 0.5 - phase, deviation);
    if (probability > 0) bits -= probability * Math.log2(probability);
  }
  return bits;
}

/** Share of a normal distribution between two numbers, by Simpson's rule. */
function within(from: number, to: number, deviation: number): number {
  const PARTS = 16;
  const density = (x: number): number => Math.exp(-0.5 * (x / deviation) ** 2);
  let sum = density(from) + density(to);
  for (let i = 1; i < PARTS; i++) sum += (i % 2 === 1 ? 4 : 2) * density(from + ((to - from) * i) / PARTS);
  return (sum * (to - from)) / PARTS / 3 / (deviation * Math.sqrt(2 * Math.PI));
}

/** What one reading has of information, its regular time and the truth known beforehand. */
export const READING_ENTROPY_BYTES = (() => {
  const PHASES = 64;
  let valueBits = 0;
  for (let i = 0; i < PHASES; i++) valueBits += roundedBits(NOISE_C / STEP_C, (i + 0.5) / PHASES) / PHASES;
  return (roundedBits(JITTER_MS, 0) + valueBits) / 8;
})();
