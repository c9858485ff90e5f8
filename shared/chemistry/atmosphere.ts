import { formula } from './formula.ts';

export const SEA_LEVEL_HPA = 1013.25;

/** U.S. Standard Atmosphere 1976: K, K/m, m/s², kg/mol, J/(mol K). */
const STANDARD = { T0: 288.15, L: 0.0065, g0: 9.80665, M: 28.9644e-3, R: 8.31432 } as const;
const EXPONENT = (STANDARD.g0 * STANDARD.M) / (STANDARD.R * STANDARD.L);

/**
 * Standard station pressure, hPa, at a geopotential altitude, m (−1,000 to 11,000).
 * A mean: the weather moves the real pressure by about ±30 hPa.
 * @throws OutOfRange
 */
export const standardPressureHPa = formula(
  {
    gives: 'Station pressure from altitude',
    unit: 'hPa',
    formula: 'p = 1013.25 · (1 − L · altitudeM / T0) ^ (g0 · M / (R · L))',
    inputs: { altitudeM: { what: 'geopotential altitude', unit: 'm', least: -1000, most: 11_000 } },
    constants: STANDARD,
    source: 'U.S. Standard Atmosphere 1976 (ICAO Doc 7488), troposphere',
    uncertainty: '±30 hPa from day to day: the standard is a mean',
    disagreement: 'Rounded forms (44,329 m for T0/L; the ASHRAE fit) differ by 0.02 %.',
  },
  ({ altitudeM }) => SEA_LEVEL_HPA * (1 - (STANDARD.L * altitudeM) / STANDARD.T0) ** EXPONENT,
);
