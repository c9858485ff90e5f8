import { formula } from './formula.ts';
import { METHANOL_G_PER_MOL } from './methanol.ts';

/** Conversions between the measures of an amount, and differences of temperatures. */

const LITRES = { what: 'volume', unit: 'L', least: 0, most: 1_000_000 } as const;
const MOST_KG = 1_000_000;

/**
 * Mass, kg, of a volume, L (0 to 1,000,000), of a density, kg/m³.
 * @throws OutOfRange
 */
export const massKg = formula(
  {
    gives: 'Mass',
    unit: 'kg',
    formula: 'm = litres · densityKgPerM3 / 1000',
    inputs: {
      litres: LITRES,
      densityKgPerM3: { what: 'density when measured', unit: 'kg/m³', least: 1, most: 3000 },
    },
    source: 'definition of density',
    uncertainty: 'That of the density and of the measured volume',
  },
  ({ litres, densityKgPerM3 }) => (litres * densityKgPerM3) / 1000,
);

/**
 * Methanol, L, by the percent of the oil’s volume (0 to 300) that the trade doses it by.
 * @throws OutOfRange
 */
export const methanolL = formula(
  {
    gives: 'Methanol',
    unit: 'L',
    formula: 'V = oilL · percentOfOilVolume / 100',
    inputs: {
      oilL: { ...LITRES, what: 'oil, as measured' },
      percentOfOilVolume: { what: 'methanol, percent of the oil’s volume', unit: '%', least: 0, most: 300 },
    },
    source: 'definition',
    uncertainty: 'None to speak of',
    disagreement:
      'The same percent is another molar ratio in each oil: 25 % is 5.7 to 6.1 mol of methanol for one of oil, but 4.4 for coconut oil.',
  },
  ({ oilL, percentOfOilVolume }) => (oilL * percentOfOilVolume) / 100,
);

const METHANOL = { M_methanol: METHANOL_G_PER_MOL } as const;

/**
 * mol of methanol for each mol of oil. Three are used up; 6:1 is usual.
 * @throws OutOfRange
 */
export const methanolToOilMolar = formula(
  {
    gives: 'Methanol to oil, molar',
    unit: 'mol/mol',
    formula: 'ratio = (methanolKg / M_methanol) / (oilKg / oilMolarMassGPerMol)',
    inputs: {
      methanolKg: { what: 'methanol', unit: 'kg', least: 0, most: MOST_KG },
      oilKg: { what: 'oil', unit: 'kg', least: 1e-6, most: MOST_KG },
      oilMolarMassGPerMol: { what: 'mean molar mass of the oil', unit: 'g/mol', least: 500, most: 1000 },
    },
    constants: METHANOL,
    source: 'definition; molar mass of methanol from IUPAC atomic weights',
    uncertainty: 'That of the oil’s molar mass: 2 to 5 %, up to 8 % for used oil',
  },
  ({ methanolKg, oilKg, oilMolarMassGPerMol }) =>
    methanolKg / METHANOL.M_methanol / (oilKg / oilMolarMassGPerMol),
);

/**
 * Pure catalyst as percent of the oil’s mass, from what is weighed and its purity.
 * @throws OutOfRange
 */
export const catalystPercentOfOilMass = formula(
  {
    gives: 'Catalyst, pure, of the oil’s mass',
    unit: '%',
    formula: 'share = catalystG · purityPercent / 100 / (1000 · oilKg) · 100',
    inputs: {
      catalystG: { what: 'catalyst as weighed', unit: 'g', least: 0, most: 1e10 },
      purityPercent: { what: 'purity of the catalyst', unit: '%', least: 1, most: 100 },
      oilKg: { what: 'oil', unit: 'kg', least: 1e-6, most: MOST_KG },
    },
    source: 'definition',
    uncertainty: 'That of the purity: an open can takes up water',
  },
  ({ catalystG, purityPercent, oilKg }) => (catalystG * purityPercent) / (1000 * oilKg),
);

/**
 * Temperature that keeps a margin, °C, below the boiling point.
 * @throws OutOfRange
 */
export const belowBoilingC = formula(
  {
    gives: 'Temperature with a margin below boiling',
    unit: '°C',
    formula: 't = boilingC − marginC',
    inputs: {
      boilingC: { what: 'boiling point of methanol', unit: '°C', least: -50, most: 100 },
      marginC: { what: 'margin', unit: '°C', least: 0, most: 10_000 },
    },
    source: 'the margin is a limit of the plan; its default is common practice, no source',
    uncertainty: 'That of the boiling point',
  },
  ({ boilingC, marginC }) => boilingC - marginC,
);

const USUAL_VESSEL = { slenderness: 1.5 } as const;

/**
 * Height of the liquid, m, of a volume, L, in a vessel of usual shape, where nobody has measured it.
 * @throws OutOfRange
 */
export const usualHeightM = formula(
  {
    gives: 'Height of the liquid in a vessel of usual shape',
    unit: 'm',
    formula: 'h = (4 / π · slenderness² · litres / 1000) ^ (1/3)',
    inputs: { litres: LITRES },
    constants: USUAL_VESSEL,
    source: 'a cylinder filled half as high again as it is wide: an assumption',
    uncertainty: 'Measure it where the settling time matters',
  },
  ({ litres }) => Math.cbrt(((4 / Math.PI) * USUAL_VESSEL.slenderness ** 2 * litres) / 1000),
);
