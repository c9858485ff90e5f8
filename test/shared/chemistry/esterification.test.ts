import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import {
  esterificationAcidKg,
  esterificationBaseMol,
  esterificationLeftMgKOHPerG,
  esterificationMethanolKg,
  esterificationWaterKg,
} from '../../../shared/chemistry/esterification.ts';
import { freeFattyAcidPercent } from '../../../shared/chemistry/titration.ts';
import { refusal } from './ranges.ts';

const number = (min: number, max: number) => fc.double({ min, max, noNaN: true });
const acidNumberOf = (percent: number) => percent / freeFattyAcidPercent({ acidNumberMgKOHPerG: 1 });

/** 100 kg of oil with a tenth of free fatty acid: 10 kg of it. */
const tenPercent = { oilKg: 100, acidNumberMgKOHPerG: acidNumberOf(10) };

describe('methanol and sulphuric acid', () => {
  test('methanol is 2.25 g for a gram of free fatty acid (NREL/SR-510-36244, from memory; 20 : 1 rounded)', () => {
    expect(Math.abs(esterificationMethanolKg(tenPercent) / 22.5 - 1)).toBeLessThan(0.01);
  });

  test('methanol is what producers follow, 19.8 mol for a mole (Chai et al. 2014, abstract)', () => {
    const producersKg = (19.8 * 32.042 * 10) / 282.468;
    expect(Math.abs(esterificationMethanolKg(tenPercent) / producersKg - 1)).toBeLessThan(0.0102);
  });

  test('methanol is within a third of what took an oil from 14 % to under 1 % (Tiwari et al. 2007, abstract)', () => {
    // 0.28 L of methanol, 0.791 kg/L, for a litre of oil, 0.915 kg/L: the least of the published amounts.
    const published = 0.28 * 0.791;
    const computed = esterificationMethanolKg({ oilKg: 0.915, acidNumberMgKOHPerG: acidNumberOf(14) });
    expect(computed).toBeGreaterThan(published);
    expect(computed).toBeLessThan(published * 1.34);
  });

  test('acid is 0.05 g for a gram of free fatty acid (NREL/SR-510-36244, from memory), more where it is weaker', () => {
    expect(esterificationAcidKg({ ...tenPercent, purityPercent: 100 })).toBeCloseTo(0.5, 9);
    expect(esterificationAcidKg({ ...tenPercent, purityPercent: 96 })).toBeCloseTo(0.5 / 0.96, 9);
  });

  test('a kilogram of sulphuric acid takes 0.816 kg of NaOH (textbook, from memory)', () => {
    expect((esterificationBaseMol({ acidKg: 1, purityPercent: 100 }) * 39.997) / 1000).toBeCloseTo(0.816, 3);
    expect(esterificationBaseMol({ acidKg: 1, purityPercent: 50 })).toBeCloseTo(10.196, 2);
  });
});

describe('what comes of it', () => {
  test('water closes the balance of oleic acid and methanol to methyl oleate, 296.495 g/mol (IUPAC weights)', () => {
    const mol = 10_000 / 282.468;
    const esterKg = (mol * 296.495) / 1000;
    const methanolUsedKg = (mol * 32.042) / 1000;
    expect(esterificationWaterKg(tenPercent)).toBeCloseTo(10 + methanolUsedKg - esterKg, 4);
  });

  // Published results that the bounds are not made of.
  test('acid left takes in waste oil that went from 68.81 to 3.76 mg KOH/g (doi 10.3390/en5082683, abstract)', () => {
    const left = esterificationLeftMgKOHPerG({ acidNumberMgKOHPerG: 68.81 });
    expect(left.low).toBeLessThanOrEqual(3.76);
    expect(left.high).toBeGreaterThanOrEqual(3.76);
  });

  test('acid left takes in yellow grease that went from 12 to under 1 % (Canakci & Van Gerpen 2001, abstract)', () => {
    const left = esterificationLeftMgKOHPerG({ acidNumberMgKOHPerG: acidNumberOf(12) });
    expect(left.low).toBeLessThan(acidNumberOf(1));
    expect(left.value).toBeLessThan(acidNumberOf(1));
  });
});

describe('over the whole range', () => {
  test('more acid takes no less of anything, and the bounds keep their order under what was there before', () => {
    fc.assert(
      fc.property(
        number(0, 100_000),
        number(0, 600),
        number(0, 600),
        number(1, 100),
        (oilKg, one, other, purityPercent) => {
          const [less, more] = [one, other]
            .sort((a, b) => a - b)
            .map((acidNumberMgKOHPerG) => [
              esterificationMethanolKg({ oilKg, acidNumberMgKOHPerG }),
              esterificationAcidKg({ oilKg, acidNumberMgKOHPerG, purityPercent }),
              esterificationWaterKg({ oilKg, acidNumberMgKOHPerG }),
              esterificationLeftMgKOHPerG({ acidNumberMgKOHPerG }).value,
            ]);
          more!.forEach((value, i) => {
            expect(Number.isFinite(value)).toBe(true);
            expect(less![i]).toBeLessThanOrEqual(value);
          });
          const left = esterificationLeftMgKOHPerG({ acidNumberMgKOHPerG: one });
          expect(left.low).toBeLessThanOrEqual(left.value);
          expect(left.value).toBeLessThanOrEqual(left.high);
          expect(left.high).toBeLessThanOrEqual(one);
        },
      ),
    );
  });

  test('base for the sulphuric acid does not depend on how strong it was bought', () => {
    fc.assert(
      fc.property(
        number(0.01, 100),
        number(10, 600),
        number(50, 100),
        (oilKg, acidNumberMgKOHPerG, purityPercent) => {
          const neutral = (purity: number) =>
            esterificationBaseMol({
              acidKg: esterificationAcidKg({ oilKg, acidNumberMgKOHPerG, purityPercent: purity }),
              purityPercent: purity,
            });
          expect(neutral(purityPercent)).toBeCloseTo(neutral(100), 9);
        },
      ),
    );
  });

  test.for([
    ['oilKg', () => esterificationMethanolKg({ ...tenPercent, oilKg: -1 })],
    ['acidNumberMgKOHPerG', () => esterificationMethanolKg({ ...tenPercent, acidNumberMgKOHPerG: 601 })],
    ['purityPercent', () => esterificationAcidKg({ ...tenPercent, purityPercent: 0 })],
    ['oilKg', () => esterificationWaterKg({ ...tenPercent, oilKg: Number.NaN })],
    ['acidNumberMgKOHPerG', () => esterificationLeftMgKOHPerG({ acidNumberMgKOHPerG: -1 })],
    ['acidKg', () => esterificationBaseMol({ acidKg: -1, purityPercent: 96 })],
  ] as const)('what is out of it is refused by the name %s', ([field, call]) => {
    expect(refusal(call).field).toBe(field);
  });
});
