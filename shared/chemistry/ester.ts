import { ZERO_CELSIUS_K } from '../units/temperature.ts';
import { formula } from './formula.ts';

const ESTER_TEMPERATURE = { what: 'temperature of the ester', unit: '°C', least: -20, most: 150 } as const;

/** ρ = ρc · M · (1 + Σ n θ^t), θ = 1 − T/Tr; ρc in mol/m³, M in kg/mol as the equation of state has it. */
const DENSITY = {
  rhoC: 812.85,
  M: 0.29648794,
  Tr: 782,
  n1: -31.454521040135862,
  t1: 0.506,
  n2: 43.736786126817,
  t2: 0.525,
  n3: -12.491996989544091,
  t3: 0.762,
  n4: 23.664196742286585,
  t4: 2.134,
  n5: -120.4823599211856,
  t5: 2.905,
  n6: 101.35825428360955,
  t6: 3.06,
} as const;

/**
 * Density of the ester, kg/m³ (g/L), at a temperature, °C (−20 to 150), as methyl oleate. −0.8 % (were it all
 * methyl palmitate) to +1.4 % (all methyl linoleate). Cold ester sets in part; what is given there is what the
 * liquid would have.
 * @throws OutOfRange
 */
export const esterDensityKgPerM3 = formula(
  {
    gives: 'Density of the ester',
    unit: 'kg/m³',
    formula:
      'ρ = rhoC · M · (1 + n1 · θ^t1 + n2 · θ^t2 + n3 · θ^t3 + n4 · θ^t4 + n5 · θ^t5 + n6 · θ^t6), ' +
      'θ = 1 − (temperatureC + 273.15) / Tr',
    inputs: { temperatureC: ESTER_TEMPERATURE },
    constants: DENSITY,
    source:
      'methyl oleate: equation for the saturated liquid fitted to the reference equation of state (Huber et ' +
      'al. 2009), as in the fluid file of the library CoolProp, from −19.7 °C',
    uncertainty:
      '−0.8 to +1.4 %, from methyl palmitate to methyl linoleate by their equations of state: so far can the ' +
      'oil’s own acids move it. The fit is within 0.1 % of the equation of state from 0 to 150 °C.',
    disagreement: 'EN 14214 takes 860 to 900 kg/m³ at 15 °C; methyl oleate has 877, methyl linoleate 889.',
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

/** log10 μ[Pa s] = A + B / T[K]. */
const VISCOSITY = { A: -4.9869, B: 800.18 } as const;

/**
 * Viscosity of the ester, mPa·s, at a temperature, °C (−20 to 150; beyond 27 to 97 extrapolated), as methyl
 * oleate. Esters of oils lie within ±20 % of it at 40 °C; methanol and soap in the fuel are not counted.
 * @throws OutOfRange
 */
export const esterViscosityMPaS = formula(
  {
    gives: 'Viscosity of the ester',
    unit: 'mPa·s',
    formula: 'μ = 1000 · 10 ^ (A + B / (temperatureC + 273.15))',
    inputs: { temperatureC: { ...ESTER_TEMPERATURE, valid: [26.85, 96.85] } },
    constants: VISCOSITY,
    source:
      'methyl oleate, Viswanath & Natarajan, 300 to 370 K (read in the tables of the Python package chemicals, ' +
      'where the logarithm is taken to be that to the base 10)',
    uncertainty:
      '±20 % at 40 °C: with the density it is 4.3 mm²/s there, and EN 14214 takes 3.5 to 5.0. Methanol in the ' +
      'fuel thins it.',
  },
  ({ temperatureC }) => 1000 * 10 ** (VISCOSITY.A + VISCOSITY.B / (temperatureC + ZERO_CELSIUS_K)),
);
