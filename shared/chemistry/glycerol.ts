import { ZERO_CELSIUS_K } from '../units/temperature.ts';
import { formula } from './formula.ts';

/** Molar mass of glycerol, g/mol (IUPAC atomic weights). */
export const GLYCEROL_G_PER_MOL = 92.094;

// Pure glycerol freezes at 18 °C but rarely does: colder, the values are those of the undercooled liquid.
const GLYCEROL_TEMPERATURE = {
  what: 'temperature of the glycerol',
  unit: '°C',
  least: -20,
  most: 150,
  valid: [18, 150],
} as const;
const VDI = 'VDI Heat Atlas (constants read in the tables of the Python package chemicals)';

/** PPDS equation: ρ = ρc + A τ^0.35 + B τ^(2/3) + C τ + D τ^(4/3), τ = 1 − T/Tc, kg/m³ and K. */
const DENSITY = {
  Tc: 850.05,
  rhoC: 349,
  A: 1341.5932,
  B: -1168.205,
  C: 1429.7634,
  D: -527.771,
} as const;

/**
 * Density of pure glycerol, kg/m³ (g/L), at a temperature, °C (−20 to 150; under 18 undercooled,
 * extrapolated). ±0.1 % at 20 °C. The glycerol that settles holds methanol and soap and is far lighter.
 * @throws OutOfRange
 */
export const glycerolDensityKgPerM3 = formula(
  {
    gives: 'Density of pure glycerol',
    unit: 'kg/m³',
    formula:
      'ρ = rhoC + A · τ^0.35 + B · τ^(2/3) + C · τ + D · τ^(4/3), τ = 1 − (temperatureC + 273.15) / Tc',
    inputs: { temperatureC: GLYCEROL_TEMPERATURE },
    constants: DENSITY,
    source: VDI,
    uncertainty: '±0.1 %: the CRC Handbook has 1261.32 at 20 °C, this 1261.20. Water and methanol lower it.',
  },
  ({ temperatureC }) => {
    const { Tc, rhoC, A, B, C, D } = DENSITY;
    const tau = 1 - (temperatureC + ZERO_CELSIUS_K) / Tc;
    return rhoC + A * tau ** 0.35 + B * tau ** (2 / 3) + C * tau + D * tau ** (4 / 3);
  },
);

/** PPDS equation: μ = E · exp(A θ^(1/3) + B θ^(4/3)), θ = (C − T)/(T − D), Pa s and K. */
const VISCOSITY = { A: -3.91153, B: 6.54946, C: 582.48, D: 73.885, E: 0.0079964 } as const;

/**
 * Viscosity of pure glycerol, mPa·s, at a temperature, °C (−20 to 150; under 18 undercooled, extrapolated).
 * ±3 %. The glycerol that settles holds methanol and is far thinner.
 * @throws OutOfRange
 */
export const glycerolViscosityMPaS = formula(
  {
    gives: 'Viscosity of pure glycerol',
    unit: 'mPa·s',
    formula:
      'μ = 1000 · E · exp(A · θ^(1/3) + B · θ^(4/3)), θ = (C − T) / (T − D), T = temperatureC + 273.15',
    inputs: { temperatureC: GLYCEROL_TEMPERATURE },
    constants: VISCOSITY,
    source: VDI,
    uncertainty:
      '±3 %, by the CRC Handbook’s table from 20 to 100 °C (from memory). A trace of water thins it.',
  },
  ({ temperatureC }) => {
    const { A, B, C, D, E } = VISCOSITY;
    const T = temperatureC + ZERO_CELSIUS_K;
    const theta = (C - T) / (T - D);
    return 1000 * E * Math.exp(A * theta ** (1 / 3) + B * theta ** (4 / 3));
  },
);
