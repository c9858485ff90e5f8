import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import {
  type Columns,
  columnsOf,
  drawable,
  faultOf,
  fold,
  gapAfterMs,
  lastNotAfter,
  type Reading,
  since,
  summary,
  switchStretches,
  valueAt,
  valueRange,
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
    expect(faultOf({ ...good, min: [1, 4] })).toBe('least-above-most');
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

/** One channel drawn alone. */
const drawn = (columns: Columns) => {
  const { t, lines } = drawable([{ columns, gapMs: gapAfterMs(columns.t, columns.stepMs) }]);
  return { t, ...lines[0]! };
};

describe('gaps', () => {
  const everySecond = (from: number, count: number): [number, number, number, number][] =>
    Array.from({ length: count }, (_, i) => [from + i * 1000, 1, 1, 1]);

  it('breaks the line once in each silence, in its middle', () => {
    const columns = fetched(1000, [...everySecond(0, 30), ...everySecond(90_000, 30)]);
    const line = drawn(columns);
    const holes = line.mean.flatMap((value, i) => (value === null ? [line.t[i]! - T0] : []));
    expect(holes).toEqual([59_500]);
    expect(line.min[30]).toBeNull();
    expect(line.max[30]).toBeNull();
  });

  it('does not break it for 15 s, from where on a reading is late', () => {
    const columns = fetched(1000, [...everySecond(0, 30), ...everySecond(44_000, 30)]);
    expect(drawn(columns).mean).not.toContain(null);
  });

  it('does not break a line that is typed in every ten minutes', () => {
    const columns = fetched(
      1000,
      [0, 600, 1180, 1810].map((s) => [s * 1000, 1, 1, 1]),
    );
    expect(drawn(columns).mean).not.toContain(null);
  });

  it('keeps times ascending and every value', () => {
    fc.assert(
      fc.property(readings, (some) => {
        const columns = fold(empty(1), some);
        const line = drawn(columns);
        expect(line.mean.filter((value) => value !== null)).toEqual(columns.mean);
        line.t.slice(1).forEach((t, i) => {
          expect(t).toBeGreaterThan(line.t[i]!);
        });
      }),
    );
  });
});

describe('several channels on one row of times', () => {
  it('keeps each line as it is alone: nothing is lost, nothing joined across a gap', () => {
    fc.assert(
      fc.property(readings, readings, (one, other) => {
        const all = [fold(empty(1), one), fold(empty(1), other)];
        const series = all.map((columns) => ({ columns, gapMs: gapAfterMs(columns.t) }));
        const { t, lines } = drawable(series);
        expect(t).toEqual([...new Set(t)].sort((a, b) => a - b));
        lines.forEach((line, i) => {
          const alone = drawn(all[i]!);
          for (const part of ['min', 'mean', 'max'] as const) {
            expect(line[part].filter((value) => value !== undefined)).toEqual(alone[part]);
          }
          expect(t.filter((_, row) => line.mean[row] !== undefined)).toEqual(alone.t);
        });
      }),
    );
  });

  it('are in the unit of the reader', () => {
    const columns = fetched(1000, [[0, 0, 10, 100]]);
    const { lines } = drawable([{ columns, gapMs: 1e4 }], (celsius) => celsius * 1.8 + 32);
    expect(lines).toMatchObject([{ min: [32], mean: [50], max: [212] }]);
  });
});

describe('single readings', () => {
  it('of one moment are one row that holds both, and all are fit to draw', () => {
    const columns = columnsOf({ t: [T0, T0 + 5, T0 + 5, T0 + 5, T0 + 9], value: [1, 4, 1, 7, 2] });
    expect(columns).toEqual({
      t: [T0, T0 + 5, T0 + 9],
      min: [1, 1, 2],
      mean: [1, 4, 2],
      max: [1, 7, 2],
      live: [0, 0, 0],
      stepMs: 0,
    });
    expect(faultOf(columns)).toBeUndefined();
  });

  it('that come live and are there already change nothing', () => {
    fc.assert(
      fc.property(readings, (some) => {
        const once = fold(empty(0), some);
        const again = fold(once, some);
        expect([again.t, again.min, again.max]).toEqual([once.t, once.min, once.max]);
      }),
    );
  });
});

describe('a live reading in buckets', () => {
  it('begins its bucket where the store will', () => {
    const columns = fold(fetched(60_000, [[0, 1, 1, 1]]), [{ t: T0 + 60_000 + 17_345, value: 2 }]);
    expect(columns.t).toEqual([T0, T0 + 60_000]);
  });
});

describe('a switch', () => {
  it('is on from a reading to the next, and a gap is nothing', () => {
    const at = (s: number, value: number): [number, number, number, number] => [
      s * 1000,
      value,
      value,
      value,
    ];
    const columns = fetched(0, [at(0, 0), at(5, 1), at(10, 1), at(15, 0), at(20, 1), at(500, 1)]);
    expect(switchStretches(columns, 15_000)).toEqual([
      { fromMs: T0, toMs: T0 + 5000, share: 0 },
      { fromMs: T0 + 5000, toMs: T0 + 15_000, share: 1 },
      { fromMs: T0 + 15_000, toMs: T0 + 20_000, share: 0 },
      { fromMs: T0 + 20_000, toMs: T0 + 21_000, share: 1 },
      { fromMs: T0 + 500_000, toMs: T0 + 501_000, share: 1 },
    ]);
  });

  it('that was on for a moment of a bucket is seen, by how much', () => {
    const columns = fetched(60_000, [
      [0, 0, 0.02, 1],
      [60_000, 0, 0, 0],
    ]);
    expect(switchStretches(columns, 150_000)).toEqual([
      { fromMs: T0, toMs: T0 + 60_000, share: 0.02 },
      { fromMs: T0 + 60_000, toMs: T0 + 120_000, share: 0 },
    ]);
  });
});

describe('what a channel said at a moment', () => {
  const columns = fetched(0, [
    [0, 1, 1, 1],
    [1000, 2, 2, 2],
    [60_000, 3, 3, 3],
  ]);
  it('is the nearest single reading, and nothing in a gap', () => {
    expect(valueAt(columns, T0 + 400, 15_000)?.mean).toBe(1);
    expect(valueAt(columns, T0 + 600, 15_000)?.mean).toBe(2);
    expect(valueAt(columns, T0 + 30_000, 15_000)).toBeUndefined();
    expect(valueAt(columns, T0 + 59_000, 15_000)?.mean).toBe(3);
    expect(valueAt(empty(0), T0, 15_000)).toBeUndefined();
  });

  it('is the bucket that it lies in, however near the next one is', () => {
    const buckets = fetched(60_000, [
      [0, 1, 2, 3],
      [60_000, 4, 5, 6],
    ]);
    expect(valueAt(buckets, T0 + 59_999, 1)).toEqual({ t: T0, min: 1, mean: 2, max: 3 });
    expect(valueAt(buckets, T0 - 1, 1e9)).toBeUndefined();
  });
});

describe('ranges', () => {
  it('leave what is out of range, and what is not shown, beside', () => {
    const columns = fetched(1000, [
      [0, 20, 20, 20],
      [1000, -127, -127, -127],
      [2000, 21, 21, 21],
      [9000, 90, 90, 90],
      [10_000, 91, 91, 91],
    ]);
    const fits = (value: number) => value > -20;
    const { min, max } = valueRange([columns], [], 1, { fromMs: T0, toMs: T0 + 2000, fits });
    expect(min).toBeGreaterThan(-20);
    expect(max).toBeGreaterThan(90);
    expect(max).toBeLessThan(140);
    expect(valueRange([columns], [], 1, { fromMs: T0, toMs: T0 + 1999, fits }).max).toBeLessThan(30);
  });

  it('of what is never below zero begin there, where they come near it', () => {
    const stirrer = (...speeds: number[]) =>
      valueRange(
        [
          fetched(
            0,
            speeds.map((speed, i) => [i * 1000, speed, speed, speed]),
          ),
        ],
        [],
        50,
        {
          fromZero: true,
        },
      );
    for (const range of [stirrer(0, 0), stirrer(0, 300), stirrer(12)]) {
      expect(range.min).toBeLessThanOrEqual(0);
      expect(range.min).toBeGreaterThan(-0.05 * range.max);
      expect(range.max).toBeGreaterThanOrEqual(50);
    }
    expect(stirrer(280, 300).min).toBeGreaterThan(200);
  });

  it('sum up what lies in a stretch of time alone', () => {
    const columns = fetched(0, [
      [0, 1, 1, 1],
      [1000, 7, 7, 7],
      [2000, 3, 3, 3],
    ]);
    expect(summary(columns, T0 + 500, T0 + 2000)).toEqual({ least: 3, most: 7, last: 3 });
    expect(summary(columns, T0 + 5000)).toBeUndefined();
  });

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
        const range = valueRange([columns], [boiling], 6);
        for (const value of [...columns.min, ...columns.max, boiling]) {
          expect(value).toBeGreaterThan(range.min);
          expect(value).toBeLessThan(range.max);
        }
        expect(range.max - range.min).toBeGreaterThanOrEqual(6);
      }),
    );
  });

  it('has a range for nothing at all', () => {
    expect(valueRange([empty(1000)], [], 6)).toEqual({ min: 0, max: 6 });
    expect(summary(empty(1000))).toBeUndefined();
  });
});
