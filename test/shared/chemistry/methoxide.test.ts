import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import { BASE_KINDS, BASES } from '../../../shared/chemistry/bases.ts';
import { methanolBoilingC } from '../../../shared/chemistry/methanol.ts';
import { methoxidePeakC, methoxidePortionG } from '../../../shared/chemistry/methoxide.ts';
import { refusal } from './ranges.ts';

const number = (min: number, max: number) => fc.double({ min, max, noNaN: true });
const base = fc.constantFrom(...BASE_KINDS);

describe('the heat of solution in water', () => {
  // Enthalpies of formation at 298 K, kJ/mol: CRC Handbook, read in the tables of the Python package
  // chemicals. Na+ −240.1, K+ −252.4, OH− −230.0, NaOH(s) −425.8, KOH(s) −424.6.
  test('is the difference of the enthalpies of formation', () => {
    expect(BASES.NaOH.solutionHeatJPerMol / 1000).toBeCloseTo(240.1 + 230.0 - 425.8, 6);
    expect(BASES.KOH.solutionHeatJPerMol / 1000).toBeCloseTo(252.4 + 230.0 - 424.6, 6);
  });

  test('is within 0.3 kJ/mol of what the CRC Handbook prints, 44.51 and 57.61 (from memory)', () => {
    expect(Math.abs(BASES.NaOH.solutionHeatJPerMol / 1000 - 44.51)).toBeLessThan(0.3);
    expect(Math.abs(BASES.KOH.solutionHeatJPerMol / 1000 - 57.61)).toBeLessThan(0.3);
  });
});

describe('the highest temperature of methoxide', () => {
  // 200 mL of methanol, 158.3 g, at 2.53 J/(g K), the heat capacity of 25 °C: worked by hand.
  test.for([
    ['NaOH', 3.5, 9.6],
    ['NaOH', 5, 13.6],
    ['NaOH', 9, 24.1],
    ['KOH', 4.9, 12.4],
    ['KOH', 9, 22.5],
  ] as const)('from 25 °C by %s, %d g, is a rise of %d °C', ([kind, baseG, rise]) => {
    const peak = methoxidePeakC({ startC: 25, methanolKg: 0.1583, base: kind, baseG });
    // Half a unit of the last digit of the rise and of the heat capacity.
    expect(Math.abs(peak - 25 - rise)).toBeLessThanOrEqual(0.05 + (rise * 0.005) / 2.53);
  });

  test('is above what was measured: 10 g of KOH flake in 100 mL, 26 to 48 °C (an amateur’s measurement)', () => {
    // Flake of 95 % or more, in light insulation and glass of about 150 g: it has to be a bound of it with
    // the glass counted in, at 0.84 J/(g K), as well. Methanol of 26 °C: 0.7857 kg/L.
    const args = { startC: 26, methanolKg: 0.07857, base: 'KOH', baseG: 9.5 } as const;
    expect(methoxidePeakC(args)).toBeGreaterThan(48);
    const glassAsMethanolKg = (150 * 0.84) / 2533;
    const withGlass = methoxidePeakC({ ...args, methanolKg: args.methanolKg + glassAsMethanolKg });
    expect(withGlass).toBeGreaterThan(48);
    // A bound that is of use: no more than half as high again.
    expect(withGlass - 26).toBeLessThan(22 * 1.5);
  });

  test('by NaOH is far below that by as much KOH at the same catalyst strength for a litre of oil', () => {
    // 3.5 g and 7 g of flake, as guides have it for a litre of oil (common practice, no source).
    const rise = (kind: 'NaOH' | 'KOH', baseG: number) =>
      methoxidePeakC({ startC: 20, methanolKg: 0.17, base: kind, baseG }) - 20;
    expect(rise('NaOH', 3.5)).toBeLessThan(rise('KOH', 7 * 0.87));
  });

  test('is no less than with the heat capacity integrated on the way up, and at most 8 % more of a rise', () => {
    // DIPPR 100 in Perry’s Handbook, J/(kmol K).
    const meanJPerKgK = (fromC: number, toC: number) => {
      const [a, b] = [fromC + 273.15, toC + 273.15];
      const integral =
        105_800 * (b - a) - (362.23 / 2) * (b ** 2 - a ** 2) + (0.9379 / 3) * (b ** 3 - a ** 3);
      return integral / (b - a) / 32.042;
    };
    fc.assert(
      fc.property(base, number(-10, 40), number(1, 45), (kind, startC, trueRise) => {
        const peakC = startC + trueRise;
        const { solutionHeatJPerMol, solidHeatCapacityJPerMolK, gPerMol } = BASES[kind];
        // Base that takes a kilogram to that peak with the heat capacity integrated.
        const mol =
          (meanJPerKgK(startC, peakC) * trueRise) /
          (solutionHeatJPerMol - solidHeatCapacityJPerMolK * trueRise);
        const bound = methoxidePeakC({ startC, methanolKg: 1, base: kind, baseG: mol * gPerMol }) - startC;
        expect(bound).toBeGreaterThanOrEqual(trueRise * (1 - 1e-9));
        expect(bound).toBeLessThan(trueRise * 1.08);
      }),
    );
  });

  test('in a jar with five times the catalyst is near boiling', () => {
    // 0.2 L of oil at five times 3.5 g/L, in 50 mL of methanol of 25 °C.
    const peak = methoxidePeakC({ startC: 25, methanolKg: 0.0393, base: 'NaOH', baseG: 3.5 });
    expect(peak).toBeGreaterThan(methanolBoilingC({ pressureHPa: 1013.25 }) - 5);
  });
});

describe('a portion', () => {
  test('takes the methanol to the peak it was worked out for', () => {
    fc.assert(
      fc.property(
        base,
        number(-40, 65),
        number(-40, 65),
        number(1e-6, 300_000),
        (kind, startC, peakC, methanolKg) => {
          const baseG = methoxidePortionG({ startC, peakC, methanolKg, base: kind });
          const reached = methoxidePeakC({ startC, methanolKg, base: kind, baseG });
          expect(reached).toBeCloseTo(Math.max(startC, peakC), 8);
        },
      ),
    );
  });

  test('of KOH for 200 mL from 25 °C to 47.5 °C is the 9 g of the table above', () => {
    const portion = methoxidePortionG({ startC: 25, peakC: 47.5, methanolKg: 0.1583, base: 'KOH' });
    expect(Math.abs(portion - 9)).toBeLessThan(0.03);
  });

  test('is nothing where the methanol is that warm already', () => {
    expect(methoxidePortionG({ startC: 50, peakC: 45, methanolKg: 10, base: 'KOH' })).toBe(0);
  });
});

describe('over the whole range', () => {
  test('more base is never cooler, more methanol never hotter, and all are numbers', () => {
    fc.assert(
      fc.property(
        base,
        number(-40, 65),
        number(1e-6, 300_000),
        number(1e-6, 300_000),
        number(0, 1e9),
        number(0, 1e9),
        (kind, startC, oneKg, otherKg, oneG, otherG) => {
          const peak = (methanolKg: number, baseG: number) =>
            methoxidePeakC({ startC, methanolKg, base: kind, baseG });
          const [lessKg, moreKg] = [Math.min(oneKg, otherKg), Math.max(oneKg, otherKg)];
          const [lessG, moreG] = [Math.min(oneG, otherG), Math.max(oneG, otherG)];
          expect(Number.isFinite(peak(lessKg, moreG))).toBe(true);
          expect(peak(lessKg, lessG)).toBeGreaterThanOrEqual(startC);
          // Where the base outweighs the methanol by far, the last digit is not to be trusted.
          expect(peak(lessKg, lessG)).toBeLessThanOrEqual(peak(lessKg, moreG) + 1e-9);
          expect(peak(moreKg, lessG)).toBeLessThanOrEqual(peak(lessKg, lessG) + 1e-9);
        },
      ),
    );
  });

  test('a jar gets as hot as a thousand litres of the same mix', () => {
    fc.assert(
      fc.property(base, number(-10, 40), number(0, 60), number(0.01, 1000), (kind, startC, gPerKg, scale) => {
        const at = (methanolKg: number) =>
          methoxidePeakC({ startC, methanolKg, base: kind, baseG: gPerKg * methanolKg });
        expect(at(scale)).toBeCloseTo(at(1), 8);
      }),
    );
  });

  const peak = { startC: 20, methanolKg: 10, base: 'KOH', baseG: 100 } as const;
  const portion = { startC: 20, peakC: 45, methanolKg: 10, base: 'KOH' } as const;
  test.for([
    ['startC', () => methoxidePeakC({ ...peak, startC: 65.1 })],
    ['methanolKg', () => methoxidePeakC({ ...peak, methanolKg: 0 })],
    ['base', () => methoxidePeakC({ ...peak, base: 'K' as 'KOH' })],
    ['baseG', () => methoxidePeakC({ ...peak, baseG: -1 })],
    ['startC', () => methoxidePortionG({ ...portion, startC: Number.NaN })],
    ['peakC', () => methoxidePortionG({ ...portion, peakC: 66 })],
    ['methanolKg', () => methoxidePortionG({ ...portion, methanolKg: 0 })],
  ] as const)('what is out of it is refused by the name %s', ([field, call]) => {
    expect(refusal(call).field).toBe(field);
  });
});
