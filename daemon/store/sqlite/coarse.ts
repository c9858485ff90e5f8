import { Decoder, Encoder } from './entropy-coder.ts';
import { decodeIntegers, encodeIntegers } from './integer-column.ts';
import { decodeValues, encodeValues } from './value-column.ts';

/** Length of the steps that a page keeps of its readings, ms: a week is drawn from them without unpacking it. */
export const COARSE_MS = 5 * 60_000;
/** An hour has no more of them. */
const MOST_STEPS = 12;

/** What a line over a long time is drawn from: all readings of one step, `fromMs` ≤ at < `fromMs` + step. */
export interface CoarseStep {
  fromMs: number;
  count: number;
  /** Of the values, so that means of several steps can be put together. */
  sum: number;
  least: number;
  most: number;
}

/** A sum of numbers near the end of what can be said stays there: means of such are none. */
export const finite = (sum: number): number => Math.max(-Number.MAX_VALUE, Math.min(Number.MAX_VALUE, sum));

/** The steps that hold readings, ascending, aligned to whole multiples of their length since the epoch. */
export function coarseOf(
  readings: { readonly atMs: ArrayLike<number>; readonly value: ArrayLike<number> },
  stepMs: number,
): CoarseStep[] {
  const steps = new Map<number, CoarseStep>();
  for (let i = 0; i < readings.atMs.length; i++) {
    const fromMs = Math.floor(readings.atMs[i]! / stepMs) * stepMs;
    const value = readings.value[i]!;
    const step = steps.get(fromMs);
    if (step === undefined) {
      steps.set(fromMs, { fromMs, count: 1, sum: value, least: value, most: value });
      continue;
    }
    step.count++;
    step.sum = finite(step.sum + value);
    step.least = Math.min(step.least, value);
    step.most = Math.max(step.most, value);
  }
  return [...steps.values()].sort((a, b) => a.fromMs - b.fromMs);
}

/** The steps of an hour (at least one), packed. */
export function encodeCoarse(hourMs: number, steps: readonly CoarseStep[]): Uint8Array {
  const out = new Encoder();
  out.unsigned(steps.length);
  encodeIntegers(
    steps.map(({ fromMs }) => (fromMs - hourMs) / COARSE_MS),
    out,
  );
  encodeIntegers(
    steps.map(({ count }) => count),
    out,
  );
  for (const column of ['sum', 'least', 'most'] as const) {
    encodeValues(
      steps.map((step) => step[column]),
      out,
    );
  }
  return out.finish();
}

/** Throws where the bytes are damaged. */
export function decodeCoarse(hourMs: number, bytes: Uint8Array): CoarseStep[] {
  const from = new Decoder(bytes);
  const length = from.unsigned();
  if (length < 1 || length > MOST_STEPS) throw new Error('damaged coarse steps: their number');
  const index = decodeIntegers(length, from);
  const count = decodeIntegers(length, from);
  const sum = decodeValues(length, from);
  const least = decodeValues(length, from);
  const most = decodeValues(length, from);
  from.end();
  return Array.from({ length }, (_, i) => ({
    fromMs: hourMs + index[i]! * COARSE_MS,
    count: count[i]!,
    sum: sum[i]!,
    least: least[i]!,
    most: most[i]!,
  }));
}
