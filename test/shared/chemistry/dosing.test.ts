import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import { mixedC } from '../../../shared/chemistry/dosing.ts';
import { refusal } from './ranges.ts';

const number = (min: number, max: number) => fc.double({ min, max, noNaN: true });
const charge = fc.record({
  oilKg: number(1e-6, 100_000),
  oilC: number(-20, 150),
  methoxideKg: number(0, 500_000),
  methoxideC: number(-40, 65),
});

describe('oil and methoxide just mixed', () => {
  test('at 60 and 20 °C, a kilogram of triolein and 217 g of methanol, are at 51.7 °C', () => {
    // By hand: triolein 2.083 kJ/(kg K) at 60 °C (Zabransky), methanol 2.503 at 20 °C (DIPPR 100, Perry).
    const byHand = (1 * 2.083 * 60 + 0.217 * 2.503 * 20) / (1 * 2.083 + 0.217 * 2.503);
    expect(byHand).toBeCloseTo(51.7, 1);
    const computed = mixedC({ oilKg: 1, oilC: 60, methoxideKg: 0.217, methoxideC: 20 });
    expect(Math.abs(computed - byHand)).toBeLessThan(0.01);
  });

  test('are between the two', () => {
    fc.assert(
      fc.property(charge, (args) => {
        const mixed = mixedC(args);
        const ulp = 1e-12 * 150;
        expect(mixed).toBeGreaterThanOrEqual(Math.min(args.oilC, args.methoxideC) - ulp);
        expect(mixed).toBeLessThanOrEqual(Math.max(args.oilC, args.methoxideC) + ulp);
      }),
    );
  });

  test('are as warm as both where both are the same', () => {
    fc.assert(
      fc.property(charge, number(-20, 65), (args, bothC) => {
        expect(mixedC({ ...args, oilC: bothC, methoxideC: bothC })).toBeCloseTo(bothC, 12);
      }),
    );
  });

  test('are as warm as the oil without methoxide, and no warmer with more of a colder one', () => {
    fc.assert(
      fc.property(charge, number(0, 500_000), (args, otherKg) => {
        expect(mixedC({ ...args, methoxideKg: 0 })).toBeCloseTo(args.oilC, 12);
        fc.pre(args.methoxideC < args.oilC);
        const [less, more] = [Math.min(args.methoxideKg, otherKg), Math.max(args.methoxideKg, otherKg)];
        expect(mixedC({ ...args, methoxideKg: more })).toBeLessThanOrEqual(
          mixedC({ ...args, methoxideKg: less }) + 1e-9,
        );
      }),
    );
  });

  test('do not depend on the size of the batch', () => {
    fc.assert(
      fc.property(number(0.001, 1000), number(0, 65), number(0, 40), (scale, oilC, methoxideC) => {
        const at = (kg: number) => mixedC({ oilKg: kg, oilC, methoxideKg: kg * 0.19, methoxideC });
        expect(at(scale)).toBeCloseTo(at(1), 9);
      }),
    );
  });
});

const args = { oilKg: 90, oilC: 55, methoxideKg: 17, methoxideC: 25 };
test.for([
  ['oilKg', () => mixedC({ ...args, oilKg: 0 })],
  ['oilC', () => mixedC({ ...args, oilC: 151 })],
  ['methoxideKg', () => mixedC({ ...args, methoxideKg: -1 })],
  ['methoxideC', () => mixedC({ ...args, methoxideC: Number.NaN })],
] as const)('what is out of range is refused by the name %s', ([field, call]) => {
  expect(refusal(call).field).toBe(field);
});
