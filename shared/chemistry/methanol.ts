import { ZERO_CELSIUS_K } from '../units/temperature.ts';
import { formula } from './formula.ts';

/** Molar mass of methanol, g/mol (IUPAC atomic weights). */
export const METHANOL_G_PER_MOL = 32.042;

/** log10 P[bar] = A − B/(T[K] + C). */
const ANTOINE = { A: 5.20409, B: 1581.341, C: -33.5 } as const;
const ANTOINE_SOURCE =
  'Antoine equation of Ambrose & Sprake 1970 (J. Chem. Thermodyn. 2:631) as in the NIST WebBook, 288.1 to 356.83 K';

/** Pressures for which a boiling point is given, hPa. */
export const METHANOL_PRESSURE_RANGE_HPA = { least: 20, most: 1100 } as const;

/**
 * Boiling point of pure methanol, °C, at a pressure, hPa (20 to 1,100; under 98.7 hPa, that is 15 °C,
 * extrapolated). The mix in a reactor boils a little higher, so that this is the cautious limit.
 * Within ±0.25 K of the published normal boiling points, which differ by 0.4 K among themselves.
 * @throws OutOfRange
 */
export const methanolBoilingC = formula(
  {
    gives: 'Boiling point of methanol',
    unit: '°C',
    formula: 't = B / (A − log10(pressureHPa / 1000)) − C − 273.15',
    inputs: {
      pressureHPa: {
        what: 'pressure over the liquid',
        unit: 'hPa',
        ...METHANOL_PRESSURE_RANGE_HPA,
        valid: [98.7, 1100],
      },
    },
    constants: ANTOINE,
    source: ANTOINE_SOURCE,
    uncertainty: '±0.25 K: published normal boiling points lie from 64.48 to 64.7 °C',
    disagreement:
      'The reference equation of state (de Reuck & Craven 1993) and the VDI Heat Atlas lie 0.1 K lower, ' +
      'Yaws and older tables 0.15 K higher. The NIST set for 353.5 K and above is 6.6 % low in pressure ' +
      'where it meets this one, and is not used.',
  },
  ({ pressureHPa }) => ANTOINE.B / (ANTOINE.A - Math.log10(pressureHPa / 1000)) - ANTOINE.C - ZERO_CELSIUS_K,
);

/**
 * Vapour pressure of pure methanol, hPa, at a temperature, °C (−40 to 83.6; under 15 °C extrapolated): the
 * inverse of `methanolBoilingC`. ±0.5 % from 20 to 66 °C; near −40 °C the published equations lie 6 % to
 * either side.
 * @throws OutOfRange
 */
export const methanolVapourPressureHPa = formula(
  {
    gives: 'Vapour pressure of methanol',
    unit: 'hPa',
    formula: 'p = 1000 · 10 ^ (A − B / (temperatureC + 273.15 + C))',
    inputs: {
      temperatureC: {
        what: 'temperature of the liquid',
        unit: '°C',
        least: -40,
        most: 83.6,
        valid: [15, 83.6],
      },
    },
    constants: ANTOINE,
    source: ANTOINE_SOURCE,
    uncertainty:
      '±0.5 % from 20 to 66 °C, as far as the published tables and equations lie apart; ±6 % near −40 °C',
    disagreement:
      'The VDI Heat Atlas lies 0.3 to 0.4 % higher, Perry’s DIPPR 101 set 1.2 % lower at 15 °C and equal from 47 °C. ' +
      'Safety sheets give 96 mmHg at 20 °C, this equation 97.5 mmHg.',
  },
  ({ temperatureC }) => 1000 * 10 ** (ANTOINE.A - ANTOINE.B / (temperatureC + ZERO_CELSIUS_K + ANTOINE.C)),
);

/** ρ = ρc · M · (1 + Σ n θ^t), θ = 1 − T/Tr; ρc in mol/m³, M in kg/mol as the equation of state has it. */
const DENSITY = {
  rhoC: 8520.024867237415,
  M: 32.04216e-3,
  Tr: 512.5,
  n1: -5161.133254659156,
  t1: 0.099,
  n2: 5793.274196569594,
  t2: 0.1,
  n3: -850.8567738433294,
  t3: 0.115,
  n4: 221.20959935245452,
  t4: 0.137,
  n5: 0.8350964167808183,
  t5: 4,
  n6: -322.4150322686462,
  t6: 25,
} as const;

/**
 * Density of liquid methanol at its vapour pressure, kg/m³ (g/L), at a temperature, °C (−60 to 100). Air
 * pressure changes it by less than 0.02 %. Within 0.06 % of the published tables.
 * @throws OutOfRange
 */
export const methanolDensityKgPerM3 = formula(
  {
    gives: 'Density of methanol',
    unit: 'kg/m³',
    formula:
      'ρ = rhoC · M · (1 + n1 · θ^t1 + n2 · θ^t2 + n3 · θ^t3 + n4 · θ^t4 + n5 · θ^t5 + n6 · θ^t6), ' +
      'θ = 1 − (temperatureC + 273.15) / Tr',
    inputs: { temperatureC: { what: 'temperature of the liquid', unit: '°C', least: -60, most: 100 } },
    constants: DENSITY,
    source:
      'equation for the saturated liquid fitted to the reference equation of state (de Reuck & Craven 1993), ' +
      'as in the fluid file of the library CoolProp, 175.61 to 512.49 K',
    uncertainty:
      '±0.06 %: fit to the equation of state 0.02 %, VDI Heat Atlas and CRC Handbook within 0.06 %',
    disagreement: 'Perry’s DIPPR 105 set lies 0.4 % higher.',
  },
  ({ temperatureC }) => {
    const { rhoC, M, Tr, n1, t1, n2, t2, n3, t3, n4, t4, n5, t5, n6, t6 } = DENSITY;
    const theta = 1 - (temperatureC + ZERO_CELSIUS_K) / Tr;
    const sum =
      n1 * theta ** t1 +
      n2 * theta ** t2 +
      n3 * theta ** t3 +
      n4 * theta ** t4 +
      n5 * theta ** t5 +
      n6 * theta ** t6;
    return rhoC * M * (1 + sum);
  },
);

/** DIPPR 100, J/(kmol K). */
const HEAT_CAPACITY = { C1: 105_800, C2: -362.23, C3: 0.9379, M: METHANOL_G_PER_MOL } as const;

/**
 * Heat capacity of liquid methanol at constant pressure, J/(kg K), at a temperature, °C (−60 to 100).
 * Within 0.1 % of the handbooks at 25 °C; taken as ±1 % elsewhere.
 * @throws OutOfRange
 */
export const methanolHeatCapacityJPerKgK = formula(
  {
    gives: 'Heat capacity of methanol',
    unit: 'J/(kg·K)',
    formula: 'cp = (C1 + C2 · T + C3 · T²) / M, T = temperatureC + 273.15',
    inputs: { temperatureC: { what: 'temperature of the liquid', unit: '°C', least: -60, most: 100 } },
    constants: HEAT_CAPACITY,
    source:
      'DIPPR 100 in Perry’s Handbook, 175.47 to 400 K (read in the tables of the Python package chemicals)',
    uncertainty: '±0.1 % at 25 °C, where CRC and Poling have it; ±1 % elsewhere, an estimate',
  },
  ({ temperatureC }) => {
    const { C1, C2, C3, M } = HEAT_CAPACITY;
    const T = temperatureC + ZERO_CELSIUS_K;
    return (C1 + C2 * T + C3 * T * T) / M;
  },
);
