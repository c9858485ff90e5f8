import { channelKind } from '../wire/names.ts';
import { inRange } from './channels.ts';
import type { ChannelState } from './state.ts';

/** A liquid can change by so much at once (a cold charge, a probe's own noise), °C … */
const JUMP_C = 3;
/** … and by so much more for each second, °C, but at most by `JUMP_MOST_C`. */
const JUMP_C_PER_S = 0.5;
const JUMP_MOST_C = 15;

/** What common digital probes send when they have just got power. */
export const POWER_UP_C = 85;
/** A sound reading so near in time can stand beside a power-up value, ms. */
const BESIDE_MS = 60_000;

export type Soundness = 'sound' | 'jump' | 'out-of-range';

export const isJump = (fromC: number, toC: number, afterMs: number): boolean =>
  Math.abs(toC - fromC) > JUMP_C + Math.min(JUMP_MOST_C, changeableC(afterMs));

/** What a liquid can change by over a time, besides what it can at once, °C. */
const changeableC = (afterMs: number): number => (JUMP_C_PER_S * Math.abs(afterMs)) / 1000;

/** Whether no liquid changes by so much in the time: after a long one it may, and a jump is only a doubt. */
export const isTooFast = (fromC: number, toC: number, afterMs: number): boolean =>
  Math.abs(toC - fromC) > JUMP_C + changeableC(afterMs);

/**
 * Whether a reading newer than all before it can be relied on. A jump is confirmed by the next
 * reading that stays where it went.
 */
export function soundness(
  name: string,
  channel: ChannelState,
  atMs: number,
  value: number,
  typed: boolean,
): Soundness {
  if (!inRange(name, value)) return 'out-of-range';
  // Between two readings that a person types in a liquid may have gone anywhere, and nobody will type
  // the same again to confirm it.
  if (channelKind(name) !== 'temperature' || typed) return 'sound';
  const { sound, candidate } = channel;
  if (value === POWER_UP_C) {
    const beside =
      sound !== null && atMs - sound.atMs <= BESIDE_MS && !isJump(sound.value, value, atMs - sound.atMs);
    const confirms =
      candidate !== null &&
      candidate.value !== POWER_UP_C &&
      !isJump(candidate.value, value, atMs - candidate.atMs);
    return beside || confirms ? 'sound' : 'jump';
  }
  if (sound === null || !isJump(sound.value, value, atMs - sound.atMs)) return 'sound';
  if (candidate !== null && !isJump(candidate.value, value, atMs - candidate.atMs)) return 'sound';
  return 'jump';
}
