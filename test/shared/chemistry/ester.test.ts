import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import { esterDensityKgPerM3, esterViscosityMPaS } from '../../../shared/chemistry/ester.ts';
import { OutOfRange } from '../../../shared/chemistry/formula.ts';
import { compareWithLimit } from '../../../shared/chemistry/fuel-limits.ts';

const temperatures = fc.double({ min: -20, max: 150, noNaN: true });

describe('the density of ester', () => {
  // Saturated liquid by the equation of state of Huber et al. 2009, computed with CoolProp 8.0. The equation
  // here was fitted to it: 0.1 %.
  test.for([
    [0, 888.64],
    [15, 877.44],
    [20, 873.76],
    [25, 870.1],
    [40, 859.26],
    [60, 845.04],
    [80, 831.01],
    [100, 817.09],
    [150, 782.3],
  ] as const)('at %d °C is %d kg/m³, the equation of state of methyl oleate', ([temperatureC, kgPerM3]) => {
    expect(Math.abs(esterDensityKgPerM3({ temperatureC }) / kgPerM3 - 1)).toBeLessThan(0.001);
  });

  test('at 20 °C is 873.92 kg/m³ within 0.1 % (methyl oleate, CRC Handbook, in the package chemicals)', () => {
    expect(Math.abs(esterDensityKgPerM3({ temperatureC: 20 }) / 873.92 - 1)).toBeLessThan(0.001);
  });

  // Methyl linoleate and methyl palmitate by their equations of state (Huber et al. 2009, CoolProp 8.0), which
  // is what the stated uncertainty of −0.8 to +1.4 % rests on.
  test.for([
    [20, 885.37],
    [40, 870.72],
    [60, 856.45],
    [80, 842.49],
  ] as const)(
    'at %d °C is less than methyl linoleate’s %d kg/m³ by 1.3 to 1.4 %%',
    ([temperatureC, kgPerM3]) => {
      const ratio = kgPerM3 / esterDensityKgPerM3({ temperatureC });
      expect(ratio).toBeGreaterThan(1.013);
      expect(ratio).toBeLessThan(1.0145);
    },
  );

  test('at 15 °C is what EN 14214 takes for a fuel', () => {
    const density = esterDensityKgPerM3({ temperatureC: 15 });
    expect(compareWithLimit('EN 14214:2012+A1:2014', 'density15C', density)).toBe('within');
  });
});

describe('the viscosity of ester', () => {
  test('over the density, at 40 °C, is what EN 14214 and ASTM D6751 take for a fuel', () => {
    const mm2PerS =
      (1000 * esterViscosityMPaS({ temperatureC: 40 })) / esterDensityKgPerM3({ temperatureC: 40 });
    expect(compareWithLimit('EN 14214:2012+A1:2014', 'viscosity40C', mm2PerS)).toBe('within');
    expect(compareWithLimit('ASTM D6751-09', 'viscosity40C', mm2PerS)).toBe('within');
  });

  test('over the density, at 38 °C, is within the 2.8 to 5.1 mm²/s of esters (Demirbas 2008, at 311 K)', () => {
    const mm2PerS =
      (1000 * esterViscosityMPaS({ temperatureC: 37.85 })) / esterDensityKgPerM3({ temperatureC: 37.85 });
    expect(mm2PerS).toBeGreaterThan(2.8);
    expect(mm2PerS).toBeLessThan(5.1);
  });

  // Regression values, computed from the constants of Viswanath & Natarajan.
  test.for([
    [40, 3.7],
    [50, 3.09],
    [60, 2.6],
  ] as const)('at %d °C is %d mPa·s (computed)', ([temperatureC, mPaS]) => {
    expect(esterViscosityMPaS({ temperatureC })).toBeCloseTo(mPaS, 2);
  });
});

describe.for([
  ['density', esterDensityKgPerM3],
  ['viscosity', esterViscosityMPaS],
] as const)('%s of ester', ([, quantity]) => {
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
    expect(() => quantity({ temperatureC })).toThrow(OutOfRange);
  });
});
