import fc from 'fast-check';
import { expect, test } from 'vitest';
import {
  beforeSurge,
  steepestPerMinute,
  surgePerMinute,
  trendBandPerMinute,
  trendPerMinute,
} from '../../shared/engine/trend.ts';

import { gaussian, seededRandom } from '../../simulator/random.ts';

const readings = (count: number, everyMs: number, value: (minutes: number) => number): [number, number][] =>
  Array.from({ length: count }, (_, i) => [i * everyMs, value((i * everyMs) / 60_000)]);

test('an exact line has its slope', () => {
  expect(trendPerMinute(readings(61, 1000, (minutes) => 40 + 0.8 * minutes))).toBeCloseTo(0.8, 9);
  expect(trendPerMinute(readings(61, 1000, (minutes) => 60 - 2 * minutes))).toBeCloseTo(-2, 9);
  expect(trendPerMinute(readings(61, 1000, () => 40))).toBe(0);
});

test('steps of 0.0625 °C, as common digital probes have, hide no slope of 0.12 °C/min and more', () => {
  fc.assert(
    fc.property(
      fc.double({ min: 0.12, max: 3, noNaN: true }),
      fc.double({ min: 20, max: 80, noNaN: true }),
      (perMinute, from) => {
        const quantised = readings(61, 1000, (minutes) => Math.round((from + perMinute * minutes) * 16) / 16);
        // One step of the probe over the span of a minute is all that the rounding can hide.
        expect(Math.abs(trendPerMinute(quantised)! - perMinute)).toBeLessThanOrEqual(0.0625);
      },
    ),
  );
});

test('single wild readings hardly move it', () => {
  const wild = readings(61, 1000, (minutes) => 50 + 0.5 * minutes);
  for (const i of [7, 20, 33, 41, 60]) wild[i]![1] += 30;
  expect(trendPerMinute(wild)).toBeCloseTo(0.5, 1);
});

test('older readings than a minute tell nothing where readings are frequent', () => {
  const bent = readings(181, 1000, (minutes) => (minutes < 2 ? 40 + 3 * minutes : 46));
  expect(trendPerMinute(bent)).toBe(0);
});

test('readings every 30 s reach back to 180 s', () => {
  expect(trendPerMinute(readings(7, 30_000, (minutes) => 40 + 0.4 * minutes))).toBeCloseTo(0.4, 9);
  // Only the last 180 s: what lies before went up steeply.
  const bent = readings(21, 30_000, (minutes) => (minutes < 7 ? 10 * minutes : 70 + 0.2 * (minutes - 7)));
  expect(trendPerMinute(bent)).toBeCloseTo(0.2, 9);
});

test('too few readings or too short a time have no trend', () => {
  expect(trendPerMinute([])).toBeNull();
  expect(trendPerMinute([[0, 40]])).toBeNull();
  expect(trendPerMinute(readings(2, 60_000, (minutes) => 40 + minutes))).toBeNull();
  expect(trendPerMinute(readings(45, 1000, (minutes) => 40 + minutes))).toBeNull();
  expect(trendPerMinute(readings(46, 1000, (minutes) => 40 + minutes))).toBeCloseTo(1, 9);
});

test('many readings are thinned, and have the slope all the same', () => {
  expect(trendPerMinute(readings(6001, 10, (minutes) => 40 + 0.8 * minutes))).toBeCloseTo(0.8, 6);
});

test('readings every 0.2, 1, 10 and 30 s have the same trend', () => {
  for (const everyMs of [200, 1000, 10_000, 30_000]) {
    const line = readings(Math.ceil(200_000 / everyMs), everyMs, (minutes) => 40 + 1.7 * minutes);
    expect(trendPerMinute(line)).toBeCloseTo(1.7, 6);
    expect(surgePerMinute(line)).toBeCloseTo(1.7, 6);
  }
});

test('noise and steps together leave a slope known to 0.15 °C/min', () => {
  fc.assert(
    fc.property(
      fc.array(fc.double({ min: -0.1, max: 0.1, noNaN: true }), { minLength: 61, maxLength: 61 }),
      fc.double({ min: -4, max: 4, noNaN: true }),
      (noise, perMinute) => {
        const noisy = noise.map((c, s): [number, number] => [
          s * 1000,
          Math.round((50 + (perMinute * s) / 60 + c) * 16) / 16,
        ]);
        expect(Math.abs(trendPerMinute(noisy)! - perMinute)).toBeLessThan(0.15);
      },
    ),
  );
});

test('what was read just before a gap counts no more than the rest', () => {
  // Steady but for the last 4 s before a gap of 24 s.
  const gap = readings(61, 1000, () => 50).filter(([t]) => t < 24_000 || t > 48_000);
  for (const one of gap) if (one[0] >= 20_000 && one[0] < 24_000) one[1] = 51;
  expect(trendPerMinute(gap)).toBeCloseTo(0, 9);
});

/** The definition of Theil and Sen: all pairs, sorted, the one in the middle or the mean of the two there. */
function medianSlope(lines: readonly [number, number][]): number {
  const slopes = lines.flatMap(([t, c], i) =>
    lines.slice(0, i).map(([before, was]) => (c - was) / ((t - before) / 60_000)),
  );
  const sorted = slopes.sort((a, b) => a - b);
  const middle = sorted.length / 2;
  return (sorted[Math.ceil(middle) - 1]! + sorted[Math.floor(middle)]!) / 2;
}

test('up to 15 readings have the median slope of all their pairs', () => {
  fc.assert(
    fc.property(
      // Steps of a probe, so that many slopes are equal; as many readings as lie within a minute.
      fc.array(fc.tuple(fc.integer({ min: 4000, max: 6000 }), fc.integer({ min: -3, max: 4 })), {
        minLength: 12,
        maxLength: 40,
      }),
      (steps) => {
        let [t, c] = [0, 50];
        const lines = steps.map(([ms, by]): [number, number] => {
          t += ms;
          c += by / 16;
          return [t, c];
        });
        const lastMinute = lines.filter(([atMs]) => t - atMs <= 60_000);
        expect(trendPerMinute(lines)).toBeCloseTo(medianSlope(lastMinute), 9);
      },
    ),
    { numRuns: 1000 },
  );
});

test('a surge is the slope of the last half minute', () => {
  const bent = readings(121, 1000, (minutes) => 50 + 4 * Math.max(0, minutes - 1.5));
  expect(surgePerMinute(bent)).toBeCloseTo(4, 9);
  expect(trendPerMinute(bent)).toBeLessThan(2);
});

test('a surge needs 3 readings over 30 s, and at most 150 s', () => {
  expect(surgePerMinute(readings(30, 1000, (minutes) => 4 * minutes))).toBeNull();
  expect(surgePerMinute(readings(31, 1000, (minutes) => 4 * minutes))).toBeCloseTo(4, 9);
  expect(surgePerMinute(readings(2, 30_000, (minutes) => 4 * minutes))).toBeNull();
  expect(surgePerMinute(readings(3, 30_000, (minutes) => 4 * minutes))).toBeCloseTo(4, 9);
  expect(surgePerMinute(readings(3, 75_000, (minutes) => 4 * minutes))).toBeCloseTo(4, 9);
  expect(surgePerMinute(readings(3, 76_000, (minutes) => 4 * minutes))).toBeNull();
});

test('before a surge are the three minutes before it', () => {
  const times = (lines: [number, number][]) => beforeSurge(lines).map(([t]) => t / 1000);
  const frequent = times(readings(301, 1000, () => 50));
  expect([frequent[0], frequent.at(-1)]).toEqual([90, 269]);
  expect(times(readings(11, 30_000, () => 50))).toEqual([60, 90, 120, 150, 180, 210]);
  expect(times(readings(31, 1000, () => 50))).toEqual([]);
});

test.each([
  [61, 1000],
  [61, 3000],
  [13, 5000],
])(
  'of %i readings every %i ms with independent noise the band holds the true slope nine times in ten',
  (count, everyMs) => {
    // 90 % by its definition; ± 4 standard deviations of what 2,000 draws show.
    const random = seededRandom(7, 'band');
    const draws = 2000;
    let held = 0;
    for (let i = 0; i < draws; i++) {
      const noisy = readings(count, everyMs, (minutes) => 50 + 0.6 * minutes + 0.05 * gaussian(random));
      const { low, value, high } = trendBandPerMinute(noisy)!;
      expect(low <= value && value <= high).toBe(true);
      if (low <= 0.6 && 0.6 <= high) held++;
    }
    expect(Math.abs(held / draws - 0.9)).toBeLessThan(4 * Math.sqrt((0.9 * 0.1) / draws));
  },
);

test('the band has the trend in it, and is one with it where readings lie on a line', () => {
  expect(trendBandPerMinute(readings(61, 1000, (minutes) => 40 + 2 * minutes))).toEqual({
    low: expect.closeTo(2, 9),
    value: expect.closeTo(2, 9),
    high: expect.closeTo(2, 9),
  });
  expect(trendBandPerMinute(readings(2, 30_000, () => 40))).toBeNull();
});

test('no trend is steeper than the steepest from one to the next, and where there is none there is neither', () => {
  fc.assert(
    fc.property(
      fc.array(fc.tuple(fc.integer({ min: 1, max: 20_000 }), fc.integer({ min: -400, max: 400 })), {
        maxLength: 90,
      }),
      (steps) => {
        let atMs = 0;
        const irregular = steps.map(([gapMs, sixteenths]): [number, number] => {
          atMs += gapMs;
          return [atMs, 50 + sixteenths / 16];
        });
        const trend = trendPerMinute(irregular);
        const steepest = steepestPerMinute(irregular);
        expect(steepest === null).toBe(trend === null);
        if (trend !== null) expect(trend).toBeLessThanOrEqual(steepest! + 1e-9 * Math.abs(steepest!));
      },
    ),
  );
});
