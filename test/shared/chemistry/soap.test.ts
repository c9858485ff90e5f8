import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import { BASE_KINDS, BASES, OLEIC_ACID_G_PER_MOL } from '../../../shared/chemistry/bases.ts';
import { soapG, soapTitrationPpm, soapWaterG } from '../../../shared/chemistry/soap.ts';
import { refusal } from './ranges.ts';

const number = (min: number, max: number) => fc.double({ min, max, noNaN: true });
const base = fc.constantFrom(...BASE_KINDS);

// Abridged standard atomic weights, IUPAC 2021.
const [C, H, O, Na, K] = [12.011, 1.008, 15.999, 22.99, 39.098];

test('molar masses are the sums of the atoms', () => {
  expect(BASES.NaOH.gPerMol).toBeCloseTo(Na + O + H, 2);
  expect(BASES.KOH.gPerMol).toBeCloseTo(K + O + H, 2);
  expect(OLEIC_ACID_G_PER_MOL).toBeCloseTo(18 * C + 34 * H + 2 * O, 2);
  expect(BASES.NaOH.oleateGPerMol).toBeCloseTo(18 * C + 33 * H + 2 * O + Na, 2);
  expect(BASES.KOH.oleateGPerMol).toBeCloseTo(18 * C + 33 * H + 2 * O + K, 2);
});

describe('soap from free fatty acid', () => {
  test('with its water weighs what acid and base weighed', () => {
    fc.assert(
      fc.property(base, number(0, 5), number(0.05, 100_000), (catalyst, molPerL, oilL) => {
        const went = oilL * molPerL * (OLEIC_ACID_G_PER_MOL + BASES[catalyst].gPerMol);
        const came = soapG({ oilL, molPerL, catalyst }) + soapWaterG({ oilL, molPerL });
        // The molar masses are rounded to 0.001 g.
        expect(Math.abs(came - went)).toBeLessThanOrEqual(oilL * molPerL * 0.0021 + 1e-12);
      }),
    );
  });

  test('100 L with 0.06 mol/L make 1.83 kg of sodium oleate and 108 g of water (worked by hand)', () => {
    expect(soapG({ oilL: 100, molPerL: 0.06, catalyst: 'NaOH' })).toBeCloseTo(1827, 0);
    expect(soapWaterG({ oilL: 100, molPerL: 0.06 })).toBeCloseTo(108.1, 1);
  });
});

describe('soap by titration', () => {
  // AOCS Cc 17-95, modified: worked by hand with 304.4 (Na) and 320.56 (K) g/mol and 0.01 mol/L acid.
  // 304.4 is printed for 304.45, so that the last digit may be one out.
  test.for([
    [1, 10, 304.4, 320.6],
    [3, 10, 913.3, 961.7],
    [2.5, 8.8, 864.9, 910.7],
  ] as const)(
    '%d mL on %d g is %d ppm as sodium and %d as potassium oleate',
    ([acidMl, sampleG, soda, potash]) => {
      const args = { acidMl, blankMl: 0, acidMolPerL: 0.01, sampleG };
      expect(Math.abs(soapTitrationPpm({ ...args, base: 'NaOH' }) - soda)).toBeLessThanOrEqual(0.1);
      expect(Math.abs(soapTitrationPpm({ ...args, base: 'KOH' }) - potash)).toBeLessThanOrEqual(0.1);
    },
  );

  test('leaves out what the solvent alone took, and is never under zero', () => {
    const args = { acidMolPerL: 0.01, sampleG: 10, base: 'NaOH' } as const;
    expect(soapTitrationPpm({ ...args, acidMl: 1.2, blankMl: 0.2 })).toBeCloseTo(
      soapTitrationPpm({ ...args, acidMl: 1, blankMl: 0 }),
      9,
    );
    expect(soapTitrationPpm({ ...args, acidMl: 0.1, blankMl: 0.2 })).toBe(0);
  });

  test('finds the soap that was put in', () => {
    fc.assert(
      fc.property(
        base,
        number(0, 20_000),
        number(0.001, 0.1),
        number(1, 100),
        (kind, ppm, strength, sampleG) => {
          const acidMl = ((sampleG * ppm) / 1e6 / BASES[kind].oleateGPerMol / strength) * 1000;
          fc.pre(acidMl <= 1000);
          expect(
            soapTitrationPpm({ acidMl, blankMl: 0, acidMolPerL: strength, sampleG, base: kind }),
          ).toBeCloseTo(ppm, 6);
        },
      ),
    );
  });
});

describe('over the whole range', () => {
  test('all are numbers', () => {
    fc.assert(
      fc.property(
        fc.record({
          acidMl: number(0, 1000),
          blankMl: number(0, 1000),
          acidMolPerL: number(0.0001, 1),
          sampleG: number(0.1, 1000),
          base,
        }),
        (args) => {
          const ppm = soapTitrationPpm(args);
          expect(Number.isFinite(ppm)).toBe(true);
          expect(ppm).toBeGreaterThanOrEqual(0);
        },
      ),
    );
  });

  const titration = { acidMl: 1, blankMl: 0, acidMolPerL: 0.01, sampleG: 10, base: 'NaOH' } as const;
  test.for([
    ['oilL', () => soapG({ oilL: -1, molPerL: 0, catalyst: 'KOH' })],
    ['molPerL', () => soapG({ oilL: 1, molPerL: Number.NaN, catalyst: 'KOH' })],
    ['molPerL', () => soapWaterG({ oilL: 1, molPerL: -1 })],
    ['acidMl', () => soapTitrationPpm({ ...titration, acidMl: -1 })],
    ['acidMolPerL', () => soapTitrationPpm({ ...titration, acidMolPerL: 0 })],
    ['sampleG', () => soapTitrationPpm({ ...titration, sampleG: 0 })],
    ['base', () => soapTitrationPpm({ ...titration, base: 'soda' as 'NaOH' })],
  ] as const)('what is out of it is refused by the name %s', ([field, call]) => {
    expect(refusal(call).field).toBe(field);
  });
});
