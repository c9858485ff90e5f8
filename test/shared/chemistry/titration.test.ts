import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import { BASE_KINDS, BASES } from '../../../shared/chemistry/bases.ts';
import {
  acidNumberMgKOHPerG,
  BASE_DOSE_G_PER_L,
  catalystG,
  FREE_FATTY_ACID_HIGH_PERCENT,
  FREE_FATTY_ACID_NOTE_PERCENT,
  freeFattyAcidPercent,
  oilVerdict,
  runsOf,
  sameMolesG,
  titratedMolPerL,
} from '../../../shared/chemistry/titration.ts';
import { refusal } from './ranges.ts';

const number = (min: number, max: number) => fc.double({ min, max, noNaN: true });
const base = fc.constantFrom(...BASE_KINDS);

describe('the acid in the oil', () => {
  // 1 mL of oil, 1 g/L of pure base, 1 mL used; worked out by hand from the definition of the acid value
  // (EN 14104, section 10) and IUPAC atomic weights.
  test.for([
    ['NaOH', 0.9, 0.7847, 1.5586],
    ['NaOH', 0.91, 0.7761, 1.5415],
    ['NaOH', 0.92, 0.7676, 1.5247],
    ['KOH', 0.9, 0.5594, 1.1111],
    ['KOH', 0.91, 0.5533, 1.0989],
    ['KOH', 0.92, 0.5472, 1.087],
  ] as const)(
    'by a millilitre of 0.1 %% %s at %d kg/L is %d %% and %d mg KOH/g',
    ([titrant, oilKgPerL, percent, acidNumber]) => {
      const molPerL = titratedMolPerL({
        titrantMl: 1,
        blankMl: 0,
        titrant,
        gPerL: 1,
        purityPercent: 100,
        sampleMl: 1,
      });
      const computed = acidNumberMgKOHPerG({ molPerL, oilKgPerL });
      expect(computed).toBeCloseTo(acidNumber, 4);
      expect(freeFattyAcidPercent({ acidNumberMgKOHPerG: computed })).toBeCloseTo(percent, 4);
    },
  );

  test('has an acid number of 1.99 for 1 % (AOCS Cd 3d-63, from memory; printed to 0.01)', () => {
    expect(Math.abs(1 / freeFattyAcidPercent({ acidNumberMgKOHPerG: 1 }) - 1.99)).toBeLessThan(0.005);
  });

  test('is 28.2 · V · N / m in per cent as oleic (AOCS Ca 5a-40, from memory)', () => {
    // 3 mL of 0.1 N base on 7.05 g of oil: 1.2 %.
    const sampleMl = 7.05 / 0.92;
    const molPerL = titratedMolPerL({
      titrantMl: 3,
      blankMl: 0,
      titrant: 'KOH',
      gPerL: 5.6105,
      purityPercent: 100,
      sampleMl,
    });
    const computed = freeFattyAcidPercent({
      acidNumberMgKOHPerG: acidNumberMgKOHPerG({ molPerL, oilKgPerL: 0.92 }),
    });
    // 28.2 stands for 28.25.
    expect(Math.abs(computed / 1.2 - 1)).toBeLessThan(0.002);
  });

  test('is all of the oil where the oil is oleic acid', () => {
    // 1 kg holds 1000 / 282.468 mol (IUPAC atomic weights).
    const molPerL = (1000 / 282.468) * 0.895;
    expect(
      freeFattyAcidPercent({ acidNumberMgKOHPerG: acidNumberMgKOHPerG({ molPerL, oilKgPerL: 0.895 }) }),
    ).toBeCloseTo(100, 6);
  });

  test('is none where the sample took no more than the blank', () => {
    const args = { titrant: 'NaOH', gPerL: 1, purityPercent: 98, sampleMl: 1 } as const;
    expect(titratedMolPerL({ ...args, titrantMl: 0.3, blankMl: 0.3 })).toBe(0);
    expect(titratedMolPerL({ ...args, titrantMl: 0.2, blankMl: 0.3 })).toBe(0);
    expect(titratedMolPerL({ ...args, titrantMl: 2.7, blankMl: 0.3 })).toBeCloseTo(
      titratedMolPerL({ ...args, titrantMl: 2.4, blankMl: 0 }),
      12,
    );
  });
});

describe('several runs', () => {
  test('have their mean, spread and count', () => {
    expect(runsOf([2.4, 2.7, 2.1])).toEqual({
      mean: expect.closeTo(2.4, 12),
      spread: expect.closeTo(0.6, 12),
      count: 3,
    });
    expect(runsOf(2.4)).toEqual({ mean: 2.4, spread: 0, count: 1 });
  });

  test.for([[[]], [[1, -0.1]], [[1, Number.NaN]], [Number.NaN], [-1], [10_001]])(
    'are refused as %o',
    ([mL]) => {
      expect(refusal(() => runsOf(mL as number | number[])).field).toBe('mL');
    },
  );
});

describe('the catalyst', () => {
  test('in moles: 3.5 g of NaOH are 4.91 g of KOH, 5.46 g at 90 % and 5.78 g at 85 % (worked by hand)', () => {
    const pure = sameMolesG({ grams: 3.5, from: 'NaOH', to: 'KOH' });
    expect(pure).toBeCloseTo(4.91, 2);
    const weighed = (purityPercent: number) =>
      catalystG({ oilL: 1, molPerL: 0, baseGPerL: pure, catalyst: 'KOH', purityPercent });
    expect(weighed(90)).toBeCloseTo(5.46, 2);
    expect(weighed(85)).toBeCloseTo(5.78, 2);
  });

  test('for fresh oil is 3.5 g of NaOH a litre, for used oil 5 (common practice, no source)', () => {
    expect(BASE_DOSE_G_PER_L).toEqual({ fresh: 3.5, used: 5 });
  });

  test('is a gram more a litre for each millilitre of 0.1 % titrant on 1 mL (the trade’s rule, exact)', () => {
    fc.assert(
      fc.property(
        base,
        number(0, 20),
        number(0, 50),
        number(0.05, 1000),
        (kind, titrantMl, baseGPerL, oilL) => {
          const molPerL = titratedMolPerL({
            titrantMl,
            blankMl: 0,
            titrant: kind,
            gPerL: 1,
            purityPercent: 100,
            sampleMl: 1,
          });
          const grams = catalystG({ oilL, molPerL, baseGPerL, catalyst: kind, purityPercent: 100 });
          expect(grams).toBeCloseTo(oilL * (baseGPerL + titrantMl), 6);
        },
      ),
    );
  });

  test('comes out the same whatever titrant the oil was titrated with', () => {
    fc.assert(
      fc.property(
        number(0, 0.5),
        base,
        number(0.1, 60),
        number(50, 100),
        number(0, 1),
        number(0.5, 30),
        (acidMolPerL, titrant, gPerL, purityPercent, blankMl, sampleMl) => {
          // What a burette shows for such an oil.
          const titrantMolPerMl = (gPerL * purityPercent) / 100 / BASES[titrant].gPerMol / 1000;
          const titrantMl = (acidMolPerL * sampleMl) / 1000 / titrantMolPerMl + blankMl;
          fc.pre(titrantMl <= 10_000);
          const molPerL = titratedMolPerL({ titrantMl, blankMl, titrant, gPerL, purityPercent, sampleMl });
          const dose = (mol: number) =>
            catalystG({ oilL: 100, molPerL: mol, baseGPerL: 3.5, catalyst: 'NaOH', purityPercent: 98 });
          expect(dose(molPerL) / dose(acidMolPerL)).toBeCloseTo(1, 9);
        },
      ),
    );
  });

  test('is not counted twice for its purity where the titrant is made of the same flakes', () => {
    fc.assert(
      fc.property(
        base,
        number(1, 100),
        number(0, 20),
        number(0.1, 10),
        number(0.5, 10),
        (kind, purityPercent, titrantMl, gPerL, sampleMl) => {
          const molPerL = titratedMolPerL({
            titrantMl,
            blankMl: 0,
            titrant: kind,
            gPerL,
            purityPercent,
            sampleMl,
          });
          fc.pre(molPerL <= 5);
          const weighed = catalystG({ oilL: 1, molPerL, baseGPerL: 0, catalyst: kind, purityPercent });
          expect(weighed).toBeCloseTo((titrantMl * gPerL) / sampleMl, 9);
        },
      ),
    );
  });

  test('of NaOH and of KOH for the same oil are the same moles', () => {
    fc.assert(
      fc.property(number(0, 5), number(0, 50), number(1, 100), (molPerL, baseGPerL, purityPercent) => {
        const soda = catalystG({ oilL: 1, molPerL, baseGPerL, catalyst: 'NaOH', purityPercent });
        const potash = catalystG({
          oilL: 1,
          molPerL,
          baseGPerL: sameMolesG({ grams: baseGPerL, from: 'NaOH', to: 'KOH' }),
          catalyst: 'KOH',
          purityPercent,
        });
        expect(potash).toBeCloseTo(sameMolesG({ grams: soda, from: 'NaOH', to: 'KOH' }), 6);
      }),
    );
  });

  test('turns to the other base and back', () => {
    fc.assert(
      fc.property(number(0, 1e8), base, base, (grams, from, to) => {
        const back = sameMolesG({ grams: sameMolesG({ grams, from, to }), from: to, to: from });
        expect(back).toBeCloseTo(grams, 6);
      }),
    );
  });
});

describe('over the whole range', () => {
  test('everything is a number, and more acid is never less catalyst', () => {
    fc.assert(
      fc.property(
        fc.record({
          titrantMl: number(0, 10_000),
          blankMl: number(0, 10_000),
          titrant: base,
          gPerL: number(0.001, 1000),
          purityPercent: number(1, 100),
          sampleMl: number(0.001, 10_000),
        }),
        (args) => {
          const molPerL = titratedMolPerL(args);
          expect(Number.isFinite(molPerL)).toBe(true);
          expect(molPerL).toBeGreaterThanOrEqual(0);
        },
      ),
    );
    fc.assert(
      fc.property(
        fc.record({
          oilL: number(0, 100_000),
          baseGPerL: number(0, 1000),
          catalyst: base,
          purityPercent: number(1, 100),
        }),
        number(0, 5),
        number(0, 5),
        number(0.5, 1.2),
        (args, one, other, oilKgPerL) => {
          const [less, more] = [Math.min(one, other), Math.max(one, other)];
          const grams = catalystG({ ...args, molPerL: more });
          expect(Number.isFinite(grams)).toBe(true);
          expect(catalystG({ ...args, molPerL: less })).toBeLessThanOrEqual(grams);
          const percent = freeFattyAcidPercent({
            acidNumberMgKOHPerG: acidNumberMgKOHPerG({ molPerL: more, oilKgPerL }),
          });
          expect(percent).toBeGreaterThanOrEqual(0);
          expect(Number.isFinite(percent)).toBe(true);
        },
      ),
    );
  });

  const titration = {
    titrantMl: 2.4,
    blankMl: 0,
    titrant: 'NaOH',
    gPerL: 1,
    purityPercent: 98,
    sampleMl: 1,
  } as const;
  const dose = { oilL: 1, molPerL: 0.06, baseGPerL: 3.5, catalyst: 'NaOH', purityPercent: 98 } as const;
  test.for([
    ['titrantMl', () => titratedMolPerL({ ...titration, titrantMl: -0.1 })],
    ['blankMl', () => titratedMolPerL({ ...titration, blankMl: Number.NaN })],
    ['gPerL', () => titratedMolPerL({ ...titration, gPerL: 0 })],
    ['purityPercent', () => titratedMolPerL({ ...titration, purityPercent: 100.1 })],
    ['sampleMl', () => titratedMolPerL({ ...titration, sampleMl: 0 })],
    ['titrant', () => titratedMolPerL({ ...titration, titrant: 'LiOH' as 'KOH' })],
    ['molPerL', () => catalystG({ ...dose, molPerL: 5.1 })],
    ['oilL', () => catalystG({ ...dose, oilL: -1 })],
    ['purityPercent', () => catalystG({ ...dose, purityPercent: 0 })],
    ['oilKgPerL', () => acidNumberMgKOHPerG({ molPerL: 0, oilKgPerL: 0 })],
    ['acidNumberMgKOHPerG', () => freeFattyAcidPercent({ acidNumberMgKOHPerG: -1 })],
    ['to', () => sameMolesG({ grams: 1, from: 'KOH', to: 'X' as 'KOH' })],
    ['freeFattyAcidPercent', () => oilVerdict(-0.1)],
    ['freeFattyAcidPercent', () => oilVerdict(Number.NaN)],
  ] as const)('what is out of it is refused by the name %s', ([field, call]) => {
    expect(refusal(call).field).toBe(field);
  });
});

describe('the verdict on an oil', () => {
  // From 3 %: Kombe et al. 2013, doi 10.4236/aces.2013.34031. From 1 %: common practice, no source.
  test.for([
    [0, 'good'],
    [0.999, 'good'],
    [1, 'more-soap'],
    [2.999, 'more-soap'],
    [3, 'too-acid'],
    [100, 'too-acid'],
  ] as const)('of %d %% free fatty acid is %s', ([percent, verdict]) => {
    expect(oilVerdict(percent)).toBe(verdict);
  });

  test('turns at the limits that are said', () => {
    expect([FREE_FATTY_ACID_NOTE_PERCENT, FREE_FATTY_ACID_HIGH_PERCENT]).toEqual([1, 3]);
  });
});
