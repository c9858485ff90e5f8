import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import { waterBoilingC } from '../../../shared/chemistry/water.ts';
import {
  correctedC,
  type KnownPoints,
  LARGEST_ERROR_C,
  pointOf,
  sentC,
} from '../../../shared/thermometer/correction.ts';

/** A decimal number from text, as devices send them, with so many decimals at most. */
const decimal = (least: number, most: number, decimals: number) =>
  fc
    .tuple(fc.double({ min: least, max: most, noNaN: true }), fc.integer({ min: 0, max: decimals }))
    .map(([value, digits]) => Number(value.toFixed(digits)) + 0);
const error = decimal(-LARGEST_ERROR_C, LARGEST_ERROR_C, 4);
const boilingPoint = fc
  .double({ min: 450, max: 1100, noNaN: true })
  .map((pressureHPa) => pointOf(0, waterBoilingC({ pressureHPa }), null).trueC);
const found: fc.Arbitrary<KnownPoints> = fc
  .tuple(error, error, boilingPoint, fc.constantFrom('ice', 'boiling', 'both'))
  .map(([ice, boiling, trueC, which]): KnownPoints => {
    const low = { sentC: ice, trueC: 0 };
    const high = { sentC: trueC + boiling, trueC };
    return which === 'both' ? [low, high] : [which === 'ice' ? low : high];
  });

describe('a correction', () => {
  test('gives what was true at each point, to the last digit', () => {
    fc.assert(
      fc.property(found, (points) => {
        for (const point of points) expect(correctedC(points, point.sentC)).toBe(point.trueC);
      }),
    );
  });

  test('does not fall where what is sent rises, near and far', () => {
    const step = fc.oneof(fc.double({ min: 0, max: 100, noNaN: true }), fc.constantFrom(1e-15, 1e-12, 1e-9));
    fc.assert(
      fc.property(found, decimal(-50, 200, 6), step, (points, low, by) => {
        // What says that there is no temperature stays, whatever lies beside it.
        fc.pre(![85, -127].includes(low) && ![85, -127].includes(low + by));
        expect(correctedC(points, low + by)).toBeGreaterThanOrEqual(correctedC(points, low));
      }),
    );
  });

  test('is taken back exactly for whatever six decimals can say', () => {
    fc.assert(
      fc.property(found, decimal(-1000, 1000, 6), (points, sent) => {
        expect(sentC(points, correctedC(points, sent))).toBe(sent);
      }),
      { numRuns: 1000 },
    );
  });

  test('is taken back to a millionth for any other temperature, as of a probe that says °F', () => {
    fc.assert(
      fc.property(found, fc.double({ min: -50, max: 250, noNaN: true }), (points, sent) => {
        expect(Math.abs(sentC(points, correctedC(points, sent)) - sent)).toBeLessThan(1e-6);
      }),
    );
  });

  test('of one point is the same everywhere, of two goes along a line', () => {
    expect(correctedC([{ sentC: 0.5, trueC: 0 }], 60.5)).toBe(60);
    const both: KnownPoints = [
      { sentC: 1, trueC: 0 },
      { sentC: 97, trueC: 96 },
    ];
    expect(correctedC(both, 49)).toBe(48);
    const steep: KnownPoints = [
      { sentC: -1, trueC: 0 },
      { sentC: 99, trueC: 98 },
    ];
    expect(correctedC(steep, 49)).toBeCloseTo(49, 12);
  });

  test.for([85, -127])('leaves %d, which is no temperature, and makes none of what is one', (none) => {
    const points: KnownPoints = [{ sentC: -0.5, trueC: 0 }];
    expect(correctedC(points, none)).toBe(none);
    expect(sentC(points, none)).toBe(none);
    const near = correctedC(points, none - 0.5);
    expect(near).not.toBe(none);
    expect(near).toBeCloseTo(none, 6);
    expect(sentC(points, near)).toBe(none - 0.5);
  });

  test.for([1e300, -1e300, Number.MAX_VALUE, -Number.MAX_VALUE])('leaves %d', (sent) => {
    const points: KnownPoints = [
      { sentC: 5, trueC: 0 },
      { sentC: 95, trueC: 100 },
    ];
    expect(correctedC(points, sent)).toBe(sent);
    expect(sentC(points, sent)).toBe(sent);
  });

  test('has seven decimals at most', () => {
    fc.assert(
      fc.property(found, fc.double({ min: -50, max: 250, noNaN: true }), (points, sent) => {
        const c = correctedC(points, sent);
        expect(Number(c.toFixed(7))).toBe(c);
      }),
    );
  });
});

test('what is read of a thermometer that is corrected already is taken back to what it sent', () => {
  const standing: KnownPoints = [{ sentC: 0.5, trueC: 0 }];
  expect(pointOf(0.25, 0, standing)).toEqual({ readC: 0.25, sentC: 0.75, trueC: 0 });
  expect(pointOf(0.25, 0, null)).toEqual({ readC: 0.25, sentC: 0.25, trueC: 0 });
});
