import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import { waterSolubilityPpm } from '../../../shared/chemistry/drying.ts';
import { compareWithLimit } from '../../../shared/chemistry/fuel-limits.ts';

describe('water that clear ester can hold', () => {
  // USDA National Biodiesel Education Program, note on moisture absorption: 1,000 to 1,700 ppm from 4 to 35 °C.
  // J. Chem. Eng. Data 57 (2012) 1817, abstract: 1,500 to 1,980 mg/kg from 283.15 to 323.15 K. The first rounds
  // to 100 ppm.
  test.for([
    [4, 1000, 50],
    [35, 1700, 50],
    [10, 1500, 0.5],
    [50, 1980, 0.5],
  ] as const)('at %d °C takes in %d ppm', ([temperatureC, ppm, rounding]) => {
    const { low, high } = waterSolubilityPpm({ temperatureC });
    const reaches = [low, high].map((bound) => Math.abs(bound - ppm));
    expect(Math.min(...reaches)).toBeLessThanOrEqual(rounding);
  });

  test('is two to four times what EN 14214 takes, at 20 °C: clear is not dry', () => {
    const { low, high } = waterSolubilityPpm({ temperatureC: 20 });
    expect(compareWithLimit('EN 14214:2012+A1:2014', 'water', low)).toBe('outside');
    expect(low / 500).toBeGreaterThan(2);
    expect(high / 500).toBeLessThan(4);
  });

  test('is a band in order that rises with the temperature', () => {
    const temperatures = fc.double({ min: 0, max: 60, noNaN: true });
    fc.assert(
      fc.property(temperatures, temperatures, (a, b) => {
        fc.pre(Math.abs(a - b) > 1e-6);
        const cold = waterSolubilityPpm({ temperatureC: Math.min(a, b) });
        const warm = waterSolubilityPpm({ temperatureC: Math.max(a, b) });
        expect(0 < cold.low && cold.low <= cold.value && cold.value <= cold.high).toBe(true);
        for (const bound of ['low', 'value', 'high'] as const) {
          expect(warm[bound]).toBeGreaterThan(cold[bound]);
        }
      }),
    );
  });

  test.for([-0.1, 60.1, Number.NaN])('is refused at %d °C', (temperatureC) => {
    expect(() => waterSolubilityPpm({ temperatureC })).toThrow(
      expect.objectContaining({ code: 'out-of-range', field: 'temperatureC', allowed: '0 to 60 °C' }),
    );
  });
});
