import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import { esterAtRest, type Pot, react } from '../../../shared/chemistry/three-steps.ts';
import { share } from '../../support/thorough.ts';
import { freshPot, type Rates, reacted, stepsOf } from './whole-system.ts';

/**
 * Published and made-up rates, L/(mol min), each taken as if a litre held a mol of oil: for the integrator only
 * how they differ matters. Published ones read in the supplement of Opara & Oh.
 */
const RATES = {
  'Noureddini & Zhu 1997, 50 °C': [0.05, 0.11, 0.215, 1.228, 0.242, 0.007],
  'Vicente 2005, 1.5 % KOH, 65 °C, stiff': [4, 27, 55, 65.5, 0.91, 0.0001],
  'Vicente 2005, 0.5 % KOH, 55 °C': [0.8, 5.95, 10.5, 15.9, 0.34, 0.0035],
  'Jansri 2011, 65 °C, fast at first': [2.62, 0.7, 1.21, 0.4, 2.36, 0.028],
  'Klofutar 2010, 40 °C': [0.0247, 0.0558, 0.0703, 0.0015, 0.0394, 0.0042],
  'Karmee 2006, slow': [0.0286, 0.0144, 0.0058, 0.0213, 0.0111, 0.0005],
  'Okullo 2011, the last step against it': [0.103, 0.031, 0.063, 0.01, 0.016, 0.175],
  'of the model’s shape, much catalyst': [7, 7, 80, 80 / 0.18, 30, 30 / 185],
} as const satisfies Record<string, Rates>;

const each = Object.entries<Rates>(RATES);
const amounts = (pot: Pot): number[] => Object.values(pot);

describe('the integrator against ODEX (Hairer, Nørsett & Wanner) run to 1e-10', () => {
  // A step may be 1e-5 mol off, and later steps carry a part of that along.
  const TOLERANCE = 3e-5;
  test.for(each)('%s', ([, rates]) => {
    for (const methanol of [1, 3, 6, 12, 24]) {
      for (const minutes of [0.01, 0.5, 1, 5, 10, 60]) {
        const pot = freshPot(methanol);
        expect(react(pot, stepsOf(rates), minutes)).toBe(minutes);
        const reference = amounts(reacted(freshPot(methanol), rates, minutes));
        amounts(pot).forEach((amount, i) => {
          expect(Math.abs(amount - reference[i]!)).toBeLessThan(TOLERANCE);
        });
      }
    }
  });

  test('goes on from a pot that is part of the way, without glycerol and with new methanol', () => {
    const start = { tri: 0.1, di: 0.08, mono: 0.05, glycerol: 0, ester: 2.49, methanol: 1.7 };
    for (const [, rates] of each) {
      const pot = { ...start };
      react(pot, stepsOf(rates), 7);
      const reference = amounts(reacted(start, rates, 7));
      amounts(pot).forEach((amount, i) => {
        expect(Math.abs(amount - reference[i]!)).toBeLessThan(TOLERANCE);
      });
    }
  });

  test('in many short pieces gives what it gives in one', () => {
    const rates = RATES['Noureddini & Zhu 1997, 50 °C'];
    const pot = freshPot(6);
    for (let i = 0; i < 600; i++) react(pot, stepsOf(rates), 0.1);
    expect(Math.abs(pot.ester - reacted(freshPot(6), rates, 60).ester)).toBeLessThan(TOLERANCE);
  });
});

describe('the time until there is so much ester', () => {
  test.for(each)('is when ODEX has as much: %s', ([, rates]) => {
    for (const part of [0.1, 0.5, 0.9]) {
      const pot = freshPot(6);
      const ester = part * reacted(pot, rates, 240).ester;
      const minutes = react(pot, stepsOf(rates), 240, ester);
      // Bisected to a ten-thousandth of the last step.
      expect(Math.abs(pot.ester - ester)).toBeLessThan(1e-4);
      expect(Math.abs(reacted(freshPot(6), rates, minutes).ester - ester)).toBeLessThan(1e-4);
      expect(minutes).toBeLessThan(240);
    }
  });

  test('is none where there is as much already, and all of it where it never comes', () => {
    const rates = stepsOf(RATES['Karmee 2006, slow']);
    const pot = freshPot(6);
    react(pot, rates, 5);
    const before = { ...pot };
    expect(react(pot, rates, 5, before.ester)).toBe(0);
    expect(pot).toEqual(before);
    expect(react(pot, rates, 5, 2.9)).toBe(5);
    expect(pot.ester).toBeGreaterThan(before.ester);
  });
});

describe('the ester at rest', () => {
  // Minutes by which each has come to rest.
  test.for([
    ['Noureddini & Zhu 1997, 50 °C', 1000],
    ['Vicente 2005, 0.5 % KOH, 55 °C', 600],
    ['Jansri 2011, 65 °C, fast at first', 600],
    ['Klofutar 2010, 40 °C', 5000],
    ['Karmee 2006, slow', 20_000],
    ['Okullo 2011, the last step against it', 5000],
    ['of the model’s shape, much catalyst', 100],
  ] as const)('is where a long run of ODEX ends: %s', ([name, minutes]) => {
    for (const methanol of [3, 6, 12, 24]) {
      const atRest = reacted(freshPot(methanol), RATES[name], minutes).ester;
      expect(Math.abs(esterAtRest(methanol, stepsOf(RATES[name]).equilibria) - atRest)).toBeLessThan(1e-6);
    }
  });

  const equilibria = fc.tuple(
    fc.double({ min: 0.05, max: 50, noNaN: true }),
    fc.double({ min: 0.05, max: 50, noNaN: true }),
    fc.double({ min: 0.05, max: 5000, noNaN: true }),
  );
  const methanol = fc.double({ min: 0, max: 1000, noNaN: true });

  test('is never more than the oil or the methanol can make, and no less with more methanol', () => {
    fc.assert(
      fc.property(equilibria, methanol, methanol, (of, one, other) => {
        const less = esterAtRest(Math.min(one, other), of);
        const more = esterAtRest(Math.max(one, other), of);
        expect(less).toBeGreaterThanOrEqual(0);
        expect(less).toBeLessThanOrEqual(Math.min(3, one, other));
        expect(more).toBeGreaterThanOrEqual(less - 1e-12);
      }),
    );
  });

  test('is where nothing goes on: a pot left alone long enough has it', () => {
    fc.assert(
      fc.property(equilibria, fc.double({ min: 0.5, max: 30, noNaN: true }), (of, start) => {
        const pot = freshPot(start);
        react(pot, { rates: [1, 1, 1], equilibria: of }, 1e6);
        expect(Math.abs(pot.ester - esterAtRest(start, of))).toBeLessThan(1e-6);
      }),
    );
  });
});

describe('a pot', () => {
  const speed = fc.double({ min: -4, max: 3, noNaN: true }).map((exponent) => 10 ** exponent);
  const run = fc.record({
    methanol: fc.double({ min: 0, max: 100, noNaN: true }),
    rates: fc.tuple(speed, speed, speed),
    equilibria: fc.tuple(
      fc.double({ min: 0.05, max: 50, noNaN: true }),
      fc.double({ min: 0.05, max: 50, noNaN: true }),
      fc.double({ min: 0.05, max: 5000, noNaN: true }),
    ),
    minutes: fc.double({ min: 0, max: 10_000, noNaN: true }),
  });

  test('keeps its glycerol, its methyl and its acyl, and nothing falls under none', () => {
    fc.assert(
      fc.property(run, ({ methanol, minutes, ...steps }) => {
        const pot = freshPot(methanol);
        react(pot, steps, minutes);
        const { tri, di, mono, glycerol, ester } = pot;
        expect(tri + di + mono + glycerol).toBeCloseTo(1, 9);
        expect(ester + pot.methanol).toBeCloseTo(methanol, 9);
        expect(3 * tri + 2 * di + mono + ester).toBeCloseTo(3, 9);
        expect(Math.min(...amounts(pot))).toBeGreaterThanOrEqual(-1e-6);
      }),
      { numRuns: share(1000) },
    );
  });

  test('of fresh oil has ever more ester', () => {
    fc.assert(
      fc.property(run, fc.nat(9), ({ methanol, minutes, ...steps }, pieces) => {
        const pot = freshPot(methanol);
        for (let i = 0; i <= pieces; i++) {
          const before = pot.ester;
          react(pot, steps, minutes / (pieces + 1));
          expect(pot.ester).toBeGreaterThanOrEqual(before - 1e-5);
        }
      }),
    );
  });

  test('without speed or without time stays as it is', () => {
    const pot = freshPot(6);
    react(pot, { rates: [0, 0, 0], equilibria: [1, 1, 1] }, 1e9);
    expect(pot).toEqual(freshPot(6));
    for (const minutes of [0, Number.MIN_VALUE, 1e-300, 1e-100]) {
      react(pot, stepsOf(RATES['Jansri 2011, 65 °C, fast at first']), minutes);
      expect(pot).toEqual(freshPot(6));
    }
  });
});
