import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import { glycerolDensityKgPerM3, glycerolViscosityMPaS } from '../../../shared/chemistry/glycerol.ts';

const temperatures = fc.double({ min: -20, max: 150, noNaN: true });

describe('the density of glycerol', () => {
  test('at 20 °C is the CRC Handbook’s 1261.32 kg/m³ within 0.1 % (in the package chemicals)', () => {
    expect(Math.abs(glycerolDensityKgPerM3({ temperatureC: 20 }) / 1261.32 - 1)).toBeLessThan(0.001);
  });

  // Regression values, computed from the constants of the VDI Heat Atlas.
  test.for([
    [20, 1261.2],
    [40, 1248.4],
    [60, 1235.3],
  ] as const)('at %d °C is %d kg/m³ (computed)', ([temperatureC, kgPerM3]) => {
    expect(glycerolDensityKgPerM3({ temperatureC })).toBeCloseTo(kgPerM3, 1);
  });
});

describe('the viscosity of glycerol', () => {
  // CRC Handbook, viscosity of liquids, 25 to 100 °C, and a common handbook value for 20 °C, all from memory.
  test.for([
    [20, 1412],
    [25, 934],
    [50, 152],
    [75, 39.8],
    [100, 14.8],
  ] as const)('at %d °C is %d mPa·s within 3 %%', ([temperatureC, mPaS]) => {
    expect(Math.abs(glycerolViscosityMPaS({ temperatureC }) / mPaS - 1)).toBeLessThan(0.03);
  });

  // Computed with the same constants by the Python package chemicals (PPDS9).
  test.for([
    [20, 1433.4986],
    [60, 84.35717],
  ] as const)('at %d °C is %d mPa·s as the package chemicals works it out', ([temperatureC, mPaS]) => {
    expect(Math.abs(glycerolViscosityMPaS({ temperatureC }) / mPaS - 1)).toBeLessThan(1e-6);
  });
});

describe.for([
  ['density', glycerolDensityKgPerM3],
  ['viscosity', glycerolViscosityMPaS],
] as const)('%s of glycerol', ([, quantity]) => {
  test('falls with the temperature, over the whole range', () => {
    fc.assert(
      fc.property(temperatures, temperatures, (a, b) => {
        fc.pre(Math.abs(a - b) > 1e-6);
        const [cold, hot] = [Math.min(a, b), Math.max(a, b)];
        expect(quantity({ temperatureC: hot })).toBeGreaterThan(0);
        expect(quantity({ temperatureC: cold })).toBeGreaterThan(quantity({ temperatureC: hot }));
      }),
    );
  });

  test.for([-20.01, 150.01, Number.NaN])('is refused at %d °C', (temperatureC) => {
    expect(() => quantity({ temperatureC })).toThrow(
      expect.objectContaining({ code: 'out-of-range', field: 'temperatureC', allowed: '-20 to 150 °C' }),
    );
  });
});
