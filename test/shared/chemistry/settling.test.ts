import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import {
  glycerolSetsBelowC,
  settlingHours,
  stokesVelocityMPerS,
} from '../../../shared/chemistry/settling.ts';

describe('Stokes’s speed', () => {
  // Worked out by hand, v = g d² Δρ / (18 μ), to the digits given.
  test.for([
    [100, 170, 6.5, 0.1425, 1.95],
    [50, 170, 6.5, 0.0356, 7.8],
    [200, 170, 6.5, 0.57, 0.49],
    [100, 350, 3.4, 0.5608, 0.5],
  ] as const)(
    'of %d µm, %d kg/m³ in %d mPa·s is %d mm/s, %d h per m',
    ([d, difference, mPaS, mmPerS, hours]) => {
      const v = stokesVelocityMPerS({
        dropletUm: d,
        densityDifferenceKgPerM3: difference,
        viscosityMPaS: mPaS,
      });
      expect(v * 1000).toBeCloseTo(mmPerS, 4);
      expect(1 / v / 3600).toBeCloseTo(hours, 2);
    },
  );

  test('goes with the square of the drop, with the difference, and against the viscosity', () => {
    fc.assert(
      fc.property(
        fc.double({ min: 0.1, max: 1000, noNaN: true }),
        fc.double({ min: 1, max: 1000, noNaN: true }),
        fc.double({ min: 0.01, max: 100_000, noNaN: true }),
        (dropletUm, densityDifferenceKgPerM3, viscosityMPaS) => {
          const drop = { dropletUm, densityDifferenceKgPerM3, viscosityMPaS };
          const v = stokesVelocityMPerS(drop);
          expect(stokesVelocityMPerS({ ...drop, dropletUm: 2 * dropletUm }) / v).toBeCloseTo(4, 9);
          expect(
            stokesVelocityMPerS({ ...drop, densityDifferenceKgPerM3: 2 * densityDifferenceKgPerM3 }) / v,
          ).toBeCloseTo(2, 9);
          expect(stokesVelocityMPerS({ ...drop, viscosityMPaS: 2 * viscosityMPaS }) / v).toBeCloseTo(0.5, 9);
        },
      ),
    );
  });

  test.for([
    ['dropletUm', 0],
    ['dropletUm', 2001],
    ['densityDifferenceKgPerM3', -1],
    ['viscosityMPaS', 0],
    ['viscosityMPaS', Number.NaN],
  ] as const)('is refused with %s of %d', ([field, value]) => {
    const drop = { dropletUm: 100, densityDifferenceKgPerM3: 170, viscosityMPaS: 5, [field]: value };
    expect(() => stokesVelocityMPerS(drop)).toThrow(expect.objectContaining({ code: 'out-of-range', field }));
  });
});

describe('settling', () => {
  const heights = fc.double({ min: 0.001, max: 20, noNaN: true });
  const temperatures = fc.double({ min: -20, max: 100, noNaN: true });

  // Common practice, no source: most of the glycerol is down within an hour, and the ester is clear after 24 h.
  test.for([15, 20, 30, 40, 55, 60])(
    'in a drum of 0.6 m at %d °C takes in an hour and a day',
    (temperatureC) => {
      const { low, value, high } = settlingHours({ liquidHeightM: 0.6, temperatureC });
      expect(low).toBeLessThan(1);
      expect(high).toBeGreaterThan(24);
      expect(value).toBeGreaterThan(1);
      expect(value).toBeLessThan(24);
    },
  );

  test('overnight, and the 8 to 24 h of extension guides (from memory), lie in the band of a drum', () => {
    const { low, high } = settlingHours({ liquidHeightM: 0.6, temperatureC: 20 });
    expect(low).toBeLessThan(8);
    expect(high).toBeGreaterThan(24);
  });

  test('is a band in order, in proportion to the height, shorter when warmer', () => {
    fc.assert(
      fc.property(heights, temperatures, temperatures, (liquidHeightM, a, b) => {
        fc.pre(Math.abs(a - b) > 0.01);
        const cold = settlingHours({ liquidHeightM, temperatureC: Math.min(a, b) });
        const warm = settlingHours({ liquidHeightM, temperatureC: Math.max(a, b) });
        expect(0 < cold.low && cold.low <= cold.value && cold.value <= cold.high).toBe(true);
        expect(cold.high).toBeLessThan(Number.POSITIVE_INFINITY);
        for (const bound of ['low', 'value', 'high'] as const) {
          expect(warm[bound]).toBeLessThan(cold[bound]);
          const half = settlingHours({ liquidHeightM: liquidHeightM / 2, temperatureC: Math.min(a, b) });
          expect(cold[bound] / half[bound]).toBeCloseTo(2, 9);
        }
      }),
    );
  });

  test('of no height takes no time', () => {
    expect(settlingHours({ liquidHeightM: 0, temperatureC: 20 })).toEqual({ low: 0, value: 0, high: 0 });
  });

  test.for([
    ['liquidHeightM', -0.1],
    ['liquidHeightM', 20.1],
    ['temperatureC', -20.1],
    ['temperatureC', 100.1],
    ['temperatureC', Number.NaN],
  ] as const)('is refused with %s of %d', ([field, value]) => {
    const vessel = { liquidHeightM: 0.6, temperatureC: 20, [field]: value };
    expect(() => settlingHours(vessel)).toThrow(expect.objectContaining({ code: 'out-of-range', field }));
  });
});

test('glycerol sets near 38 °C with NaOH and stays liquid with KOH (common practice, no source)', () => {
  expect(glycerolSetsBelowC('NaOH')).toBe(38);
  expect(glycerolSetsBelowC('KOH')).toBeNull();
});
