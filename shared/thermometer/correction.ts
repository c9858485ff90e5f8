import { POWER_UP_C } from '../engine/soundness.ts';

/** What a thermometer sent where the temperature was known, °C. */
export interface KnownPoint {
  sentC: number;
  trueC: number;
}

/**
 * What a check of a thermometer found: in ice water, in boiling water, or in both, the lower one first. Its error in
 * between is taken to go along a straight line; with one point it is taken to be the same everywhere.
 */
export type KnownPoints = readonly [KnownPoint] | readonly [KnownPoint, KnownPoint];

/**
 * How far off at a point wants a person's word that it is so, °C: twice to four times what makers of digital probes
 * and thermocouples allow. Common practice, no source.
 */
export const LARGE_ERROR_C = 2;
/** Further off is another bath, another unit or a broken probe, and no error to be corrected, °C. Common practice, no source. */
export const LARGEST_ERROR_C = 10;

/** −127 °C is what common digital probes are read as where the wire is broken. */
const DISCONNECTED_C = -127;
/**
 * A corrected temperature has seven decimals, °C: what was sent with six can still be told apart, and a page of such
 * takes a third of the room that all the digits of a quotient would.
 */
const STEPS_PER_C = 1e7;
/** What was sent in decimals is found again with so many. */
const MOST_DECIMALS = 6;
/** Beyond it all is left as it is, °C: no thermometer says more, and the steps get finer than numbers are. */
const MOST_C = 1e6;

/** Numbers that say there is no temperature: rules know them by the number itself, so that they stay as they are. */
const isNoTemperature = (c: number): boolean => c === POWER_UP_C || c === DISCONNECTED_C;

/**
 * The temperature, °C, that a thermometer means by what it sent. Exactly the true one at each point, and never falling
 * where what is sent rises. 85 and −127 stay, which are no temperatures; what comes to one of them exactly differs by
 * its last digit, so that it is not taken for one. Has seven decimals at most.
 */
export function correctedC(points: KnownPoints, sentC: number): number {
  if (isNoTemperature(sentC) || Math.abs(sentC) > MOST_C) return sentC;
  const [low, high] = points;
  const c =
    high === undefined
      ? sentC + (low.trueC - low.sentC)
      : low.trueC + ((sentC - low.sentC) / (high.sentC - low.sentC)) * (high.trueC - low.trueC);
  const steps = Math.round(c * STEPS_PER_C);
  const rounded = steps / STEPS_PER_C + 0; // -0 as 0
  return isNoTemperature(rounded) ? (steps + 1) / STEPS_PER_C : rounded;
}

/**
 * What a thermometer sent, °C, where it was corrected to a temperature: exactly, where it had six decimals at most,
 * since no two such are corrected to the same; else to within a millionth.
 */
export function sentC(points: KnownPoints, corrected: number): number {
  if (isNoTemperature(corrected) || Math.abs(corrected) > MOST_C) return corrected;
  const [low, high] = points;
  const near =
    high === undefined
      ? corrected - (low.trueC - low.sentC)
      : low.sentC + ((corrected - low.trueC) / (high.trueC - low.trueC)) * (high.sentC - low.sentC);
  for (let decimals = 0; decimals <= MOST_DECIMALS; decimals++) {
    const candidate = Number(near.toFixed(decimals)) + 0;
    if (correctedC(points, candidate) === corrected) return candidate;
  }
  return near;
}

/**
 * A bath of a check, °C: what was read in it is what the check that stands had corrected already (null where none
 * does), and what it was, to seven decimals.
 */
export const pointOf = (
  readC: number,
  trueC: number,
  standing: KnownPoints | null,
): KnownPoint & { readC: number } => ({
  readC,
  sentC: standing === null ? readC : sentC(standing, readC),
  trueC: Math.round(trueC * STEPS_PER_C) / STEPS_PER_C,
});

/** How far off a thermometer is at a point, °C: above 0 where it sends too much. */
export const errorC = ({ sentC: sent, trueC }: KnownPoint): number => sent - trueC;
