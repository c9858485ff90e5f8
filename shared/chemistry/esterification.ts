import { BASES, OLEIC_ACID_G_PER_MOL, WATER_G_PER_MOL } from './bases.ts';
import { type Band, formula } from './formula.ts';
import { METHANOL_G_PER_MOL } from './methanol.ts';
import { ACID_NUMBER } from './titration.ts';

/**
 * Esterification with sulphuric acid, before the base reaction, of an oil that is too acid for base
 * alone: free fatty acid and methanol become ester and water.
 */

const OIL_KG = { what: 'oil', unit: 'kg', least: 0, most: 100_000 } as const;
const HIGH_ACID_NUMBER = { ...ACID_NUMBER, valid: [9.3, 80] } as const;
const SULPHURIC_PURITY = {
  what: 'purity of the sulphuric acid',
  unit: '%',
  least: 1,
  most: 100,
  valid: [90, 100],
} as const;

const SULPHURIC_ACID_G_PER_MOL = 98.079;

const RULE_SOURCE =
  'Canakci & Van Gerpen 2001 (Trans. ASAE 44:1429; the abstract was read, the amounts are from memory)';

const METHANOL = { ratio: 20, M_methanol: METHANOL_G_PER_MOL, M_KOH: BASES.KOH.gPerMol } as const;

/**
 * Methanol for the esterification, kg: 20 mol for each of free fatty acid. Oil 0 to 100,000 kg; the
 * rule was tried at acid numbers of about 9 to 80 mg KOH/g.
 * @throws OutOfRange
 */
export const esterificationMethanolKg = formula(
  {
    gives: 'Methanol for the esterification',
    unit: 'kg',
    formula: 'm = ratio · oilKg · acidNumberMgKOHPerG / 1000 / M_KOH · M_methanol',
    inputs: { oilKg: OIL_KG, acidNumberMgKOHPerG: HIGH_ACID_NUMBER },
    constants: METHANOL,
    source: RULE_SOURCE,
    uncertainty:
      'A rule: more methanol goes further, and 40 to 1 is advised where there is little acid (from memory). The ' +
      'water that forms stops it: drain the wet methanol off before a second step.',
    disagreement:
      'Producers follow 19.8 to 1 (Chai et al. 2014, Fuel Process. Technol. 125:106, abstract). Tiwari et al. ' +
      '2007 (Biomass Bioenergy 31:569, abstract) used 0.28 L per litre of oil of 14 % free fatty acid, ' +
      'that is 15 to 1.',
  },
  ({ oilKg, acidNumberMgKOHPerG }) =>
    (METHANOL.ratio * oilKg * acidNumberMgKOHPerG * METHANOL.M_methanol) / METHANOL.M_KOH / 1000,
);

const ACID = { share: 0.05, M_oleic: OLEIC_ACID_G_PER_MOL, M_KOH: BASES.KOH.gPerMol } as const;

/**
 * Sulphuric acid for the esterification, kg as weighed: 5 % of the mass of the free fatty acid, as oleic.
 * @throws OutOfRange
 */
export const esterificationAcidKg = formula(
  {
    gives: 'Sulphuric acid for the esterification, as weighed',
    unit: 'kg',
    formula: 'm = share · oilKg · acidNumberMgKOHPerG / 1000 · M_oleic / M_KOH / (purityPercent / 100)',
    inputs: { oilKg: OIL_KG, acidNumberMgKOHPerG: HIGH_ACID_NUMBER, purityPercent: SULPHURIC_PURITY },
    constants: ACID,
    source: RULE_SOURCE,
    uncertainty: 'A rule: more acid is faster, and has to be neutralised afterwards',
    disagreement:
      'Tiwari et al. 2007 used 1.43 % of the oil’s volume at 14 % free fatty acid, some four times as much.',
  },
  ({ oilKg, acidNumberMgKOHPerG, purityPercent }) =>
    (ACID.share * oilKg * acidNumberMgKOHPerG * ACID.M_oleic) / ACID.M_KOH / 1000 / (purityPercent / 100),
);

const WATER = { M_water: WATER_G_PER_MOL, M_KOH: BASES.KOH.gPerMol } as const;

/**
 * Water that the esterification makes, kg, if all of the free fatty acid is esterified: the most there
 * can be.
 * @throws OutOfRange
 */
export const esterificationWaterKg = formula(
  {
    gives: 'Water from the esterification',
    unit: 'kg',
    formula: 'm = oilKg · acidNumberMgKOHPerG / 1000 / M_KOH · M_water',
    inputs: { oilKg: OIL_KG, acidNumberMgKOHPerG: ACID_NUMBER },
    constants: WATER,
    source: 'Stoichiometry: one water for one acid. Molar masses from IUPAC atomic weights',
    uncertainty: 'The most there can be: some acid is left. Most of it goes into the methanol.',
  },
  ({ oilKg, acidNumberMgKOHPerG }) => (oilKg * acidNumberMgKOHPerG * WATER.M_water) / WATER.M_KOH / 1000,
);

/** Published acid after esterification, as a share of the acid before. */
const LEFT = { low: 1 / 33, value: 1 / 14, high: 2 / 9.3 } as const;

/**
 * Acid number, mg KOH/g, that free fatty acid still gives after the esterification: an estimate. The oil
 * has to be titrated again before the base reaction.
 * @throws OutOfRange
 */
export const esterificationLeftMgKOHPerG = formula(
  {
    gives: 'Acid number left by the esterification',
    unit: 'mg KOH/g',
    formula: 'AN = share · acidNumberMgKOHPerG, with the shares low, value and high',
    inputs: { acidNumberMgKOHPerG: HIGH_ACID_NUMBER },
    constants: LEFT,
    source:
      'Published before and after: low, 33 to 1 % in two steps (Canakci & Van Gerpen 2001, Trans. ASAE ' +
      '44:1429); value, 14 to 1 % (Tiwari et al. 2007, Biomass Bioenergy 31:569); high, 9.3 to 2 mg KOH/g ' +
      '(Jayasinghe et al. 2014, Int. J. Energy Eng. 4:118); abstracts',
    uncertainty:
      'The bounds are the best and the worst of three published results, each with its own amounts of methanol ' +
      'and acid; most of them say ‘less than’. Titrate again.',
  },
  ({ acidNumberMgKOHPerG: before }): Band => ({
    low: LEFT.low * before,
    value: LEFT.value * before,
    high: LEFT.high * before,
  }),
);

const SULPHURIC = { M_sulphuric: SULPHURIC_ACID_G_PER_MOL } as const;

/**
 * Base, mol, that the sulphuric acid, kg as weighed (0 to 100,000), takes on top of the free fatty acid.
 * The most there can be: part of it leaves with the methanol and water that are drained off. A titration
 * of the treated oil has counted what is left: then it is not to be added again.
 * @throws OutOfRange
 */
export const esterificationBaseMol = formula(
  {
    gives: 'Base for the sulphuric acid',
    unit: 'mol',
    formula: 'n = 2 · 1000 · acidKg · purityPercent / 100 / M_sulphuric',
    inputs: {
      acidKg: { what: 'sulphuric acid, as weighed', unit: 'kg', least: 0, most: 100_000 },
      purityPercent: SULPHURIC_PURITY,
    },
    constants: SULPHURIC,
    source: 'Stoichiometry: two bases for one sulphuric acid. Molar mass from IUPAC atomic weights',
    uncertainty: 'The most there can be: part of the acid leaves with the drained methanol',
  },
  ({ acidKg, purityPercent }) => (2 * 1000 * acidKg * (purityPercent / 100)) / SULPHURIC.M_sulphuric,
);
