import { ZERO_CELSIUS_K } from '../units/temperature.ts';
import { type Band, formula } from './formula.ts';
import { GLYCEROL_G_PER_MOL } from './glycerol.ts';
import { METHANOL_G_PER_MOL, METHANOL_PRESSURE_RANGE_HPA } from './methanol.ts';

/** ln(P/Pc) = (a τ + b τ^1.5 + c τ³ + d τ⁶) / Tr, Tr = T/Tc, τ = 1 − Tr; hPa and K. */
const WAGNER = {
  a: -8.54796,
  b: 0.769817,
  c: -3.1085,
  d: 1.54481,
  Tc: 512.64,
  Pc: 80_850.5,
} as const;
const WAGNER_SOURCE =
  'Wagner equation of McGarry 1983, 288 to 512.64 K (read in the tables of the Python package chemicals)';
const TEMPERATURE = {
  what: 'temperature of the liquid',
  unit: '°C',
  least: 0,
  most: 150,
  valid: [15, 150],
} as const;

/**
 * Vapour pressure of pure methanol, hPa, at a temperature, °C (0 to 150; under 15 extrapolated). For heating
 * beyond 83.6 °C, where the equation that boiling points are taken from ends; the two agree within 0.3 %.
 * @throws OutOfRange
 */
export const hotMethanolVapourPressureHPa = formula(
  {
    gives: 'Vapour pressure of hot methanol',
    unit: 'hPa',
    formula:
      'p = Pc · exp((a · τ + b · τ^1.5 + c · τ³ + d · τ⁶) / Tr), Tr = (temperatureC + 273.15) / Tc, τ = 1 − Tr',
    inputs: { temperatureC: TEMPERATURE },
    constants: WAGNER,
    source: WAGNER_SOURCE,
    uncertainty: '±0.5 %, by the saturation table of the VDI Heat Atlas at 64.5, 86.9 and 111.9 °C',
    disagreement:
      'The Antoine equation for boiling points ends at 83.6 °C. The NIST set that goes on from there is 6.6 % ' +
      'low where the two meet, and is not used.',
  },
  ({ temperatureC }) => {
    const { a, b, c, d, Tc, Pc } = WAGNER;
    const Tr = (temperatureC + ZERO_CELSIUS_K) / Tc;
    const tau = 1 - Tr;
    return Pc * Math.exp((a * tau + b * tau ** 1.5 + c * tau ** 3 + d * tau ** 6) / Tr);
  },
);

/** Methyl oleate, g/mol (IUPAC atomic weights). */
const METHYL_OLEATE_G_PER_MOL = 296.495;

/**
 * A in glycerol: ln γ = A (1 − x)². Λ in ester: γ x = φ exp(1 − φ), φ = x / (x + Λ (1 − x)). Each as the
 * methanol that is left comes out least, as the middle, and most.
 */
const DEPARTURE = {
  A_low: 0.55,
  A: 0,
  A_high: -0.8,
  Λ_low: 0.38,
  Λ: 0.78,
  Λ_high: 1.2,
  M_methanol: METHANOL_G_PER_MOL,
  M_glycerol: GLYCEROL_G_PER_MOL,
  M_ester: METHYL_OLEATE_G_PER_MOL,
} as const;

/** Partial pressure of methanol over that of pure methanol, at a mole fraction. Rises from 0 to 1. */
type Activity = (x: number) => number;

const activityInGlycerol =
  (A: number): Activity =>
  (x) =>
    x * Math.exp(A * (1 - x) ** 2);

const activityInEster =
  (Λ: number): Activity =>
  (x) => {
    const phi = x / (x + Λ * (1 - x));
    return phi * Math.exp(1 - phi);
  };

const LIQUIDS = {
  glycerol: {
    gPerMol: DEPARTURE.M_glycerol,
    low: activityInGlycerol(DEPARTURE.A_low),
    value: activityInGlycerol(DEPARTURE.A),
    high: activityInGlycerol(DEPARTURE.A_high),
  },
  ester: {
    gPerMol: DEPARTURE.M_ester,
    low: activityInEster(DEPARTURE.Λ_low),
    value: activityInEster(DEPARTURE.Λ),
    high: activityInEster(DEPARTURE.Λ_high),
  },
} as const;

/** The mole fraction with a given activity, by halving; 1 where not even pure methanol reaches it. */
function moleFractionAt(activity: Activity, wanted: number): number {
  if (wanted >= 1) return 1;
  let low = 0;
  let high = 1;
  for (let halving = 0; halving < 40; halving += 1) {
    const middle = (low + high) / 2;
    if (activity(middle) < wanted) low = middle;
    else high = middle;
  }
  return high;
}

const HEATED_INPUTS = {
  in: { what: 'liquid that is heated', oneOf: ['glycerol', 'ester'] },
  temperatureC: TEMPERATURE,
  pressureHPa: { what: 'pressure over the liquid', unit: 'hPa', ...METHANOL_PRESSURE_RANGE_HPA },
} as const;
const HEATED_TEXT = {
  constants: { ...WAGNER, ...DEPARTURE },
  source:
    `${WAGNER_SOURCE}. A and Λ are made from group-contribution predictions (UNIFAC and modified UNIFAC ` +
    'of Dortmund, 20 to 130 °C, computed with the Python package thermo); no measured vapour pressures of ' +
    'either mixture were seen.',
  uncertainty:
    'The bounds are the predictions with room: for traces in ester γ from 2.3 to 7.2, in glycerol from 0.45 to ' +
    '1.7, where both predictions say 0.63 to 0.69 and ethanol’s measured departure is to the other side (J. ' +
    'Chem. Thermodyn. 2014, abstract read). For liquid that has come to rest with pure methanol vapour over ' +
    'it: heated too briefly more is left, with air or vapour blown through less. Water and soap are not counted.',
} as const;

/**
 * Methanol that glycerol or ester still holds when heated to a temperature, °C (0 to 150), at a pressure, hPa
 * (20 to 1,100), % of the mass of both together. 100 where pure methanol would not boil: then none comes off.
 * A wide band, from predictions.
 * @throws OutOfRange
 */
export const methanolLeftMassPercent = formula(
  {
    gives: 'Methanol left in heated glycerol or ester',
    unit: '%',
    formula:
      'w = 100 · x · M_methanol / (x · M_methanol + (1 − x) · M), where x · γ(x) · p_methanol(temperatureC) = ' +
      'pressureHPa; in glycerol ln γ = A · (1 − x)², in ester x · γ = φ · exp(1 − φ), φ = x / (x + Λ · (1 − x))',
    inputs: HEATED_INPUTS,
    ...HEATED_TEXT,
  },
  ({ in: liquid, temperatureC, pressureHPa }): Band => {
    const wanted = pressureHPa / hotMethanolVapourPressureHPa({ temperatureC });
    const { gPerMol, ...activities } = LIQUIDS[liquid];
    const massPercent = (activity: Activity): number => {
      const x = moleFractionAt(activity, wanted);
      const methanol = x * METHANOL_G_PER_MOL;
      return (100 * methanol) / (methanol + (1 - x) * gPerMol);
    };
    return {
      low: massPercent(activities.low),
      value: massPercent(activities.value),
      high: massPercent(activities.high),
    };
  },
);

/**
 * Methanol, kg, that comes off glycerol or ester heated to a temperature, °C (0 to 150), at a pressure, hPa
 * (20 to 1,100). Never more than was there. What the condenser then catches is another matter.
 * @throws OutOfRange
 */
export const methanolRecoveredKg = formula(
  {
    gives: 'Methanol that comes off heated glycerol or ester',
    unit: 'kg',
    formula: 'm = max(0, methanolKg − restKg · w / (100 − w)), w = methanolLeftMassPercent; 0 where w is 100',
    inputs: {
      ...HEATED_INPUTS,
      restKg: { what: 'the liquid without its methanol', unit: 'kg', least: 0, most: 500_000 },
      methanolKg: { what: 'methanol in it before', unit: 'kg', least: 0, most: 300_000 },
    },
    ...HEATED_TEXT,
  },
  ({ restKg, methanolKg, ...heated }): Band => {
    const left = methanolLeftMassPercent(heated);
    const comesOff = (w: number): number =>
      w === 100 ? 0 : Math.max(0, methanolKg - (restKg * w) / (100 - w));
    return { low: comesOff(left.high), value: comesOff(left.value), high: comesOff(left.low) };
  },
);
