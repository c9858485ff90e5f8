import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import type { Band } from '../../../shared/chemistry/formula.ts';
import { type Layer, settledLayers } from '../../../shared/chemistry/layers.ts';

const TRIOLEIN = {
  oilKg: 100,
  oilMolarMassGPerMol: 885.453,
  methanolKg: 21.712,
  base: 'NaOH',
  baseG: 0,
  soapG: 0,
  conversionPercent: 100,
} as const;

const anyBatch = fc.record({
  oilKg: fc.double({ min: 0, max: 100_000, noNaN: true }),
  oilMolarMassGPerMol: fc.double({ min: 300, max: 1500, noNaN: true }),
  methanolKg: fc.double({ min: 0, max: 300_000, noNaN: true }),
  base: fc.constantFrom('NaOH' as const, 'KOH' as const),
  baseG: fc.double({ min: 0, max: 1e9, noNaN: true }),
  soapG: fc.double({ min: 0, max: 1e9, noNaN: true }),
  conversionPercent: fc.double({ min: 0, max: 100, noNaN: true }),
});
/** As people make them. */
const usualBatch = fc
  .record({
    oilKg: fc.double({ min: 0.04, max: 1000, noNaN: true }),
    methanolPart: fc.double({ min: 0.16, max: 0.3, noNaN: true }),
    base: fc.constantFrom('NaOH' as const, 'KOH' as const),
    conversionPercent: fc.double({ min: 80, max: 99.9, noNaN: true }),
  })
  .map(({ oilKg, methanolPart, base, conversionPercent }) => ({
    oilKg,
    oilMolarMassGPerMol: 880,
    methanolKg: oilKg * methanolPart,
    base,
    baseG: oilKg * 6,
    soapG: oilKg * 5,
    conversionPercent,
  }));

const BANDS = ['kg', 'litres', 'methanolKg', 'methanolPercent', 'soapKg'] as const;
const isInOrder = ({ low, value, high }: Band) => 0 <= low && low <= value && value <= high;
const bands = (layer: Layer) => BANDS.map((name) => layer[name]);

describe('the layers of a whole reaction', () => {
  test('of 100 kg of triolein with 6 mol of methanol are Van Gerpen’s 100.45 + 10.40 + 10.86 (from memory)', () => {
    const settled = settledLayers(TRIOLEIN);
    expect(settled.esterKg).toBeCloseTo(100.455, 3);
    expect(settled.glycerolKg).toBeCloseTo(10.401, 3);
    expect(settled.methanolUsedKg).toBeCloseTo(10.856, 3);
    expect(settled.methanolLeftKg).toBeCloseTo(10.86, 2);
    expect(settled.residualGlyceridesKg).toBeCloseTo(0, 9);
    expect(settled.yieldPercent).toBeCloseTo(100.455, 3);
  });

  test('are 100 of ester and 10 of glycerol from 100 of oil and 10 of alcohol, rounded to tens (NREL guide)', () => {
    const settled = settledLayers({ ...TRIOLEIN, oilMolarMassGPerMol: 877, methanolKg: 22 });
    const tens = (kg: number) => Math.round(kg / 10) * 10;
    expect([settled.esterKg, settled.glycerolKg, settled.methanolUsedKg].map(tens)).toEqual([100, 10, 10]);
  });

  test('give the ester about a tenth of its mass from the alcohol (ASTM D6751)', () => {
    const { methanolUsedKg, esterKg } = settledLayers(TRIOLEIN);
    // 'About 10 %': to a percentage point.
    expect(Math.abs(methanolUsedKg / esterKg - 0.1)).toBeLessThan(0.01);
  });
});

describe('methanol between the layers', () => {
  // Share of it in the ester, computed with the Python package thermo 0.6.1: liquid-liquid equilibrium of
  // 3 mol methyl oleate, 1 mol glycerol and the methanol left, by modified UNIFAC (Dortmund) and by UNIFAC,
  // at 20 and 50 °C. Predictions, not measurements.
  test.for([
    [1.5, 0.2397],
    [1.5, 0.2937],
    [1.5, 0.2752],
    [1.5, 0.3291],
    [3, 0.2342],
    [3, 0.2863],
    [3, 0.2494],
    [3, 0.3043],
  ] as const)('with %d mol left is in the ester to %d of it', ([left, share]) => {
    const methanolKg = ((3 + left) * 32.042 * 100) / 885.453;
    const { fuel, methanolLeftKg } = settledLayers({ ...TRIOLEIN, methanolKg });
    expect(fuel.methanolKg.low / methanolLeftKg).toBeLessThan(share);
    expect(fuel.methanolKg.high / methanolLeftKg).toBeGreaterThan(share);
  });

  test('is for the most part in the glycerol (Csernica & Hsu 2011, Ind. Eng. Chem. Res. 50:1012, abstract)', () => {
    const { glycerol, methanolLeftKg } = settledLayers(TRIOLEIN);
    expect(glycerol.methanolKg.low / methanolLeftKg).toBeGreaterThan(0.5);
  });
});

describe('soap', () => {
  test('of 282.468 kg of oleic acid and 39.997 kg of NaOH is 304.45 kg, and 18.015 kg of water (atomic weights)', () => {
    const { soapKg, fuel, glycerol, esterKg } = settledLayers({
      ...TRIOLEIN,
      oilKg: 282.468,
      methanolKg: 0,
      baseG: 39_997,
      soapG: 304_450,
    });
    expect(soapKg).toBeCloseTo(304.45, 9);
    expect(esterKg).toBe(0);
    const water = fuel.kg.value + glycerol.kg.value - soapKg;
    expect(water).toBeCloseTo(18.015, 2);
  });

  test('is counted no further than the base reaches', () => {
    expect(settledLayers({ ...TRIOLEIN, baseG: 399.97, soapG: 1e9 }).soapKg).toBeCloseTo(3.0445, 9);
    expect(settledLayers({ ...TRIOLEIN, baseG: 0, soapG: 1e9 }).soapKg).toBe(0);
  });

  test('takes its acid from the oil, so that there is less ester', () => {
    const { esterKg } = settledLayers({ ...TRIOLEIN, baseG: 1000, soapG: 3000 });
    expect(esterKg).toBeLessThan(settledLayers(TRIOLEIN).esterKg);
  });
});

describe('what stands in the vessel', () => {
  test('is what went in, whatever the amounts', () => {
    fc.assert(
      fc.property(fc.oneof(anyBatch, usualBatch), (batch) => {
        const settled = settledLayers(batch);
        const { fuel, glycerol } = settled;
        const inKg = batch.oilKg + batch.methanolKg + batch.baseG / 1000;
        const near = (kg: number, wanted: number) =>
          expect(Math.abs(kg - wanted)).toBeLessThanOrEqual(1e-9 * inKg);
        near(fuel.kg.value + glycerol.kg.value, inKg);
        near(fuel.kg.low + glycerol.kg.high, inKg);
        near(fuel.kg.high + glycerol.kg.low, inKg);
        near(fuel.methanolKg.value + glycerol.methanolKg.value, settled.methanolLeftKg);
        near(fuel.soapKg.value + glycerol.soapKg.value, settled.soapKg);
        near(settled.methanolUsedKg + settled.methanolLeftKg, batch.methanolKg);
      }),
    );
  });

  test('is in bands in order, with no NaN, whatever the amounts', () => {
    fc.assert(
      fc.property(fc.oneof(anyBatch, usualBatch), (batch) => {
        const { fuel, glycerol, washedL, ...sums } = settledLayers(batch);
        expect([...bands(fuel), ...bands(glycerol), washedL].every(isInOrder)).toBe(true);
        expect(washedL.value).toBeLessThanOrEqual(fuel.litres.value * (1 + 1e-12));
        expect(Object.values(sums).every((sum) => sum >= 0 && sum < Number.POSITIVE_INFINITY)).toBe(true);
        expect(fuel.methanolPercent.high).toBeLessThanOrEqual(100);
        expect(glycerol.methanolPercent.high).toBeLessThanOrEqual(100);
      }),
    );
  });

  test('is nothing of nothing', () => {
    const nothing = settledLayers({ ...TRIOLEIN, oilKg: 0, methanolKg: 0 });
    expect(nothing.yieldPercent).toBe(0);
    expect([...bands(nothing.fuel), ...bands(nothing.glycerol)].every(({ high }) => high === 0)).toBe(true);
  });

  test('is more ester, more glycerol and less methanol the further it reacted', () => {
    fc.assert(
      fc.property(usualBatch, (batch) => {
        const less = settledLayers({ ...batch, conversionPercent: batch.conversionPercent - 5 });
        const more = settledLayers(batch);
        expect(more.esterKg).toBeGreaterThan(less.esterKg);
        expect(more.glycerolKg).toBeGreaterThan(less.glycerolKg);
        expect(more.methanolLeftKg).toBeLessThan(less.methanolLeftKg);
        expect(more.residualGlyceridesKg).toBeLessThan(less.residualGlyceridesKg);
      }),
    );
  });

  test('is as dense as its parts allow, and the glycerol is the lower layer', () => {
    fc.assert(
      fc.property(usualBatch, (batch) => {
        const { fuel, glycerol } = settledLayers(batch);
        const fuelDensity = fuel.kg.value / fuel.litres.value;
        const glycerolDensity = glycerol.kg.value / glycerol.litres.value;
        // Methanol 0.791, pure glycerol 1.261 kg/L at 20 °C (CRC Handbook).
        expect(fuelDensity).toBeGreaterThan(0.791);
        expect(glycerolDensity).toBeGreaterThan(fuelDensity);
        expect(glycerolDensity).toBeLessThan(1.261);
      }),
    );
  });

  test('reacts no further than the methanol reaches', () => {
    const { methanolLeftKg, esterKg } = settledLayers({ ...TRIOLEIN, methanolKg: 5.428 });
    expect(methanolLeftKg).toBeCloseTo(0, 9);
    expect(esterKg).toBeCloseTo(100.455 / 2, 2);
  });

  test('scales from a jar to a reactor', () => {
    const jar = settledLayers({ ...TRIOLEIN, oilKg: 0.1, methanolKg: 0.021712 });
    const reactor = settledLayers({ ...TRIOLEIN, oilKg: 1000, methanolKg: 217.12 });
    expect(reactor.fuel.litres.high / jar.fuel.litres.high).toBeCloseTo(10_000, 6);
    expect(reactor.glycerol.litres.low / jar.glycerol.litres.low).toBeCloseTo(10_000, 6);
  });

  test.for([
    ['oilKg', -1],
    ['oilMolarMassGPerMol', 299],
    ['oilMolarMassGPerMol', 1501],
    ['methanolKg', -1],
    ['baseG', -1],
    ['soapG', Number.NaN],
    ['conversionPercent', 101],
    ['base', 'lime'],
  ] as const)('is refused with %s of %s', ([field, value]) => {
    const batch = { ...TRIOLEIN, [field]: value };
    expect(() => settledLayers(batch)).toThrow(expect.objectContaining({ code: 'out-of-range', field }));
  });
});
