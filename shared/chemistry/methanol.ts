import { ZERO_CELSIUS_K } from '../units/temperature.ts';

/**
 * Antoine constants of Ambrose & Sprake 1970 (J. Chem. Thermodyn. 2:631), as the NIST WebBook gives
 * them: log10 P[bar] = A − B/(T[K] + C), from 288.1 to 356.83 K. Boiling points of other sources lie up
 * to 0.1 K lower (reference equation of state) or 0.15 K higher (older tables).
 */
const A = 5.20409;
const B = 1581.341;
const C = -33.5;

/** Pressures for which a boiling point is given, hPa. Under 98 hPa (15 °C) the equation is extrapolated. */
export const METHANOL_PRESSURE_RANGE_HPA = { least: 20, most: 1100 } as const;

/**
 * Boiling point of pure methanol, °C, at a pressure, hPa (20 to 1,100). The mix in a reactor boils a
 * little higher, so that this is the cautious limit.
 * @throws RangeError outside the valid range.
 */
export function methanolBoilingC(pressureHPa: number): number {
  const { least, most } = METHANOL_PRESSURE_RANGE_HPA;
  if (!(pressureHPa >= least && pressureHPa <= most)) {
    throw new RangeError(`pressureHPa ${pressureHPa} is outside ${least} to ${most} hPa`);
  }
  return B / (A - Math.log10(pressureHPa / 1000)) - C - ZERO_CELSIUS_K;
}
