import { ZERO_CELSIUS_K } from '../units/temperature.ts';
import { type Band, formula } from './formula.ts';
import { OIL_KINDS, type OilKind } from './oil-kinds.ts';

/** ρ = at0C + perC · t, kg/m³ and °C. `rangeC` is where it was measured, or what it rests on. */
interface DensityLine {
  readonly at0C: number;
  readonly perC: number;
  readonly rangeC: readonly [least: number, most: number];
  readonly source: string;
}

/** What is said of an oil rests on this. */
export interface Oil {
  /** Saponification value, mg KOH/g. */
  readonly saponification: Band;
  readonly density: DensityLine;
  /** Where the saponification value, and the iodine value for Lund's relation, come from. */
  readonly source: string;
}

/** A range of a standard, whose middle is taken. */
const range = (low: number, high: number): Band => ({ low, value: (low + high) / 2, high });

const LUND = { sg0: 0.8475, perSaponification: 0.0003, perIodine: 0.00014, atC: 15, perC: -0.64 } as const;
/** Density of water at 15 °C, kg/m³ (common handbook value, from memory). */
const WATER_15C_KG_PER_M3 = 999.1;

/** Lund: the oil's density at 15 °C relative to water's at 15 °C, from its saponification and iodine value. */
const lund = (saponification: Band, iodine: Band): DensityLine => {
  const { sg0, perSaponification, perIodine, atC, perC } = LUND;
  const sg = sg0 + perSaponification * saponification.value + perIodine * iodine.value;
  return {
    at0C: WATER_15C_KG_PER_M3 * sg - perC * atC,
    perC,
    rangeC: [15, 110],
    source:
      `Lund’s relation at 15 °C with iodine value ${iodine.value} and −0.64 kg/m³ per °C ` +
      '(both in Rodenbush et al. 1999, JAOCS 76:1415)',
  };
};

const byLund = (saponification: Band, iodine: Band, source: string): Oil => ({
  saponification,
  density: lund(saponification, iodine),
  source,
});

/** What is known of each kind of oil. */
export const OILS: Readonly<Record<OilKind, Oil>> = {
  soybean: byLund(
    range(189, 195),
    range(124, 139),
    'Codex CXS 210 (from memory; a supplier’s specification has the same)',
  ),
  rapeseed: byLund(range(182, 193), range(105, 126), 'Codex CXS 210, low-erucic (read in a reprint)'),
  sunflower: {
    saponification: range(188, 194),
    density: {
      at0C: 931.0,
      perC: -0.64145,
      rangeC: [10, 140],
      source: 'measured, Esteban et al. 2012 (Biomass and Bioenergy 42:164), as in public reprints',
    },
    source: 'Codex CXS 210 (from memory; Malaysia’s food regulation 207 has the same)',
  },
  palm: byLund(range(190, 209), range(50, 55), 'Codex CXS 210 (from memory)'),
  olive: {
    saponification: range(184, 196),
    density: {
      at0C: 926.8,
      perC: -0.7,
      rangeC: [10, 75],
      source: 'measured, as in public reprints',
    },
    source: 'Codex CXS 33 (from memory; an encyclopedia has the same)',
  },
  coconut: {
    saponification: range(248, 265),
    density: {
      at0C: 937.2,
      perC: -0.7,
      rangeC: [37.8, 110],
      source:
        'line through the six points measured by Noureddini, Teoh & Clements 1992 (JAOCS 69:1184), as in a ' +
        'public reprint',
    },
    source: 'Codex CXS 210 (read in a reprint)',
  },
  tallow: byLund(range(190, 202), range(40, 53), 'Codex CXS 211 (from memory)'),
  lard: byLund(range(192, 203), range(45, 70), 'Canada, Food and Drug Regulations B.09.013'),
  // Nobody knows what was fried in it: soybean's values, and a range from rapeseed's least to palm's most.
  used: byLund(
    { low: 182, value: 192, high: 209 },
    { low: 50, value: 131.5, high: 139 },
    'taken as soybean oil; what was fried in it and the frying itself move it (common practice, no source)',
  ),
};

const KIND_INPUT = { what: 'kind of oil or fat', oneOf: OIL_KINDS } as const;

/** One constant of each kind, by name. */
const ofEachKind = (symbol: string, constant: (oil: Oil) => number): Record<string, number> =>
  Object.fromEntries(OIL_KINDS.map((kind) => [`${symbol} ${kind}`, constant(OILS[kind])]));

const KOH_G_PER_MOL = 56.1;

/**
 * Mean molar mass of the triglycerides of a kind of oil, g/mol, from the middle of its saponification value's
 * range: from ±1.6 % (soybean) to ±5 % (palm), −8 to +5.5 % for used oil. Free fatty acid is counted in.
 * @throws OutOfRange
 */
export const oilMolarMassGPerMol = formula(
  {
    gives: 'Mean molar mass of the oil',
    unit: 'g/mol',
    formula: 'M = 3 · KOH · 1000 / SV of the kind',
    inputs: { kind: KIND_INPUT },
    constants: { KOH: KOH_G_PER_MOL, ...ofEachKind('SV', (oil) => oil.saponification.value) },
    source:
      'definition of the saponification value, mg KOH/g (JAOCS 76:1415); the values are the middles of the ' +
      'ranges of Codex CXS 210, 33 and 211, lard’s of the Canadian regulations; the docs’ table of oils says which were read and which are from memory',
    uncertainty:
      'from the ranges of the saponification values: ±2 % soybean and sunflower, ±3 % rapeseed, olive, coconut, ' +
      'tallow and lard, ±5 % palm; used oil is taken as soybean, −8 to +5.5 %',
    disagreement: 'High-erucic rapeseed oil is heavier; triolein, often taken for any oil, has 885.45 g/mol.',
  },
  ({ kind }) => (3 * KOH_G_PER_MOL * 1000) / OILS[kind].saponification.value,
);

/**
 * Density of a kind of oil as a liquid, kg/m³ (g/L), at a temperature, °C (−20 to 150; beyond 15 to 110
 * extrapolated, and `OILS` has the narrower ranges of single kinds). ±5 kg/m³ (0.5 %), used oil ±10. Palm,
 * coconut, tallow and lard set when cold: what is given there is what the melted fat would have.
 * @throws OutOfRange
 */
export const oilDensityKgPerM3 = formula(
  {
    gives: 'Density of the oil',
    unit: 'kg/m³',
    formula:
      'ρ = ρ0 of the kind + slope of the kind · temperatureC; ' +
      'ρ0 = 999.1 · (0.8475 + 0.00030 · SV + 0.00014 · IV) + 15 · 0.64 where no line was measured',
    inputs: {
      kind: KIND_INPUT,
      temperatureC: {
        what: 'temperature of the oil',
        unit: '°C',
        least: -20,
        most: 150,
        valid: [15, 110],
      },
    },
    constants: {
      ...ofEachKind('ρ0', (oil) => oil.density.at0C),
      ...ofEachKind('slope', (oil) => oil.density.perC),
    },
    source:
      'sunflower measured by Esteban et al. 2012, coconut by Noureddini et al. 1992 (JAOCS 69:1184), olive as in ' +
      'public reprints; the others by Lund’s relation and the slope in Rodenbush et al. 1999 (JAOCS 76:1415)',
    uncertainty:
      '±5 kg/m³: about half the width of the Codex ranges; Lund’s relation meets soybean oil measured from 24 to ' +
      '110 °C within 2.5. Used oil, taken as soybean, ±10, an estimate',
    disagreement:
      'A coconut line that starts from 931.16 kg/m³ is also in print: it is 6 kg/m³ under the points it is said ' +
      'to go through, and outside Codex. High-erucic rapeseed oil is 6 kg/m³ lighter than the low-erucic kind.',
  },
  ({ kind, temperatureC }) => OILS[kind].density.at0C + OILS[kind].density.perC * temperatureC,
);

/** cp = R · (C1 + C2 · T/100) / M, triolein. */
const TRIOLEIN = { R: 8.314462618, C1: 150.839, C2: 21.299, M: 0.885453 } as const;

/**
 * Heat capacity of oil, J/(kg K), at a temperature, °C (−20 to 180; under 60 extrapolated): that of liquid
 * triolein for all kinds, ±5 %. A fat that sets or melts takes up much more heat than this says.
 * @throws OutOfRange
 */
export const oilHeatCapacityJPerKgK = formula(
  {
    gives: 'Heat capacity of the oil',
    unit: 'J/(kg·K)',
    formula: 'cp = R · (C1 + C2 · (temperatureC + 273.15) / 100) / M',
    inputs: {
      temperatureC: {
        what: 'temperature of the oil',
        unit: '°C',
        least: -20,
        most: 180,
        valid: [60, 179.9],
      },
    },
    constants: TRIOLEIN,
    source:
      'liquid triolein, Zabransky, 333.1 to 453.1 K (read in the tables of the Python package chemicals)',
    uncertainty: '±5 %: a handbook’s line for cottonseed oil is 2 to 4 % lower from 22 to 50 °C',
    disagreement:
      'One series of twelve oils (Fasina & Colley 2008) spreads from 1,670 (corn) to 2,240 (sunflower) at 35 °C.',
  },
  ({ temperatureC }) => {
    const { R, C1, C2, M } = TRIOLEIN;
    return (R * (C1 + (C2 * (temperatureC + ZERO_CELSIUS_K)) / 100)) / M;
  },
);
