import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import { methanolBoilingC, methanolVapourPressureHPa } from '../../../shared/chemistry/methanol.ts';
import {
  hotMethanolVapourPressureHPa,
  methanolLeftMassPercent,
  methanolRecoveredKg,
} from '../../../shared/chemistry/recovery.ts';

const LIQUIDS = ['glycerol', 'ester'] as const;
const liquids = fc.constantFrom(...LIQUIDS);
const temperatures = fc.double({ min: 0, max: 150, noNaN: true });
const pressures = fc.double({ min: 20, max: 1100, noNaN: true });

describe('the vapour pressure of hot methanol', () => {
  // VDI Heat Atlas, saturation table (read in the tables of the Python package chemicals).
  test.for([
    [337.63, 101.33],
    [360, 229.92],
    [385, 507.17],
  ] as const)('at %d K is %d kPa within 0.5 %%', ([kelvin, kPa]) => {
    const hPa = hotMethanolVapourPressureHPa({ temperatureC: kelvin - 273.15 });
    expect(Math.abs(hPa / 10 / kPa - 1)).toBeLessThan(0.005);
  });

  test('is within 0.3 % of the equation for boiling points where both hold', () => {
    fc.assert(
      fc.property(fc.double({ min: 15, max: 83.6, noNaN: true }), (temperatureC) => {
        const ratio =
          hotMethanolVapourPressureHPa({ temperatureC }) / methanolVapourPressureHPa({ temperatureC });
        expect(Math.abs(ratio - 1)).toBeLessThan(0.003);
      }),
    );
  });

  test.for([-0.1, 150.1, Number.NaN])('is refused at %d °C', (temperatureC) => {
    expect(() => hotMethanolVapourPressureHPa({ temperatureC })).toThrow(
      expect.objectContaining({ code: 'out-of-range', field: 'temperatureC', allowed: '0 to 150 °C' }),
    );
  });
});

describe('methanol left', () => {
  // Activity coefficients of methanol at a mole fraction, computed with the Python package thermo 0.6.1, by
  // modified UNIFAC (Dortmund) and by UNIFAC in glycerol and in methyl oleate. A liquid of that mole
  // fraction is in equilibrium with pure methanol vapour of pressure x · γ · p_methanol. Predictions.
  test.for([
    ['glycerol', 40, 0.1, 0.692, 'Dortmund'],
    ['glycerol', 40, 0.3, 0.779, 'Dortmund'],
    ['glycerol', 65, 0.1, 0.715, 'Dortmund'],
    ['glycerol', 65, 0.3, 0.795, 'Dortmund'],
    ['glycerol', 65, 0.5, 0.886, 'Dortmund'],
    ['glycerol', 65, 0.7, 0.935, 'UNIFAC'],
    ['glycerol', 65, 0.5, 0.847, 'UNIFAC'],
    ['glycerol', 100, 0.1, 0.714, 'Dortmund'],
    ['glycerol', 100, 0.3, 0.79, 'Dortmund'],
    ['glycerol', 130, 0.1, 0.674, 'Dortmund'],
    ['glycerol', 130, 0.05, 0.68, 'UNIFAC'],
    ['ester', 40, 0.1, 4.036, 'Dortmund'],
    ['ester', 40, 0.3, 2.664, 'Dortmund'],
    ['ester', 65, 0.1, 3.468, 'Dortmund'],
    ['ester', 65, 0.3, 2.466, 'Dortmund'],
    ['ester', 65, 0.5, 1.84, 'Dortmund'],
    ['ester', 65, 0.1, 2.92, 'UNIFAC'],
    ['ester', 65, 0.3, 2.337, 'UNIFAC'],
    ['ester', 100, 0.1, 2.723, 'Dortmund'],
    ['ester', 100, 0.1, 2.461, 'UNIFAC'],
    ['ester', 130, 0.05, 2.247, 'Dortmund'],
    ['ester', 130, 0.05, 2.225, 'UNIFAC'],
  ] as const)(
    'in %s at %d °C takes in a mole fraction of %d with an activity coefficient of %d (%s)',
    ([liquid, temperatureC, x, gamma]) => {
      const pressureHPa = x * gamma * hotMethanolVapourPressureHPa({ temperatureC });
      const otherGPerMol = liquid === 'glycerol' ? 92.094 : 296.495;
      const massPercent = (100 * x * 32.042) / (x * 32.042 + (1 - x) * otherGPerMol);
      const left = methanolLeftMassPercent({ in: liquid, temperatureC, pressureHPa });
      expect(left.low).toBeLessThan(massPercent);
      expect(left.high).toBeGreaterThan(massPercent);
    },
  );

  test('in glycerol has Raoult’s law in its middle', () => {
    const pressureHPa = 0.25 * hotMethanolVapourPressureHPa({ temperatureC: 90 });
    const { value } = methanolLeftMassPercent({ in: 'glycerol', temperatureC: 90, pressureHPa });
    expect(value).toBeCloseTo((100 * 0.25 * 32.042) / (0.25 * 32.042 + 0.75 * 92.094), 9);
  });

  test('is all of it where pure methanol would not boil', () => {
    fc.assert(
      fc.property(liquids, pressures, fc.double({ min: 0.5, max: 80, noNaN: true }), (liquid, p, below) => {
        const temperatureC = methanolBoilingC({ pressureHPa: p }) - below;
        fc.pre(temperatureC >= 15);
        const left = methanolLeftMassPercent({ in: liquid, temperatureC, pressureHPa: p });
        expect(left).toEqual({ low: 100, value: 100, high: 100 });
      }),
    );
  });

  test('is a band in order, and less the hotter and the lower the pressure', () => {
    fc.assert(
      fc.property(
        liquids,
        temperatures,
        temperatures,
        pressures,
        pressures,
        (liquid, oneC, otherC, oneHPa, otherHPa) => {
          const much = methanolLeftMassPercent({
            in: liquid,
            temperatureC: Math.min(oneC, otherC),
            pressureHPa: Math.max(oneHPa, otherHPa),
          });
          const little = methanolLeftMassPercent({
            in: liquid,
            temperatureC: Math.max(oneC, otherC),
            pressureHPa: Math.min(oneHPa, otherHPa),
          });
          for (const { low, value, high } of [much, little]) {
            expect(0 < low && low <= value && value <= high && high <= 100).toBe(true);
          }
          for (const bound of ['low', 'value', 'high'] as const) {
            expect(little[bound]).toBeLessThanOrEqual(much[bound]);
          }
        },
      ),
    );
  });

  test('is more in glycerol than in ester at the same temperature and pressure', () => {
    for (const temperatureC of [70, 80, 100, 120]) {
      const heated = { temperatureC, pressureHPa: 1013.25 };
      expect(methanolLeftMassPercent({ in: 'glycerol', ...heated }).low).toBeGreaterThan(
        methanolLeftMassPercent({ in: 'ester', ...heated }).high,
      );
    }
  });

  test.for([
    ['in', 'water'],
    ['temperatureC', 150.1],
    ['pressureHPa', 19.9],
    ['pressureHPa', Number.NaN],
  ] as const)('is refused with %s of %s', ([field, value]) => {
    const heated = { in: 'ester', temperatureC: 80, pressureHPa: 1000, [field]: value } as const;
    expect(() => methanolLeftMassPercent(heated)).toThrow(
      expect.objectContaining({ code: 'out-of-range', field }),
    );
  });
});

describe('methanol recovered', () => {
  const amounts = fc.record({
    in: liquids,
    temperatureC: temperatures,
    pressureHPa: pressures,
    restKg: fc.double({ min: 0, max: 500_000, noNaN: true }),
    methanolKg: fc.double({ min: 0, max: 300_000, noNaN: true }),
  });

  test('and methanol left are what was there, and the rest is as rich as stated or was poorer before', () => {
    fc.assert(
      fc.property(amounts, (heated) => {
        const recovered = methanolRecoveredKg(heated);
        const left = methanolLeftMassPercent(heated);
        const { methanolKg, restKg } = heated;
        for (const [off, w] of [
          [recovered.low, left.high],
          [recovered.value, left.value],
          [recovered.high, left.low],
        ] as const) {
          const remaining = methanolKg - off;
          expect(off >= 0 && remaining >= 0).toBe(true);
          if (off > 0) {
            const atRest = (restKg * w) / (100 - w);
            expect(Math.abs(remaining - atRest)).toBeLessThanOrEqual(1e-9 * methanolKg);
          }
        }
      }),
    );
  });

  test('is none below boiling, and all of it of pure methanol above', () => {
    const pure = { in: 'ester', restKg: 0, methanolKg: 3, pressureHPa: 1013.25 } as const;
    expect(methanolRecoveredKg({ ...pure, temperatureC: 60 })).toEqual({ low: 0, value: 0, high: 0 });
    expect(methanolRecoveredKg({ ...pure, temperatureC: 80 })).toEqual({ low: 3, value: 3, high: 3 });
  });

  test.for([
    ['restKg', -1],
    ['methanolKg', Number.NaN],
    ['temperatureC', -1],
  ] as const)('is refused with %s of %d', ([field, value]) => {
    const heated = {
      in: 'ester',
      temperatureC: 80,
      pressureHPa: 1000,
      restKg: 1,
      methanolKg: 1,
      [field]: value,
    } as const;
    expect(() => methanolRecoveredKg(heated)).toThrow(
      expect.objectContaining({ code: 'out-of-range', field }),
    );
  });
});
