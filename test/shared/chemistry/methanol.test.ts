import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import {
  METHANOL_G_PER_MOL,
  METHANOL_PRESSURE_RANGE_HPA,
  methanolBoilingC,
  methanolDensityKgPerM3,
  methanolHeatCapacityJPerKgK,
  methanolVapourPressureHPa,
} from '../../../shared/chemistry/methanol.ts';
import { celsiusFromKelvin, ZERO_CELSIUS_K } from '../../../shared/units/temperature.ts';
import { expectMonotone } from './ranges.ts';

/** How far apart, as a part of the second. */
const apart = (got: number, published: number): number => Math.abs(got / published - 1);

test('methanol’s molar mass is the VDI Heat Atlas’s 32.04186 and the equation of state’s 32.04216 g/mol', () => {
  expect(METHANOL_G_PER_MOL).toBeCloseTo(32.04186, 3);
  expect(METHANOL_G_PER_MOL).toBeCloseTo(32.04216, 3);
});

describe('methanol’s vapour pressure', () => {
  // Other published equations, K, as printed in the tables of the Python package chemicals.
  const others: Record<string, (kelvin: number) => number> = {
    'Antoine, Poling, Prausnitz & O’Connell': (T) => 10 ** (10.20277 - 1580.08 / (T - 33.65)) / 100,
    'Wagner 3,6, McGarry 1983': (T) => {
      const x = 1 - T / 512.64;
      const sum = -8.54796 * x + 0.769817 * x ** 1.5 - 3.1085 * x ** 3 + 1.54481 * x ** 6;
      return 80_850.5 * Math.exp(sum / (T / 512.64));
    },
    'Wagner 2.5,5, Poling': (T) => {
      const x = 1 - T / 512.64;
      const sum = -8.63571 * x + 1.17982 * x ** 1.5 - 2.479 * x ** 2.5 - 1.024 * x ** 5;
      return 80_920 * Math.exp(sum / (T / 512.64));
    },
  };
  test.for(Object.keys(others))('is within 0.5 %% of: %s', (name) => {
    for (let temperatureC = 15; temperatureC <= 83; temperatureC += 1) {
      const other = others[name]?.(temperatureC + ZERO_CELSIUS_K) ?? Number.NaN;
      expect(apart(methanolVapourPressureHPa({ temperatureC }), other)).toBeLessThan(0.005);
    }
  });

  test.for([
    [280, 61.77],
    [337.63, 1013.3],
  ] as const)('at %d K is %d hPa within 0.5 %%: VDI Heat Atlas, saturation table', ([kelvin, hPa]) => {
    const got = methanolVapourPressureHPa({ temperatureC: celsiusFromKelvin(kelvin) });
    expect(apart(got, hPa)).toBeLessThan(0.005);
  });

  test('at −40 °C, extrapolated, is within 6.5 % of both Wagner equations, which are valid to 175 and 288 K', () => {
    const got = methanolVapourPressureHPa({ temperatureC: -40 });
    for (const name of ['Wagner 3,6, McGarry 1983', 'Wagner 2.5,5, Poling']) {
      expect(apart(got, others[name]?.(233.15) ?? Number.NaN)).toBeLessThan(0.065);
    }
  });

  test('at 20 °C is 96 mmHg within the 1.6 % that safety sheets lie under the equations (NAP 1995)', () => {
    expect(apart(methanolVapourPressureHPa({ temperatureC: 20 }) / 1.333224, 96)).toBeLessThan(0.016);
  });

  test('is the inverse of the boiling point', () => {
    const { least, most } = METHANOL_PRESSURE_RANGE_HPA;
    fc.assert(
      fc.property(fc.double({ min: least, max: most, noNaN: true }), (pressureHPa) => {
        const temperatureC = methanolBoilingC({ pressureHPa });
        expect(apart(methanolVapourPressureHPa({ temperatureC }), pressureHPa)).toBeLessThan(1e-9);
      }),
    );
  });

  test('rises with temperature, the boiling point with pressure, and both are refused beyond', () => {
    expectMonotone(methanolVapourPressureHPa, 'temperatureC', 'rises');
    expectMonotone(methanolBoilingC, 'pressureHPa', 'rises');
  });
});

describe('methanol’s density', () => {
  // The VDI table and the equation of state, both published, lie 0.06 % apart.
  test.for([
    [280, 803.22, 'VDI Heat Atlas, saturation table'],
    [293.15, 791.42, 'CRC Handbook, table of organic compounds'],
    [337.63, 748.35, 'VDI Heat Atlas, saturation table'],
    [360, 725.36, 'VDI Heat Atlas, saturation table'],
  ] as const)(
    'at %d K is %d kg/m³ within 0.06 %: %s (read in the package chemicals)',
    ([kelvin, kgPerM3]) => {
      const got = methanolDensityKgPerM3({ temperatureC: celsiusFromKelvin(kelvin) });
      expect(apart(got, kgPerM3)).toBeLessThan(0.0006);
    },
  );

  // Computed from the reference equation of state's ancillary elsewhere; its fit is good to 0.02 %.
  test.for([
    [0, 810.06],
    [15, 796.04],
    [25, 786.64],
    [40, 772.39],
    [60, 752.89],
  ] as const)('at %d °C is %d kg/m³ (computed)', ([temperatureC, kgPerM3]) => {
    expect(apart(methanolDensityKgPerM3({ temperatureC }), kgPerM3)).toBeLessThan(0.0002);
  });

  test('falls with temperature, and is refused beyond', () => {
    expectMonotone(methanolDensityKgPerM3, 'temperatureC', 'falls');
  });

  test('at −60 °C lies on the line from the triple point to 20 °C within 0.5 %', () => {
    // 28,230.4 mol/m³ at 175.61 K (equation of state, de Reuck & Craven 1993): 904.6 kg/m³. At 20 °C the CRC value.
    const triple = 28_230.3966 * 32.04216e-3;
    const line = triple + ((791.42 - triple) * (213.15 - 175.61)) / (293.15 - 175.61);
    expect(apart(methanolDensityKgPerM3({ temperatureC: -60 }), line)).toBeLessThan(0.005);
  });
});

describe('methanol’s heat capacity', () => {
  test.for([
    [81.1, 'CRC Handbook'],
    [81.08, 'Poling, Prausnitz & O’Connell'],
  ] as const)('at 25 °C is %d J/(mol K) within 0.2 %: %s (read in the package chemicals)', ([jPerMolK]) => {
    const published = (jPerMolK / 32.042) * 1000;
    expect(apart(methanolHeatCapacityJPerKgK({ temperatureC: 25 }), published)).toBeLessThan(0.002);
  });

  test.for([
    [20, 2503],
    [40, 2632],
    [50, 2705],
    [60, 2785],
  ] as const)('at %d °C is %d J/(kg K) (computed from the same set elsewhere)', ([temperatureC, jPerKgK]) => {
    expect(Math.abs(methanolHeatCapacityJPerKgK({ temperatureC }) - jPerKgK)).toBeLessThan(1);
  });

  test('rises with temperature, and is refused beyond', () => {
    expectMonotone(methanolHeatCapacityJPerKgK, 'temperatureC', 'rises');
  });
});
