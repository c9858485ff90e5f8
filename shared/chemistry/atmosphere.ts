import { formula } from './formula.ts';

export const SEA_LEVEL_HPA = 1013.25;

/**
 * How far the weather moves station pressure from the standard of its altitude, hPa: about ±0.8 K in
 * methanol's boiling point. Common practice; storms go further.
 */
export const PRESSURE_SPREAD_HPA = 30;
/** More than this apart, hPa, is a barometer reduced to sea level or broken, or a mistaken altitude. */
export const STATION_DIFFERENCE_HPA = 40;

/** U.S. Standard Atmosphere 1976: K, K/m, m/s², kg/mol, J/(mol K). */
const STANDARD = { T0: 288.15, L: 0.0065, g0: 9.80665, M: 28.9644e-3, R: 8.31432 } as const;
const STANDARD_SOURCE = 'U.S. Standard Atmosphere 1976 (ICAO Doc 7488), troposphere';
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
    source: STANDARD_SOURCE,
    uncertainty: `±${PRESSURE_SPREAD_HPA} hPa from day to day: the standard is a mean`,
    disagreement: 'Rounded forms (44,329 m for T0/L; the ASHRAE fit) differ by 0.02 %.',
  },
  ({ altitudeM }) => SEA_LEVEL_HPA * (1 - (STANDARD.L * altitudeM) / STANDARD.T0) ** EXPONENT,
);

/**
 * Geopotential altitude, m, at which a pressure, hPa (226.3 to 1,139.3), is the standard one: the inverse of
 * `standardPressureHPa`. The weather moves it by about ±250 m at sea level, ±340 m at 3,000 m.
 * @throws OutOfRange
 */
export const standardAltitudeM = formula(
  {
    gives: 'Altitude from station pressure',
    unit: 'm',
    formula: 'h = T0 / L · (1 − (pressureHPa / 1013.25) ^ (R · L / (g0 · M)))',
    inputs: { pressureHPa: { what: 'station pressure', unit: 'hPa', least: 226.3, most: 1139.3 } },
    constants: STANDARD,
    source: STANDARD_SOURCE,
    uncertainty: `±${PRESSURE_SPREAD_HPA} hPa of weather are about ±250 m at sea level and ±340 m at 3,000 m`,
  },
  ({ pressureHPa }) => (STANDARD.T0 / STANDARD.L) * (1 - (pressureHPa / SEA_LEVEL_HPA) ** (1 / EXPONENT)),
);

/**
 * Whether a station pressure, hPa, and an altitude, m (−1,000 to 11,000), cannot both be true: they lie more
 * than `STATION_DIFFERENCE_HPA` apart. That catches a pressure reduced to sea level, as weather reports give
 * it, from about 340 m up in mean weather; lower down the mistake moves methanol's boiling point by 1.1 K at
 * most. A vessel under vacuum contradicts every altitude: ask this of the air around only.
 * @throws OutOfRange
 */
export const contradictsAltitude = (pressureHPa: number, altitudeM: number): boolean =>
  Math.abs(pressureHPa - standardPressureHPa({ altitudeM })) > STATION_DIFFERENCE_HPA;
