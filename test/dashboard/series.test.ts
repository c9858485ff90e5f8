import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import {
  type Columns,
  faultOf,
  fold,
  gapAfterMs,
  lastNotAfter,
  type Reading,
  since,
  summary,
  valueRange,
  withGaps,
} from '../../dashboard/chart/series.ts';

const T0 = Date.UTC(2026, 2, 2, 10, 0, 0);

const fetched = (stepMs: number, rows: [t: number, min: number, mean: number, max: number][]): Columns => ({
  t: rows.map(([t]) => T0 + t),
  min: rows.map(([, min]) => min),
  mean: rows.map(([, , mean]) => mean),
  max: rows.map(([, , , max]) => max),
  live: rows.map(() => 0),
  stepMs,
});

const empty = (stepMs: number): Columns => fetched(stepMs, []);

const readings = fc.array(
  fc.record({
    t: fc.integer({ min: 0, max: 600_000 }).map((t) => T0 + t),
    value: fc.double({ min: -20, max: 200, noNaN: true }),
  }),
  { maxLength: 200 },
);
const steps = fc.integer({ min: 1, max: 60_000 });

describe('columns that are fit to draw', () => {
  it('finds what is wrong with columns', () => {
    const good = fetched(1000, [
      [0, 1, 2, 3],
      [1000, 1, 2, 3],
    ]);
    expect(faultOf(good)).toBeUndefined();
    expect(faultOf({ ...good, max: [3] })).toBe('unequal-lengths');
    expect(faultOf({ ...good, mean: [2, Number.NaN] })).toBe('not-finite');
    expect(faultOf({ ...good, t: [T0, T0] })).toBe('not-ascending');
    expect(faultOf({ ...good, t: [T0 + 1, T0] })).toBe('not-ascending');
  });

  it('are what folding makes, whatever order readings come in', () => {
    fc.assert(
      fc.property(readings, steps, (some, stepMs) => {
        expect(faultOf(fold(empty(stepMs), some))).toBeUndefined();
      }),
    );
  });
});

describe('fold', () => {
  it('loses no extreme', () => {
    fc.assert(
      fc.property(readings, steps, (some, stepMs) => {
        fc.pre(some.length > 0);
        const said = summary(fold(empty(stepMs), some))!;
        expect(said.least).toBe(Math.min(...some.map(({ value }) => value)));
        expect(said.most).toBe(Math.max(...some.map(({ value }) => value)));
      }),
    );
  });

  it('keeps every mean between its extremes', () => {
    fc.assert(
      fc.property(readings, steps, (some, stepMs) => {
        const { min, mean, max } = fold(empty(stepMs), some);
        mean.forEach((value, i) => {
          expect(value).toBeGreaterThanOrEqual(min[i]! - 1e-9);
          expect(value).toBeLessThanOrEqual(max[i]! + 1e-9);
        });
      }),
    );
  });

  it('gives the same in one go as one by one', () => {
    fc.assert(
      fc.property(readings, steps, (some, stepMs) => {
        const oneByOne = some.reduce((columns, reading) => fold(columns, [reading]), empty(stepMs));
        expect(fold(empty(stepMs), some)).toEqual(oneByOne);
      }),
    );
  });

  it('widens a fetched bucket and leaves its mean, which counts readings that are not here', () => {
    const columns = fold(fetched(10_000, [[0, 54, 54.5, 55]]), [{ t: T0 + 9999, value: 61 }]);
    expect(columns).toMatchObject({ t: [T0], min: [54], mean: [54.5], max: [61] });
  });

  it('changes nothing by a reading that the fetched bucket has in already', () => {
    const before = fetched(1000, [[0, 54.2, 54.2, 54.2]]);
    expect(fold(before, [{ t: T0, value: 54.2 }])).toEqual(before);
  });

  it('begins a bucket after the last and averages what falls into it', () => {
    const columns = fold(fetched(10_000, [[0, 54, 54, 54]]), [
      { t: T0 + 10_000, value: 50 },
      { t: T0 + 12_000, value: 53 },
    ]);
    expect(columns.t).toEqual([T0, T0 + 10_000]);
    expect(columns.mean[1]).toBe(51.5);
  });

  it('puts a late reading where it belongs in time', () => {
    const columns = fold(
      fetched(1000, [
        [0, 1, 1, 1],
        [60_000, 3, 3, 3],
      ]),
      [{ t: T0 + 30_000, value: 2 }],
    );
    expect(columns.mean).toEqual([1, 2, 3]);
  });

  it('takes in no reading without a finite value or time', () => {
    const bad: Reading[] = [
      { t: T0, value: Number.NaN },
      { t: Number.NaN, value: 1 },
      { t: T0, value: Number.POSITIVE_INFINITY },
    ];
    expect(fold(empty(1000), bad).t).toEqual([]);
  });

  it('leaves the columns it was given as they were', () => {
    const before = fetched(10_000, [[0, 54, 54, 54]]);
    const copy = structuredClone(before);
    fold(before, [
      { t: T0 + 1, value: 60 },
      { t: T0 - 50_000, value: 1 },
    ]);
    expect(before).toEqual(copy);
  });
});

describe('gaps', () => {
  const everySecond = (from: number, count: number): [number, number, number, number][] =>
    Array.from({ length: count }, (_, i) => [from + i * 1000, 1, 1, 1]);

  it('breaks the line once in each silence, in its middle', () => {
    const columns = fetched(1000, [...everySecond(0, 30), ...everySecond(90_000, 30)]);
    const drawn = withGaps(columns, gapAfterMs(columns.t));
    const holes = drawn.mean.flatMap((value, i) => (value === null ? [drawn.t[i]! - T0] : []));
    expect(holes).toEqual([59_500]);
    expect(drawn.min[30]).toBeNull();
    expect(drawn.max[30]).toBeNull();
  });

  it('does not break it for 15 s, from where on a reading is late', () => {
    const columns = fetched(1000, [...everySecond(0, 30), ...everySecond(44_000, 30)]);
    expect(withGaps(columns, gapAfterMs(columns.t)).mean).not.toContain(null);
  });

  it('does not break a line that is typed in every ten minutes', () => {
    const columns = fetched(
      1000,
      [0, 600, 1180, 1810].map((s) => [s * 1000, 1, 1, 1]),
    );
    expect(withGaps(columns, gapAfterMs(columns.t)).mean).not.toContain(null);
  });

  it('keeps times ascending and every value', () => {
    fc.assert(
      fc.property(readings, (some) => {
        const columns = fold(empty(1), some);
        const drawn = withGaps(columns, gapAfterMs(columns.t));
        expect(drawn.mean.filter((value) => value !== null)).toEqual(columns.mean);
        drawn.t.slice(1).forEach((t, i) => {
          expect(t).toBeGreaterThan(drawn.t[i]!);
        });
      }),
    );
  });
});

describe('ranges', () => {
  it('finds the last element that is not after a time, as a plain search does', () => {
    fc.assert(
      fc.property(
        fc.uniqueArray(fc.integer({ min: 0, max: 100 })).map((a) => a.sort((x, y) => x - y)),
        fc.integer({ min: -5, max: 105 }),
        (times, t) => {
          expect(lastNotAfter(times, t)).toBe(times.filter((each) => each <= t).length - 1);
        },
      ),
    );
  });

  it('forgets what lies before a time and nothing at it', () => {
    const columns = fetched(1000, [
      [0, 1, 1, 1],
      [1000, 2, 2, 2],
      [2000, 3, 3, 3],
    ]);
    expect(since(columns, T0 + 1000).mean).toEqual([2, 3]);
    expect(since(columns, T0).mean).toEqual([1, 2, 3]);
    expect(since(columns, T0 + 9000).t).toEqual([]);
  });

  it('holds all values and marks, and never less than the least span', () => {
    fc.assert(
      fc.property(readings, fc.double({ min: 40, max: 70, noNaN: true }), (some, boiling) => {
        const columns = fold(empty(1000), some);
        const range = valueRange(columns, [boiling], 6);
        for (const value of [...columns.min, ...columns.max, boiling]) {
          expect(value).toBeGreaterThan(range.min);
          expect(value).toBeLessThan(range.max);
        }
        expect(range.max - range.min).toBeGreaterThanOrEqual(6);
      }),
    );
  });

  it('has a range for nothing at all', () => {
    expect(valueRange(empty(1000), [], 6)).toEqual({ min: 0, max: 6 });
    expect(summary(empty(1000))).toBeUndefined();
  });
});
