import { feetToMetres, type HeightUnit, parseNumber } from './units.ts';

/** The altitude of a place, as a person types it; pure. */

/** What the daemon takes, m. */
const LOWEST_M = -500;
const HIGHEST_M = 6000;

/** Metres; undefined where it is no number, or none that a place can have. */
export function typedAltitudeM(text: string, unit: HeightUnit): number | undefined {
  const typed = parseNumber(text);
  const altitudeM = typed === undefined || unit === 'm' ? typed : feetToMetres(typed);
  return altitudeM === undefined || altitudeM < LOWEST_M || altitudeM > HIGHEST_M ? undefined : altitudeM;
}
