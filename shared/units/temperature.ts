/** °C from °F. */
export const celsiusFromFahrenheit = (f: number): number => ((f - 32) * 5) / 9;

/** °F from °C. */
export const fahrenheitFromCelsius = (c: number): number => (c * 9) / 5 + 32;

/** The kelvin of 0 °C. */
export const ZERO_CELSIUS_K = 273.15;

/** °C from K. */
export const celsiusFromKelvin = (k: number): number => k - ZERO_CELSIUS_K;

export type TemperatureUnit = 'C' | 'F';

/** A temperature as people read it: '61.8 °C'. */
export const formatTemperature = (c: number, unit: TemperatureUnit): string =>
  unit === 'C' ? `${c.toFixed(1)} °C` : `${fahrenheitFromCelsius(c).toFixed(1)} °F`;

/** A difference of temperatures as people read it: '2.7 °C' (4.9 °F). */
export const formatTemperatureDifference = (c: number, unit: TemperatureUnit): string =>
  unit === 'C' ? `${c.toFixed(1)} °C` : `${((c * 9) / 5).toFixed(1)} °F`;
