import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import {
  contradictsAltitude,
  PRESSURE_SPREAD_HPA,
  STATION_DIFFERENCE_HPA,
  standardAltitudeM,
  standardPressureHPa,
} from '../../../shared/chemistry/atmosphere.ts';
import { methanolBoilingC } from '../../../shared/chemistry/methanol.ts';
import {
  celsiusFromFahrenheit,
  celsiusFromKelvin,
  formatTemperature,
} from '../../../shared/units/temperature.ts';
import { expectMonotone } from './ranges.ts';

describe('methanol’s boiling point', () => {
  // Published normal boiling points lie 0.4 K apart, so that none is met better than ± 0.25 K.
  test.for([
    [101.33, 337.63, 'VDI Heat Atlas, saturation table (read in the tables of the Python package chemicals)'],
    [101.325, 337.632, 'IUPAC equation of state, de Reuck & Craven 1993 (chemicals)'],
    [101.325, 337.65, 'CRC Handbook, table of organic compounds (chemicals)'],
    [101.325, 337.75, 'CRC Handbook, table of enthalpies of vaporization (chemicals)'],
    [101.325, 337.85, 'Yaws (chemicals)'],
  ] as const)('at %d kPa is %d K within 0.25 K: %s', ([kPa, kelvin]) => {
    expect(
      Math.abs(methanolBoilingC({ pressureHPa: kPa * 10 }) - celsiusFromKelvin(kelvin)),
    ).toBeLessThanOrEqual(0.25);
  });

  test('is 148 °F at sea level as the trade quotes it (common practice, no source; rounded to 1 °F)', () => {
    expect(Math.abs(methanolBoilingC({ pressureHPa: 1013.25 }) - celsiusFromFahrenheit(148))).toBeLessThan(
      0.28,
    );
  });

  test('is 64.2 °C at 100 kPa (CRC Handbook, vapour-pressure table; from memory)', () => {
    expect(methanolBoilingC({ pressureHPa: 1000 })).toBeCloseTo(64.2, 1);
  });

  test('is within 0.1 K of 280 K at the 6.177 kPa of the VDI saturation table, though extrapolated', () => {
    expect(Math.abs(methanolBoilingC({ pressureHPa: 61.77 }) - celsiusFromKelvin(280))).toBeLessThan(0.1);
  });

  // Regression values, worked out from the constants of Ambrose & Sprake 1970 (J. Chem. Thermodyn. 2:631,
  // as in the NIST WebBook) and the standard atmosphere: nobody has published these numbers.
  test.for([
    [-300, 65.453],
    [0, 64.549],
    [500, 63.042],
    [1000, 61.532],
    [1500, 60.02],
    [1609.344, 59.689],
    [2000, 58.505],
    [2500, 56.988],
    [3000, 55.469],
    [4000, 52.421],
  ] as const)('at %d m of standard atmosphere is %d °C (computed)', ([altitudeM, boilingC]) => {
    expect(
      Math.abs(methanolBoilingC({ pressureHPa: standardPressureHPa({ altitudeM }) }) - boilingC),
    ).toBeLessThan(0.001);
  });

  test.for([
    [1050, 65.457],
    [1000, 64.215],
    [950, 62.92],
    [900, 61.567],
    [850, 60.149],
    [800, 58.66],
    [750, 57.091],
    [700, 55.432],
    [650, 53.67],
    [600, 51.791],
  ] as const)('at a station pressure of %d hPa is %d °C (computed)', ([hPa, boilingC]) => {
    expect(Math.abs(methanolBoilingC({ pressureHPa: hPa }) - boilingC)).toBeLessThan(0.001);
  });

  test.for([
    [500, 47.6],
    [300, 36.5],
  ] as const)('under a vacuum of %d hPa is %d °C (computed)', ([hPa, boilingC]) => {
    expect(methanolBoilingC({ pressureHPa: hPa })).toBeCloseTo(boilingC, 1);
  });

  test.for([20, 1100])('is given at the end of its range, %d hPa', (hPa) => {
    expect(Number.isFinite(methanolBoilingC({ pressureHPa: hPa }))).toBe(true);
  });

  test.for([19.99, 1100.01, 0, -1, Number.NaN])('is refused at %d hPa', (hPa) => {
    expect(() => methanolBoilingC({ pressureHPa: hPa })).toThrow(RangeError);
  });
});

describe('the standard atmosphere', () => {
  // Table points of the U.S. Standard Atmosphere 1976 (public reprints), Pa by geopotential m.
  test.for([
    [-1000, 113_929],
    [0, 101_325],
    [1000, 89_874.6],
    [2000, 79_495.2],
    [3000, 70_108.5],
    [4000, 61_640.2],
  ] as const)('at %d m has %d Pa', ([altitudeM, pascal]) => {
    const lastDigit = Number.isInteger(pascal) ? 0.5 : 0.05;
    expect(Math.abs(standardPressureHPa({ altitudeM }) * 100 - pascal)).toBeLessThanOrEqual(lastDigit);
  });

  // engineeringtoolbox.com/standard-atmosphere-d_604.html, whose altitudes are geometric: the earth's radius
  // of the standard, 6,356,766 m, makes geopotential ones of them. 1 psi is 6894.757 Pa, 1 ft 0.3048 m.
  test.for([
    [5000, 12.228],
    [10_000, 10.108],
  ] as const)('at %d ft has %d psi', ([feet, psi]) => {
    const geometricM = feet * 0.3048;
    const geopotentialM = (6_356_766 * geometricM) / (6_356_766 + geometricM);
    const pascal = standardPressureHPa({ altitudeM: geopotentialM }) * 100;
    expect(Math.abs(pascal / 6894.757 - psi)).toBeLessThanOrEqual(0.0005);
  });

  test.for([-1000.1, 11_000.1, Number.NaN])('is refused at %d m', (altitudeM) => {
    expect(() => standardPressureHPa({ altitudeM })).toThrow(RangeError);
  });

  // Table points of the U.S. Standard Atmosphere 1976 (public reprints); a pascal is 0.1 m.
  test.for([
    [1139.29, -1000],
    [898.746, 1000],
    [701.085, 3000],
  ] as const)('has %d hPa at %d m', ([pressureHPa, altitudeM]) => {
    expect(Math.abs(standardAltitudeM({ pressureHPa }) - altitudeM)).toBeLessThan(0.1);
  });

  test('gives the altitude back from the pressure', () => {
    fc.assert(
      fc.property(fc.double({ min: -1000, max: 11_000, noNaN: true }), (altitudeM) => {
        const pressureHPa = standardPressureHPa({ altitudeM });
        expect(standardAltitudeM({ pressureHPa })).toBeCloseTo(altitudeM, 6);
      }),
    );
  });

  test('thins out upwards, and both ways are refused beyond', () => {
    expectMonotone(standardPressureHPa, 'altitudeM', 'falls');
    expectMonotone(standardAltitudeM, 'pressureHPa', 'falls');
  });
});

describe('a pressure beside an altitude', () => {
  test.for([
    [1013.25, 1609, true, 'reduced to sea level, at a mile'],
    [1013.25, 500, true, 'reduced to sea level, at 500 m'],
    [1013.25, 200, false, 'reduced to sea level, too low to tell'],
    [834, 1609, false, 'of the place'],
    [834, 161, true, 'of the place, but the altitude mistyped'],
  ] as const)('%d hPa at %d m contradicts: %s (%s)', ([pressureHPa, altitudeM, contradicts]) => {
    expect(contradictsAltitude(pressureHPa, altitudeM)).toBe(contradicts);
  });

  test('does not contradict on any usual day, nor at the limit itself', () => {
    fc.assert(
      fc.property(
        fc.double({ min: -1000, max: 11_000, noNaN: true }),
        fc.double({ min: -PRESSURE_SPREAD_HPA, max: PRESSURE_SPREAD_HPA, noNaN: true }),
        (altitudeM, weatherHPa) => {
          const standard = standardPressureHPa({ altitudeM });
          expect(contradictsAltitude(standard + weatherHPa, altitudeM)).toBe(false);
          expect(contradictsAltitude(standard + STATION_DIFFERENCE_HPA * 1.001, altitudeM)).toBe(true);
          expect(contradictsAltitude(standard - STATION_DIFFERENCE_HPA * 1.001, altitudeM)).toBe(true);
        },
      ),
    );
    expect(contradictsAltitude(1013.25 + STATION_DIFFERENCE_HPA, 0)).toBe(false);
  });

  test('moves methanol’s boiling point by ±0.8 K on a usual day (0.27 K per kPa, computed)', () => {
    const swing =
      methanolBoilingC({ pressureHPa: 1013.25 + PRESSURE_SPREAD_HPA }) -
      methanolBoilingC({ pressureHPa: 1013.25 - PRESSURE_SPREAD_HPA });
    expect(swing / 2).toBeCloseTo(0.8, 1);
  });
});

test('temperatures turn from °F and K, and show in °C or °F', () => {
  expect(celsiusFromFahrenheit(212)).toBe(100);
  expect(celsiusFromFahrenheit(-40)).toBe(-40);
  expect(celsiusFromKelvin(273.15)).toBe(0);
  expect(formatTemperature(100, 'F')).toBe('212.0 °F');
  expect(formatTemperature(61.84, 'C')).toBe('61.8 °C');
});
