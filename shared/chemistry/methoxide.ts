import { BASE_KINDS, BASES } from './bases.ts';
import { formula } from './formula.ts';
import { methanolHeatCapacityJPerKgK } from './methanol.ts';

const CONSTANTS = {
  q_NaOH: BASES.NaOH.solutionHeatJPerMol,
  q_KOH: BASES.KOH.solutionHeatJPerMol,
  c_NaOH: BASES.NaOH.solidHeatCapacityJPerMolK,
  c_KOH: BASES.KOH.solidHeatCapacityJPerMolK,
  M_NaOH: BASES.NaOH.gPerMol,
  M_KOH: BASES.KOH.gPerMol,
} as const;

const SOURCE =
  'Heat balance without losses. Heat of solution in water at infinite dilution, from the CRC Handbook’s ' +
  'enthalpies of formation, for want of one in methanol; heat capacity of the solid: CRC Handbook; both read ' +
  'in the tables of the Python package chemicals';

const START_C = { what: 'methanol before', unit: '°C', least: -40, most: 65 } as const;
const METHANOL_KG = { what: 'methanol', unit: 'kg', least: 1e-6, most: 300_000 } as const;
const BASE = { what: 'base', oneOf: BASE_KINDS } as const;

/**
 * Highest temperature that methanol can reach when base dissolves in it, °C: all at once, no heat lost.
 * A bound, and a plain number where it lies over the boiling point: the methanol then boils, and gets no
 * hotter than that. Methanol −40 to 65 °C, 1e-6 to 300,000 kg; pure base, 0 to 1e9 g.
 *
 * Methanol counts with its heat capacity at the start, the least on the way up: that keeps the bound on
 * the safe side, from 20 °C by 2 % of a rise of 15 °C and 5 % of one of 40 °C.
 * @throws OutOfRange
 */
export const methoxidePeakC = formula(
  {
    gives: 'Highest temperature of the methoxide',
    unit: '°C',
    formula:
      't = startC + n · q / (methanolKg · cp + n · c), n = baseG / M, cp the heat capacity of methanol at startC, ' +
      'q, c and M being those of the base',
    inputs: {
      startC: START_C,
      methanolKg: METHANOL_KG,
      base: BASE,
      baseG: { what: 'pure base', unit: 'g', least: 0, most: 1e9 },
    },
    constants: CONSTANTS,
    source: SOURCE,
    uncertainty:
      'An upper bound. Measured once: 10 g of KOH flake in 100 mL of methanol in light insulation rose by ' +
      '22 °C, where this gives 46 °C without the glass and 29 °C with it. Over the boiling point the methanol ' +
      'boils instead.',
  },
  ({ startC, methanolKg, base, baseG }) => {
    const { gPerMol, solutionHeatJPerMol: heat, solidHeatCapacityJPerMolK: solid } = BASES[base];
    const mol = baseG / gPerMol;
    return (
      startC +
      (mol * heat) / (methanolKg * methanolHeatCapacityJPerKgK({ temperatureC: startC }) + mol * solid)
    );
  },
);

/**
 * Largest portion of pure base, g, that takes the methanol no higher than a peak, °C (−40 to 65); 0 where
 * it is there already. The inverse of `methoxidePeakC`. For a later portion, what is dissolved already
 * is left out of the heat balance: the portion comes out smaller for it.
 * @throws OutOfRange
 */
export const methoxidePortionG = formula(
  {
    gives: 'Largest portion of base',
    unit: 'g',
    formula:
      'm = M · methanolKg · cp · Δ / (q − c · Δ), Δ = max(0, peakC − startC), cp the heat capacity of methanol at ' +
      'startC, q, c and M being those of the base',
    inputs: {
      startC: START_C,
      peakC: { what: 'highest temperature allowed', unit: '°C', least: -40, most: 65 },
      methanolKg: METHANOL_KG,
      base: BASE,
    },
    constants: CONSTANTS,
    source: SOURCE,
    uncertainty: 'On the safe side: it comes from an upper bound of the temperature',
  },
  ({ startC, peakC, methanolKg, base }) => {
    const { gPerMol, solutionHeatJPerMol: heat, solidHeatCapacityJPerMolK: solid } = BASES[base];
    const rise = Math.max(0, peakC - startC);
    const methanolJPerK = methanolKg * methanolHeatCapacityJPerKgK({ temperatureC: startC });
    return (gPerMol * methanolJPerK * rise) / (heat - solid * rise);
  },
);

/** The next portion goes in when the methoxide is back under this, °C. Common practice, no source. */
export const NEXT_PORTION_BELOW_C = 35;
