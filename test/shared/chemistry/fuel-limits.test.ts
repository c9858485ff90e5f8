import { describe, expect, test } from 'vitest';
import { OutOfRange } from '../../../shared/chemistry/formula.ts';
import {
  compareWithLimit,
  FUEL_PROPERTIES,
  FUEL_STANDARD_NAMES,
  FUEL_STANDARDS,
  type FuelProperty,
  type FuelStandard,
} from '../../../shared/chemistry/fuel-limits.ts';

const EN: FuelStandard = 'EN 14214:2012+A1:2014';
const ASTM: FuelStandard = 'ASTM D6751-09';

describe('comparing with a limit', () => {
  // A value on each side of the limit: two public data sheets of the EN standard, one of the ASTM standard.
  test.for<readonly [FuelStandard, FuelProperty, within: number, outside: number]>([
    [EN, 'esterContent', 96.5, 96.4],
    [EN, 'density15C', 860, 859.9],
    [EN, 'density15C', 900, 900.1],
    [EN, 'viscosity40C', 3.5, 3.49],
    [EN, 'viscosity40C', 5, 5.01],
    [EN, 'flashPoint', 101, 100],
    [EN, 'methanol', 0.2, 0.21],
    [EN, 'water', 500, 501],
    [EN, 'acidValue', 0.5, 0.51],
    [EN, 'monoglycerides', 0.7, 0.71],
    [EN, 'diglycerides', 0.2, 0.21],
    [EN, 'triglycerides', 0.2, 0.21],
    [EN, 'freeGlycerol', 0.02, 0.021],
    [EN, 'totalGlycerol', 0.25, 0.26],
    [EN, 'sodiumPotassium', 5, 5.1],
    [EN, 'calciumMagnesium', 5, 5.1],
    [EN, 'phosphorus', 4, 4.1],
    [EN, 'sulfur', 10, 10.1],
    [EN, 'oxidationStability', 8, 7.9],
    [EN, 'cetaneNumber', 51, 50.9],
    [EN, 'iodineValue', 120, 121],
    [EN, 'linolenicEster', 12, 12.1],
    [EN, 'totalContamination', 24, 25],
    [ASTM, 'viscosity40C', 1.9, 1.8],
    [ASTM, 'viscosity40C', 6, 6.1],
    [ASTM, 'flashPoint', 93, 92],
    [ASTM, 'methanol', 0.2, 0.21],
    [ASTM, 'waterAndSediment', 0.05, 0.06],
    [ASTM, 'acidValue', 0.5, 0.51],
    [ASTM, 'freeGlycerol', 0.02, 0.021],
    [ASTM, 'totalGlycerol', 0.24, 0.25],
    [ASTM, 'phosphorus', 0.001, 0.0011],
    [ASTM, 'sulfur', 15, 16],
    [ASTM, 'oxidationStability', 3, 2.9],
    [ASTM, 'cetaneNumber', 47, 46],
    [ASTM, 'copperCorrosion', 3, 4],
    [ASTM, 'distillation90', 360, 361],
    [ASTM, 'coldSoakFiltration', 360, 361],
  ])('%s: %s takes %d and not %d', ([standard, property, within, outside]) => {
    expect(compareWithLimit(standard, property, within)).toBe('within');
    expect(compareWithLimit(standard, property, outside)).toBe('outside');
  });

  test.for<readonly [FuelStandard, FuelProperty]>([
    [ASTM, 'esterContent'],
    [ASTM, 'density15C'],
    [ASTM, 'monoglycerides'],
    [ASTM, 'water'],
    [EN, 'waterAndSediment'],
    [EN, 'coldSoakFiltration'],
  ])('%s has no limit for %s', ([standard, property]) => {
    expect(compareWithLimit(standard, property, 1)).toBe('no-limit');
  });

  test.for([Number.NaN, Number.POSITIVE_INFINITY])('refuses %d', (value) => {
    expect(() => compareWithLimit(EN, 'water', value)).toThrow(OutOfRange);
  });
});

describe('the table of limits', () => {
  test('limits something wherever it has a row, with the least under the most', () => {
    for (const standard of FUEL_STANDARD_NAMES) {
      for (const limit of Object.values(FUEL_STANDARDS[standard])) {
        const { least, most } = limit;
        expect(least !== undefined || most !== undefined).toBe(true);
        if (least !== undefined && most !== undefined) expect(least).toBeLessThan(most);
      }
    }
  });

  test('names no property that neither standard limits', () => {
    const limited = FUEL_STANDARD_NAMES.flatMap((standard) => Object.keys(FUEL_STANDARDS[standard]));
    expect([...new Set(limited)].sort()).toEqual(Object.keys(FUEL_PROPERTIES).sort());
  });

  test('agrees between the standards on phosphorus within the tightening of 10 to 4 mg/kg', () => {
    // 0.001 % is 10 mg/kg, which earlier editions of EN 14214 had.
    expect((FUEL_STANDARDS[ASTM].phosphorus?.most ?? 0) * 1e4).toBeCloseTo(10, 9);
  });
});
