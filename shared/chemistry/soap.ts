import { BASE_KINDS, BASES, WATER_G_PER_MOL } from './bases.ts';
import { formula } from './formula.ts';
import { MOL_PER_L, OIL_L } from './titration.ts';

const OLEATES = { M_NaOH: BASES.NaOH.oleateGPerMol, M_KOH: BASES.KOH.oleateGPerMol } as const;

/**
 * Soap from the oil's free fatty acid when the catalyst neutralises it, g, as oleate. The least that
 * there will be: wet oil and too much catalyst make soap of the oil itself. Oil 0 to 100,000 L.
 * @throws OutOfRange
 */
export const soapG = formula(
  {
    gives: 'Soap from the free fatty acid',
    unit: 'g',
    formula: 'm = oilL · molPerL · M, M being that of the catalyst’s oleate',
    inputs: {
      oilL: OIL_L,
      molPerL: MOL_PER_L,
      catalyst: { what: 'catalyst', oneOf: BASE_KINDS },
    },
    constants: OLEATES,
    source: 'Stoichiometry: one soap for one acid. Molar masses from IUPAC atomic weights',
    uncertainty:
      'The least there will be: water and surplus catalyst make soap of the oil as well. As oleate; the soap ' +
      'of shorter acids weighs less.',
  },
  ({ oilL, molPerL, catalyst }) => oilL * molPerL * BASES[catalyst].oleateGPerMol,
);

const WATER = { M_water: WATER_G_PER_MOL } as const;

/**
 * Water set free when the catalyst neutralises the oil's free fatty acid, g. Oil 0 to 100,000 L.
 * @throws OutOfRange
 */
export const soapWaterG = formula(
  {
    gives: 'Water from the free fatty acid',
    unit: 'g',
    formula: 'm = oilL · molPerL · M_water',
    inputs: { oilL: OIL_L, molPerL: MOL_PER_L },
    constants: WATER,
    source: 'Stoichiometry: one water for one acid. Molar mass from IUPAC atomic weights',
    uncertainty: 'That of the titration. Hydroxide brings and makes water of its own, which is not in this.',
  },
  ({ oilL, molPerL }) => oilL * molPerL * WATER.M_water,
);

/**
 * Soap in ester or glycerol by titration with hydrochloric acid to the end point of bromophenol blue,
 * ppm by mass as oleate of the catalyst's base. Free catalyst is titrated first, to that of
 * phenolphthalein: the acid for it does not belong to `acidMl`. Less than the blank gives 0.
 * @throws OutOfRange
 */
export const soapTitrationPpm = formula(
  {
    gives: 'Soap by titration',
    unit: 'ppm',
    formula:
      'soap = max(0, acidMl − blankMl) · acidMolPerL · M / (1000 · sampleG) · 1,000,000, M being that of the ' +
      'base’s oleate',
    inputs: {
      acidMl: { what: 'hydrochloric acid used', unit: 'mL', least: 0, most: 1000 },
      blankMl: { what: 'acid that the solvent alone took', unit: 'mL', least: 0, most: 1000 },
      acidMolPerL: {
        what: 'strength of the acid',
        unit: 'mol/L',
        least: 0.0001,
        most: 1,
        valid: [0.005, 0.1],
      },
      sampleG: { what: 'sample', unit: 'g', least: 0.1, most: 1000 },
      base: { what: 'base of the soap', oneOf: BASE_KINDS },
    },
    constants: OLEATES,
    source:
      'AOCS Cc 17-95, modified for ester (read in a university’s test guide, which cites NREL’s analytical ' +
      'methods); the blank is from memory',
    uncertainty:
      '0.1 mL of 0.01 mol/L acid on a 10 g sample is 30 ppm. As oleate; the soaps of coconut weigh a quarter less.',
    disagreement:
      'A widely copied form of the formula has 0.1 mol/L for acid of 0.01 mol/L, and gives ten times the soap.',
  },
  ({ acidMl, blankMl, acidMolPerL, sampleG, base }) =>
    ((Math.max(0, acidMl - blankMl) * acidMolPerL * BASES[base].oleateGPerMol) / (1000 * sampleG)) * 1e6,
);
