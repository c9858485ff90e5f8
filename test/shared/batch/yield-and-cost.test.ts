import fc from 'fast-check';
import { expect, onTestFinished, test, vi } from 'vitest';
import { amountsOf } from '../../../shared/batch/amounts.ts';
import { costOf } from '../../../shared/batch/cost.ts';
import { handedOutL, measuredFuelL, yearsOf } from '../../../shared/batch/fuel.ts';
import { yieldOf } from '../../../shared/batch/yield.ts';
import { costSchema, yieldSchema } from '../../../shared/wire/balance.ts';
import type { Batch } from '../../../shared/wire/batch.ts';
import { batchOf, handedOut, hour, volume, wash, weighing } from './noted.ts';

const yieldAmong = (batch: Batch, ofSite: Batch[] = []) =>
  yieldSchema.strict().parse(yieldOf(batch, amountsOf(batch), ofSite));

/** One that was finished, opened in an hour, of 100 L of oil. */
const finished = (fuelL: number | null, openedHour: number): Batch => ({
  ...batchOf(['finished'], [volume('oil', 100), ...(fuelL === null ? [] : [volume('fuel', fuelL)])]),
  id: `h${openedHour}`,
  opened: hour(openedHour),
});

test('a yield is fuel by oil, in litres and in kg, beside the plan', () => {
  const batch = batchOf(
    [],
    [volume('oil', 100), weighing('oil', 92), weighing('fuel', 84), volume('fuel', 95)],
  );
  const { fuelL, fuelLLow, fuelLHigh } = batch.computed!;
  expect(yieldAmong(batch)).toMatchObject({
    litresPerLitre: 0.95,
    kgPerKg: 84 / 92,
    planned: {
      fuel: 'crude',
      litres: fuelL,
      litresLow: fuelLLow,
      litresHigh: fuelLHigh,
      percent: (100 * 95) / fuelL,
    },
  });
});

test('beside the plan it lies below, within or above, by the bounds; washed beside washed', () => {
  const { computed } = batchOf([], []);
  const at = (litres: number, ...more: ReturnType<typeof wash>[]) =>
    yieldAmong(batchOf([], [volume('fuel', litres), ...more])).planned;
  expect(at(computed!.fuelLLow - 0.01)).toMatchObject({ lies: 'below' });
  expect(at(computed!.fuelLLow)).toMatchObject({ lies: 'within' });
  expect(at(computed!.fuelLHigh)).toMatchObject({ lies: 'within' });
  expect(at(computed!.fuelLHigh + 0.01)).toMatchObject({ lies: 'above' });
  expect(at(computed!.washedFuelL, wash(30))).toMatchObject({ fuel: 'washed', lies: 'within' });
  expect(yieldAmong(batchOf([], []))).toMatchObject({
    litresPerLitre: null,
    kgPerKg: null,
    planned: { percent: null, lies: null },
  });
});

test('the ten finished before it say what is usual; those that do not know their fuel are only counted', () => {
  const now = finished(93, 50);
  // 2 and 1 are the eleventh and twelfth before; one opened later, one rejected and itself do not count.
  const ofSite = [
    ...[10, 20, 90, 91, 92, 93, 94, 95, 96, 97, 98].map((fuelL, i) => finished(fuelL, i + 1)),
    finished(null, 12),
    finished(1, 60),
    { ...finished(1, 49), stage: 'rejected' as const },
    now,
  ];
  const expected = { finished: 10, known: 9, median: 0.94, least: 0.9, most: 0.98 };
  expect(yieldAmong(now, ofSite).earlier).toEqual(expected);
  expect(yieldAmong(now, ofSite.toReversed()).earlier).toEqual(expected);
  expect(yieldAmong(now, [finished(90, 1), finished(96, 2)]).earlier.median).toBeCloseTo(0.93, 12);
  expect(yieldAmong(now).earlier).toEqual({ finished: 0, known: 0, median: null, least: null, most: null });
});

test('a litre costs what went in, by the litres that came out', () => {
  const amounts = amountsOf(
    batchOf([], [volume('oil', 100), volume('methanol', 20), weighing('catalyst', 0.8), volume('fuel', 90)]),
  );
  const prices = { oilPerL: 0.5, methanolPerL: 1.2, catalystPerKg: 5 };
  expect(costSchema.strict().parse(costOf(amounts, prices))).toEqual({
    perL: 78 / 90,
    total: 78,
    missing: [],
    says: [
      'oil: 100 L · 0.5 = 50',
      'methanol: 20 L · 1.2 = 24',
      'catalyst: 0.8 kg · 5 = 4',
      'together: 78',
      'per litre: 78 / 90 L = 0.867',
    ],
  });
  // Oil may be had for nothing: that is a price, too.
  expect(costOf(amounts, { ...prices, oilPerL: 0 }).perL).toBe(28 / 90);
});

test('a cost without one of its numbers is null and names it', () => {
  const amounts = amountsOf(batchOf([], []));
  expect(costOf(amounts, { methanolPerL: 1 })).toMatchObject({
    perL: null,
    total: null,
    missing: ['oilPerL', 'catalystPerKg', 'fuel'],
  });
  const older = amountsOf(batchOf([], [volume('fuel', 90)], { computed: null }));
  expect(costOf(older, { oilPerL: 1, methanolPerL: 1, catalystPerKg: 1 })).toMatchObject({
    perL: null,
    missing: ['oil', 'methanol', 'catalyst'],
  });
});

test('what there is to hand out is known by volume only, and of what stands', () => {
  expect(measuredFuelL(batchOf([], [weighing('fuel', 80)]))).toBeNull();
  expect(measuredFuelL(batchOf([], [weighing('fuel', 80), volume('fuel', 90)]))).toBe(90);
  const batch = batchOf(
    [],
    [handedOut('used', 5), handedOut('given-away', 7), { what: handedOut('used', 4), corrects: 1 }],
  );
  expect(handedOutL(batch)).toBe(11);
});

const went = (litres: number, undone: boolean): Batch['wentInto'][number] => ({
  batch: 'b2',
  name: 'Again',
  draw: 'b2-d1',
  litres,
  kg: null,
  at: hour(101),
  by: 'Ida',
  undone: undone ? { reason: 'other can', by: 'Uwe', at: hour(102) } : null,
});

test('fuel that another batch drew is neither made nor left to hand out', () => {
  const made = finished(80.3, 1);
  const drawn = { ...made, wentInto: [went(60.1, false), went(10, true), went(20, false)] };
  expect(measuredFuelL(drawn)).toBe(0.2);
  expect(yearsOf([drawn])[0]).toMatchObject({ madeL: 0.2, finished: 1, finishedWithoutFuel: 0 });
  // Made again of it, it is counted there, once.
  expect(yearsOf([drawn, finished(70, 2)])[0]!.madeL).toBe(70.2);
  const all = { ...made, wentInto: [went(81, false)] };
  expect([measuredFuelL(all), yearsOf([all])[0]!.madeL]).toEqual([0, 0]);
  expect(measuredFuelL({ ...finished(null, 1), wentInto: [went(1, false)] })).toBeNull();
});

test('sums of tenths are tenths', () => {
  const notes = [0.1, 0.2].flatMap((litres) => [handedOut('used', litres), handedOut('given-away', litres)]);
  const years = yearsOf([batchOf([], notes), finished(0.1, 1), finished(0.2, 2)]);
  expect(years).toMatchObject([{ madeL: 0.3, usedL: 0.3, givenAwayL: 0.3 }]);
  expect(handedOutL(batchOf([], notes))).toBe(0.6);
});

test('years are those of UTC, a correction in the year of what it corrects', () => {
  vi.stubEnv('TZ', 'Pacific/Auckland');
  onTestFinished(() => void vi.unstubAllEnvs());
  const newYear = Date.UTC(2027, 0, 1);
  const hourOf = (ms: number) => (ms - Date.parse(hour(0))) / 3_600_000;
  const ended = (stage: 'finished' | 'rejected' | 'void', ms: number, fuelL?: number): Batch => ({
    ...batchOf([], fuelL === undefined ? [] : [volume('fuel', fuelL)]),
    stage,
    stages: [
      {
        stage,
        vessel: 'r1',
        at: new Date(ms).toISOString(),
        by: 'Ida',
        deviation: null,
        seen: [],
        unseen: [],
        reason: null,
      },
    ],
  });
  const handing = batchOf(
    [],
    [
      { what: handedOut('used', 5), hour: hourOf(newYear) - 0.001 },
      { what: handedOut('given-away', 7), hour: hourOf(newYear) },
      { what: handedOut('used', 6), hour: hourOf(newYear) + 10, corrects: 1 },
    ],
  );
  const none = {
    madeL: 0,
    usedL: 0,
    givenAwayL: 0,
    finished: 0,
    rejected: 0,
    void: 0,
    finishedWithoutFuel: 0,
  };
  expect(
    yearsOf([
      ended('finished', newYear, 80),
      ended('finished', newYear - 1, 90),
      ended('finished', newYear - 1),
      ended('rejected', newYear, 70),
      ended('void', newYear + 1),
      handing,
    ]),
  ).toEqual([
    { ...none, year: 2026, madeL: 90, usedL: 6, finished: 2, finishedWithoutFuel: 1 },
    { ...none, year: 2027, madeL: 80, givenAwayL: 7, finished: 1, rejected: 1, void: 1 },
  ]);
  expect(yearsOf([])).toEqual([]);
});

test('no sum of what is handed out depends on the order', () => {
  fc.assert(
    fc.property(fc.array(fc.integer({ min: 1, max: 99 }), { maxLength: 8 }), (litres) => {
      const [there, back] = [litres, litres.toReversed()].map((all) =>
        yearsOf([
          batchOf(
            [],
            all.map((one) => handedOut('used', one)),
          ),
        ]),
      );
      expect(there).toEqual(back);
      expect(there![0]?.usedL ?? 0).toBe(litres.reduce((a, b) => a + b, 0));
    }),
  );
});
