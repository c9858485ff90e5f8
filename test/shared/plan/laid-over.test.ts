import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import { computePlan } from '../../../shared/plan/compute.ts';
import { forAnotherVessel, laidOver } from '../../../shared/plan/laid-over.ts';
import type { PlanRequest } from '../../../shared/plan/request.ts';

const JAR: PlanRequest = {
  oil: { volumeL: 1, kind: 'used', waterPpm: 300, titration: { mL: 2, titrant: 'KOH' } },
  catalyst: { kind: 'KOH', grams: 9.5 },
  vessel: { liquidHeightM: 0.12 },
  watch: { mixingStated: true, requiredReactionMinutes: 30 },
};

describe('a request laid over an earlier one', () => {
  test('of a litre as of a hundred: the oil stays what it is, the grams go with it, the height does not', () => {
    expect(laidOver(JAR, { oil: { volumeL: 100 } })).toEqual({
      oil: { ...JAR.oil, volumeL: 100 },
      catalyst: { kind: 'KOH', grams: 950 },
      watch: JAR.watch,
    });
  });

  test('a section stands for the whole earlier one; of the oil each field for itself', () => {
    const over: PlanRequest = { oil: { waterPpm: null }, catalyst: { kind: 'NaOH' }, vessel: {} };
    expect(laidOver(JAR, over)).toEqual({
      ...JAR,
      oil: { ...JAR.oil, waterPpm: null },
      catalyst: { kind: 'NaOH' },
      vessel: {},
    });
  });

  test('what is said of catalyst or height is not scaled', () => {
    const over: PlanRequest = {
      oil: { volumeL: 10 },
      catalyst: { grams: 90 },
      vessel: { liquidHeightM: 0.3 },
    };
    expect(laidOver(JAR, over)).toMatchObject({
      catalyst: { grams: 90 },
      vessel: { liquidHeightM: 0.3 },
    });
  });

  test('a volume that nobody said is the usual 100 L', () => {
    expect(laidOver({ catalyst: { grams: 700 } }, { oil: { volumeL: 50 } }).catalyst).toEqual({ grams: 350 });
    expect(laidOver({ catalyst: { grams: null } }, { oil: { volumeL: 50 } }).catalyst).toEqual({
      grams: null,
    });
  });

  test('nothing laid over changes nothing', () => {
    expect(laidOver(JAR, {})).toEqual(JAR);
    expect(laidOver({}, {})).toEqual({});
  });

  test('to any scale a plan has the same amounts a litre', () => {
    const litres = fc.double({ min: 0.1, max: 1000, noNaN: true });
    const grams = fc.option(fc.double({ min: 1, max: 15, noNaN: true }), { nil: null });
    fc.assert(
      fc.property(litres, litres, grams, (from, to, gPerL) => {
        const earlier: PlanRequest = {
          oil: { ...JAR.oil, volumeL: from },
          catalyst: { kind: 'KOH', grams: gPerL && gPerL * from },
        };
        const [a, b] = [computePlan(earlier), computePlan(laidOver(earlier, { oil: { volumeL: to } }))];
        for (const field of ['catalystG', 'methanolL', 'oilKg'] as const)
          expect(b[field] / to / (a[field] / from)).toBeCloseTo(1, 9);
        expect(b.catalystPercentOfOilMass).toBeCloseTo(a.catalystPercentOfOilMass, 9);
      }),
    );
  });
});

test('for another vessel: neither how high it stands nor that it is seen to mix', () => {
  expect(forAnotherVessel(JAR)).toEqual({
    oil: JAR.oil,
    catalyst: JAR.catalyst,
    watch: { requiredReactionMinutes: 30 },
  });
  expect(forAnotherVessel({ oil: { volumeL: 1 } })).toEqual({ oil: { volumeL: 1 } });
});
