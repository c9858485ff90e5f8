import { BASE_KINDS, BASES, OLEIC_ACID_G_PER_MOL } from './bases.ts';
import { allowed, formula, OutOfRange } from './formula.ts';
import type { OilVerdict } from './oil-verdicts.ts';

/** Inputs that several formulas share. */
const TITRANT_ML = { what: 'titrant used', unit: 'mL', least: 0, most: 10_000 } as const;
const PURITY_PERCENT = { what: 'purity by mass', unit: '%', least: 1, most: 100 } as const;
export const OIL_L = { what: 'oil, as measured', unit: 'L', least: 0, most: 100_000 } as const;
/** The most is beyond any pure fatty acid, of which coconut’s make some 4.5 mol/L. */
export const MOL_PER_L = {
  what: 'base that a litre of the oil took',
  unit: 'mol/L',
  least: 0,
  most: 5,
} as const;
/** The most is beyond any pure fatty acid: oleic acid has 199, the shortest of coconut 390. */
export const ACID_NUMBER = { what: 'acid number of the oil', unit: 'mg KOH/g', least: 0, most: 600 } as const;

const MOLAR_MASSES = { M_NaOH: BASES.NaOH.gPerMol, M_KOH: BASES.KOH.gPerMol } as const;
const ATOMIC_WEIGHTS = 'Molar masses from IUPAC atomic weights';

/** One or more runs of the same titration. */
export interface Runs {
  readonly mean: number;
  /** Largest less smallest. */
  readonly spread: number;
  readonly count: number;
}

/**
 * Mean and spread of the runs of a titration, mL (0 to 10,000 each).
 * @throws OutOfRange for an empty list or a run out of range
 */
export function runsOf(mL: number | readonly number[]): Runs {
  const runs = typeof mL === 'number' ? [mL] : mL;
  if (runs.length === 0) throw new OutOfRange('mL', '[]', 'one run or more');
  for (const run of runs) {
    if (!(run >= TITRANT_ML.least && run <= TITRANT_ML.most))
      throw new OutOfRange('mL', run, allowed(TITRANT_ML));
  }
  return {
    mean: runs.reduce((sum, run) => sum + run, 0) / runs.length,
    spread: Math.max(...runs) - Math.min(...runs),
    count: runs.length,
  };
}

/**
 * Base that a litre of the oil took to the end point, mol/L. Titrant as weighed, with its purity, so
 * that NaOH and KOH of any strength say the same of an oil. A run that took less than the blank gives 0:
 * the difference is then within what can be read.
 * @throws OutOfRange
 */
export const titratedMolPerL = formula(
  {
    gives: 'Base taken in the titration',
    unit: 'mol/L',
    formula:
      'n = max(0, titrantMl − blankMl) · gPerL · purityPercent / 100 / M / sampleMl, M being that of the titrant',
    inputs: {
      titrantMl: TITRANT_ML,
      blankMl: { ...TITRANT_ML, what: 'titrant that the solvent alone took' },
      titrant: { what: 'base in the titrant', oneOf: BASE_KINDS },
      gPerL: { what: 'base in the titrant, as weighed', unit: 'g/L', least: 0.001, most: 1000 },
      purityPercent: { ...PURITY_PERCENT, what: 'purity of the base in the titrant' },
      sampleMl: { what: 'oil titrated', unit: 'mL', least: 0.001, most: 10_000 },
    },
    constants: MOLAR_MASSES,
    source: `Stoichiometry: one base for one acid. ${ATOMIC_WEIGHTS}`,
    uncertainty:
      'As read: 0.1 mL of a 1 g/L NaOH titrant on a 1 mL sample is 0.0025 mol/L, that is 0.1 g of NaOH for ' +
      'each litre of oil. Titrant that has stood open has taken up CO2 and reads high.',
  },
  ({ titrantMl, blankMl, titrant, gPerL, purityPercent, sampleMl }) =>
    (Math.max(0, titrantMl - blankMl) * gPerL * (purityPercent / 100)) / BASES[titrant].gPerMol / sampleMl,
);

const ACID_NUMBER_CONSTANTS = { M_KOH: BASES.KOH.gPerMol } as const;

/**
 * Acid number, mg KOH/g (0 to 561), from the base that a litre took, mol/L (0 to 5), and the oil's
 * density at the temperature at which the sample was measured, kg/L (0.5 to 1.2).
 * @throws OutOfRange
 */
export const acidNumberMgKOHPerG = formula(
  {
    gives: 'Acid number',
    unit: 'mg KOH/g',
    formula: 'AN = molPerL · M_KOH / oilKgPerL',
    inputs: {
      molPerL: MOL_PER_L,
      oilKgPerL: {
        what: 'density of the oil as sampled',
        unit: 'kg/L',
        least: 0.5,
        most: 1.2,
        valid: [0.82, 0.96],
      },
    },
    constants: ACID_NUMBER_CONSTANTS,
    source: 'EN 14104, section 10 (acid value = 56.1 · V · c / m, read in a reprint)',
    uncertainty: 'That of the titration, and 1 % from the density of a used oil',
  },
  ({ molPerL, oilKgPerL }) => (molPerL * ACID_NUMBER_CONSTANTS.M_KOH) / oilKgPerL,
);

const FREE_FATTY_ACID_CONSTANTS = { M_oleic: OLEIC_ACID_G_PER_MOL, M_KOH: BASES.KOH.gPerMol } as const;

/**
 * Free fatty acid, % of the oil's mass as oleic acid, from the acid number, mg KOH/g (0 to 600).
 * Over 100 % is possible: shorter acids than oleic weigh less for the same acid number.
 * @throws OutOfRange
 */
export const freeFattyAcidPercent = formula(
  {
    gives: 'Free fatty acid, as oleic acid',
    unit: '%',
    formula: 'FFA = acidNumberMgKOHPerG · M_oleic / M_KOH / 10',
    inputs: { acidNumberMgKOHPerG: ACID_NUMBER },
    constants: FREE_FATTY_ACID_CONSTANTS,
    source: `Stoichiometry. ${ATOMIC_WEIGHTS}`,
    uncertainty:
      'That of the acid number. By convention: the acids of coconut weigh a quarter less than oleic.',
    disagreement: 'AOCS prints 1.99 for the acid number of 1 % (from memory), and this gives 1.986.',
  },
  ({ acidNumberMgKOHPerG: number }) =>
    (number * FREE_FATTY_ACID_CONSTANTS.M_oleic) / FREE_FATTY_ACID_CONSTANTS.M_KOH / 10,
);

/**
 * Free fatty acid, %, from which there is more soap to wash out. Common practice, no source; published
 * limits for a good yield lie lower: 0.5 % (Ma, Clements & Hanna 1998, Trans. ASAE 41:1261, read in a
 * reprint), and an acid value of 1 mg KOH/g (Freedman et al. 1984, as cited by others).
 */
export const FREE_FATTY_ACID_NOTE_PERCENT = 1;

/**
 * Free fatty acid, %, from which base alone will not do. Kombe et al. 2013 (Adv. Chem. Eng. Sci. 3(4),
 * doi 10.4236/aces.2013.34031): it should be lower than 3 % for the direct base-catalysed reaction.
 */
export const FREE_FATTY_ACID_HIGH_PERCENT = 3;

/**
 * Free fatty acid, %, from which an oil is best left where it is: over it the trade calls a grease brown (from
 * memory). Canakci & Van Gerpen 2001 (Trans. ASAE 44:1429, abstract) brought a grease of 12 % and one of 33 %
 * under 1 % with two acid steps each: it can be done, and is two days of acid, methanol and wet methanol to be
 * rid of before the base reaction begins. Where to stop is a choice.
 */
export const FREE_FATTY_ACID_LEAVE_PERCENT = 15;

/**
 * What the free fatty acid, % (0 or more), says of an oil: good under 1 %, too acid from 3 %.
 * @throws OutOfRange
 */
export function oilVerdict(freeFattyAcidPercent: number): OilVerdict {
  if (!(freeFattyAcidPercent >= 0))
    throw new OutOfRange('freeFattyAcidPercent', freeFattyAcidPercent, 'at least 0 %');
  if (freeFattyAcidPercent >= FREE_FATTY_ACID_HIGH_PERCENT) return 'too-acid';
  return freeFattyAcidPercent >= FREE_FATTY_ACID_NOTE_PERCENT ? 'more-soap' : 'good';
}

/**
 * Base dose, g of pure NaOH per litre of oil, that goes on top of what the titration takes; of KOH the
 * same in moles. Common practice, no source.
 */
export const BASE_DOSE_G_PER_L = { fresh: 3.5, used: 5 } as const;

/**
 * Catalyst to weigh out, g: the base dose and what neutralises the free fatty acid, with the purity of
 * what is weighed. Oil 0 to 100,000 L.
 * @throws OutOfRange
 */
export const catalystG = formula(
  {
    gives: 'Catalyst, as weighed',
    unit: 'g',
    formula: 'm = oilL · (baseGPerL + molPerL · M) / (purityPercent / 100), M being that of the catalyst',
    inputs: {
      oilL: OIL_L,
      molPerL: MOL_PER_L,
      baseGPerL: { what: 'base dose, of pure catalyst', unit: 'g/L', least: 0, most: 1000 },
      catalyst: { what: 'catalyst', oneOf: BASE_KINDS },
      purityPercent: { ...PURITY_PERCENT, what: 'purity of the catalyst' },
    },
    constants: MOLAR_MASSES,
    source: `Stoichiometry for what the titration adds; the base dose is common practice, no source. ${ATOMIC_WEIGHTS}`,
    uncertainty:
      'That of the titration. Hydroxide that has stood open has taken up water and CO2: its purity is less ' +
      'than the label says.',
  },
  ({ oilL, molPerL, baseGPerL, catalyst, purityPercent }) =>
    (oilL * (baseGPerL + molPerL * BASES[catalyst].gPerMol)) / (purityPercent / 100),
);

/**
 * The same moles of the other base, g (of 0 to 1e9 g), both pure.
 * @throws OutOfRange
 */
export const sameMolesG = formula(
  {
    gives: 'The same moles of another base',
    unit: 'g',
    formula: 'm = grams · M(to) / M(from)',
    inputs: {
      grams: { what: 'pure base', unit: 'g', least: 0, most: 1e9 },
      from: { what: 'the base it is', oneOf: BASE_KINDS },
      to: { what: 'the base asked for', oneOf: BASE_KINDS },
    },
    constants: MOLAR_MASSES,
    source: ATOMIC_WEIGHTS,
    uncertainty: 'None to speak of',
    disagreement:
      'Guides give 7 to 8 g/L of KOH beside 3.5 g/L of NaOH (from memory): more than the same moles, for ' +
      'flake of 85 to 90 % and some margin.',
  },
  ({ grams, from, to }) => (grams * BASES[to].gPerMol) / BASES[from].gPerMol,
);
