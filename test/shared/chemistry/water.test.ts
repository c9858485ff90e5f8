import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import { standardPressureHPa } from '../../../shared/chemistry/atmosphere.ts';
import { ICE_POINT_C, waterBoilingC, waterVapourPressureHPa } from '../../../shared/chemistry/water.ts';
import { ZERO_CELSIUS_K } from '../../../shared/units/temperature.ts';
import { expectMonotone } from './ranges.ts';

const HPA_PER_MPA = 10_000;

describe('water’s vapour pressure', () => {
  // IAPWS R7-97(2012), table 35, to all its digits (read in public reprints).
  test.for([
    [300, 0.353658941e-2],
    [500, 0.263889776e1],
    [600, 0.123443146e2],
  ] as const)('at %d K is %d MPa', ([kelvin, mPa]) => {
    const got = waterVapourPressureHPa({ temperatureC: kelvin - ZERO_CELSIUS_K }) / HPA_PER_MPA;
    expect(got.toExponential(8)).toBe(mPa.toExponential(8));
  });

  test('is 611.213 Pa at 0 °C and the critical 22.064 MPa at 373.946 °C: the ends of the standard’s line', () => {
    expect(waterVapourPressureHPa({ temperatureC: 0 }) * 100).toBeCloseTo(611.213, 3);
    expect(waterVapourPressureHPa({ temperatureC: 373.946 }) / HPA_PER_MPA).toBeCloseTo(22.064, 5);
  });

  test('rises with temperature, and is refused beyond the line', () => {
    expectMonotone(waterVapourPressureHPa, 'temperatureC', 'rises');
  });
});

describe('water’s boiling point', () => {
  // IAPWS R7-97(2012), table 36, to all its digits (read in public reprints).
  test.for([
    [0.1, 372.755919],
    [1, 453.035632],
    [10, 584.149488],
  ] as const)('at %d MPa is %d K', ([mPa, kelvin]) => {
    const got = waterBoilingC({ pressureHPa: mPa * HPA_PER_MPA }) + ZERO_CELSIUS_K;
    expect(got.toFixed(6)).toBe(kelvin.toFixed(6));
  });

  test('is 99.974 °C at 101.325 kPa, not 100 (CRC Handbook, read in the tables of the package chemicals)', () => {
    expect(waterBoilingC({ pressureHPa: 1013.25 })).toBeCloseTo(99.974, 3);
  });

  // Regression values, worked out from the constants of the standard and of the standard atmosphere.
  test.for([
    [-300, 100.971],
    [0, 99.974],
    [500, 98.312],
    [1000, 96.649],
    [1500, 94.983],
    [1609.344, 94.618],
    [2000, 93.315],
    [2500, 91.645],
    [3000, 89.972],
    [4000, 86.619],
  ] as const)('at %d m of standard atmosphere is %d °C (computed)', ([altitudeM, boilingC]) => {
    expect(waterBoilingC({ pressureHPa: standardPressureHPa({ altitudeM }) })).toBeCloseTo(boilingC, 3);
  });

  test.for([
    [1050, 100.976],
    [1000, 99.606],
    [950, 98.178],
    [900, 96.687],
    [850, 95.125],
    [800, 93.485],
    [750, 91.758],
    [700, 89.932],
    [650, 87.993],
    [600, 85.926],
  ] as const)('at a station pressure of %d hPa is %d °C (computed)', ([pressureHPa, boilingC]) => {
    expect(waterBoilingC({ pressureHPa })).toBeCloseTo(boilingC, 3);
  });

  test('rises with pressure, and is refused beyond the line', () => {
    expectMonotone(waterBoilingC, 'pressureHPa', 'rises');
  });

  test('is the inverse of the vapour pressure', () => {
    fc.assert(
      fc.property(fc.double({ min: 0.01, max: 373.9, noNaN: true }), (temperatureC) => {
        const pressureHPa = waterVapourPressureHPa({ temperatureC });
        expect(waterBoilingC({ pressureHPa })).toBeCloseTo(temperatureC, 6);
      }),
    );
  });
});

test('ice in water is where the Celsius scale begins, within 0.01 K of the line’s triple point', () => {
  // ITS-90 puts the triple point at 0.01 °C and 611.657 Pa (from memory).
  expect(Math.abs(waterBoilingC({ pressureHPa: 6.11657 }) - ICE_POINT_C - 0.01)).toBeLessThan(0.001);
});
