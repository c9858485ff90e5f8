/**
 * Standard atmosphere (U.S. Standard Atmosphere 1976, ICAO Doc 7488), troposphere.
 * Constants: P0 1013.25 hPa, T0 288.15 K, lapse 6.5 K/km, g0 9.80665 m/s², M 28.9644 kg/kmol, R* 8.31432 J/(mol K).
 */
export const SEA_LEVEL_HPA = 1013.25;

const T0_K = 288.15;
const LAPSE_K_PER_M = 0.0065;
const EXPONENT = (9.80665 * 28.9644e-3) / (8.31432 * LAPSE_K_PER_M);

/**
 * Standard station pressure, hPa, at a geopotential altitude, m. Valid from −1,000 to 11,000 m.
 * A mean: the weather moves the real pressure by about ±30 hPa.
 * @throws RangeError outside the valid range.
 */
export function standardPressureHPa(altitudeM: number): number {
  if (!(altitudeM >= -1000 && altitudeM <= 11_000)) {
    throw new RangeError(`altitudeM ${altitudeM} is outside -1000 to 11000 m`);
  }
  return SEA_LEVEL_HPA * (1 - (LAPSE_K_PER_M * altitudeM) / T0_K) ** EXPONENT;
}
