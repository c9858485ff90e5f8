import { ZERO_CELSIUS_K } from '../units/temperature.ts';
import { formula } from './formula.ts';

/**
 * Temperature of ice in water, °C: beside boiling water, the other point to check a thermometer at. Altitude
 * does not count here: an atmosphere less moves it by under 0.01 K (from memory). Crushed ice, with pure water
 * to fill the gaps, stirred (ASTM E563).
 */
export const ICE_POINT_C = 0;

/** Region 4, the saturation line; p in MPa, T in K. */
const REGION_4 = {
  n1: 0.11670521452767e4,
  n2: -0.72421316703206e6,
  n3: -0.17073846940092e2,
  n4: 0.1202082470247e5,
  n5: -0.32325550322333e7,
  n6: 0.1491510861353e2,
  n7: -0.48232657361591e4,
  n8: 0.40511340542057e6,
  n9: -0.23855557567849,
  n10: 0.65017534844798e3,
} as const;
const SOURCE = 'IAPWS R7-97(2012), Industrial Formulation 1997, region 4: triple point to critical point';
const HPA_PER_MPA = 10_000;

/**
 * Boiling point of pure water, °C, at a pressure, hPa (6.11213 to 220,640). Within 0.01 K near one
 * atmosphere. What is dissolved in the water raises it, so that wash water boils a little higher.
 * @throws OutOfRange
 */
export const waterBoilingC = formula(
  {
    gives: 'Boiling point of water',
    unit: '°C',
    formula:
      't = (n10 + D − √((n10 + D)² − 4 · (n9 + n10 · D))) / 2 − 273.15, D = 2 · G / (−F − √(F² − 4 · E · G)), ' +
      'E = β² + n3 · β + n6, F = n1 · β² + n4 · β + n7, G = n2 · β² + n5 · β + n8, β = (pressureHPa / 10000) ^ ¼',
    inputs: {
      pressureHPa: { what: 'pressure over the water', unit: 'hPa', least: 6.11213, most: 220_640 },
    },
    constants: REGION_4,
    source: SOURCE,
    uncertainty: '±0.01 K near one atmosphere, from ±0.025 % of the pressure (from memory)',
  },
  ({ pressureHPa }) => {
    const { n1, n2, n3, n4, n5, n6, n7, n8, n9, n10 } = REGION_4;
    const beta = (pressureHPa / HPA_PER_MPA) ** 0.25;
    const E = beta * beta + n3 * beta + n6;
    const F = n1 * beta * beta + n4 * beta + n7;
    const G = n2 * beta * beta + n5 * beta + n8;
    const D = (2 * G) / (-F - Math.sqrt(F * F - 4 * E * G));
    return (n10 + D - Math.sqrt((n10 + D) ** 2 - 4 * (n9 + n10 * D))) / 2 - ZERO_CELSIUS_K;
  },
);

/**
 * Vapour pressure of pure water, hPa, at a temperature, °C (0 to 373.946). Within 0.025 %.
 * @throws OutOfRange
 */
export const waterVapourPressureHPa = formula(
  {
    gives: 'Vapour pressure of water',
    unit: 'hPa',
    formula:
      'p = 10000 · (2 · C / (−B + √(B² − 4 · A · C))) ^ 4, A = θ² + n1 · θ + n2, B = n3 · θ² + n4 · θ + n5, ' +
      'C = n6 · θ² + n7 · θ + n8, θ = T + n9 / (T − n10), T = temperatureC + 273.15',
    inputs: { temperatureC: { what: 'temperature of the water', unit: '°C', least: 0, most: 373.946 } },
    constants: REGION_4,
    source: SOURCE,
    uncertainty: '±0.025 % (from memory)',
  },
  ({ temperatureC }) => {
    const { n1, n2, n3, n4, n5, n6, n7, n8, n9, n10 } = REGION_4;
    const T = temperatureC + ZERO_CELSIUS_K;
    const theta = T + n9 / (T - n10);
    const A = theta * theta + n1 * theta + n2;
    const B = n3 * theta * theta + n4 * theta + n5;
    const C = n6 * theta * theta + n7 * theta + n8;
    return HPA_PER_MPA * ((2 * C) / (-B + Math.sqrt(B * B - 4 * A * C))) ** 4;
  },
);
