import fc from 'fast-check';
import { expect, test } from 'vitest';
import { trendPerMinute } from '../../shared/engine/trend.ts';

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
