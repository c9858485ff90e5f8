import { type Band, formula } from './formula.ts';

/** Each a line through what an abstract gives: ppm at a temperature, ppm per °C. */
const SOLUBILITY = { c1: 1000, t1: 4, slope1: 22.2, c2: 1500, t2: 10, slope2: 12 } as const;

/**
 * Water that ester holds dissolved when it can take no more, ppm by mass, at a temperature, °C (0 to 60;
 * beyond 10 to 35 extrapolated from one study or both). The bounds are two studies, up to 470 ppm apart when
 * cold. Ester is clear up to there, so that clear is not dry.
 * @throws OutOfRange
 */
export const waterSolubilityPpm = formula(
  {
    gives: 'Water that clear ester can hold',
    unit: 'ppm',
    formula: 'c = c1 + slope1 · (temperatureC − t1) and c2 + slope2 · (temperatureC − t2); value: their mean',
    inputs: {
      temperatureC: { what: 'temperature of the ester', unit: '°C', least: 0, most: 60, valid: [10, 35] },
    },
    constants: SOLUBILITY,
    source:
      '1,000 to 1,700 ppm from 4 to 35 °C, 22.2 ppm per °C: note on moisture absorption of the USDA National ' +
      'Biodiesel Education Program; 1,500 to 1,980 mg/kg from 10 to 50 °C: J. Chem. Eng. Data 57 (2012) 1817. ' +
      'Of the first an excerpt was read, of the second the abstract; the line between its ends is drawn here.',
    uncertainty:
      'The bounds are the two studies. Methanol, soap and glycerol left in the ester hold more water.',
  },
  ({ temperatureC }): Band => {
    const first = SOLUBILITY.c1 + SOLUBILITY.slope1 * (temperatureC - SOLUBILITY.t1);
    const second = SOLUBILITY.c2 + SOLUBILITY.slope2 * (temperatureC - SOLUBILITY.t2);
    return {
      low: Math.min(first, second),
      value: (first + second) / 2,
      high: Math.max(first, second),
    };
  },
);
