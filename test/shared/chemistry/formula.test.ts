import fc from 'fast-check';
import { describe, expect, expectTypeOf, test } from 'vitest';
import { allowed, extrapolated, formula, OutOfRange } from '../../../shared/chemistry/formula.ts';
import { refusal } from './ranges.ts';

const WEIGHT = { what: 'what is weighed', unit: 'kg', least: 0, most: 100, valid: [1, 50] } as const;
const RUNS = { what: 'runs', unit: 'mL', least: 0, most: 10, valid: [1, 5], list: true } as const;
const KIND = { what: 'what it is of', oneOf: ['tin', 'glass'] } as const;
const COUNT = { what: 'how many', unit: '', least: 1, most: 12 } as const;

const postage = formula(
  {
    gives: 'Postage',
    unit: '€',
    formula: 'p = count · (price · weightKg + sum(runs))',
    inputs: { weightKg: WEIGHT, runs: RUNS, kind: KIND, count: COUNT },
    constants: { price: 2 },
    source: 'made up',
    uncertainty: 'None',
  },
  ({ weightKg, runs, count }) => count * (2 * weightKg + runs.reduce((sum, run) => sum + run, 0)),
);
const TAKEN = { weightKg: 3, runs: [1, 2], kind: 'tin', count: 2 } as const;

describe('a formula', () => {
  test('computes, and carries its own text', () => {
    expect(postage(TAKEN)).toBe(18);
    expect({ ...postage }).toMatchObject({
      gives: 'Postage',
      unit: '€',
      constants: { price: 2 },
      source: 'made up',
    });
    expect(postage.inputs.weightKg).toBe(WEIGHT);
  });

  test('knows the types of what it takes and gives', () => {
    expectTypeOf(postage).parameter(0).toEqualTypeOf<{
      readonly weightKg: number;
      readonly runs: readonly number[];
      readonly kind: 'tin' | 'glass';
      readonly count: number;
    }>();
    expectTypeOf(postage).returns.toEqualTypeOf<number>();
  });

  test('hands on what is computed as it is', () => {
    const band = { low: 1, value: 2, high: 3 };
    const text = { gives: '', unit: '', formula: '', source: '', uncertainty: '' };
    expect(formula({ ...text, inputs: { count: COUNT } }, () => band)({ count: 1 })).toBe(band);
  });

  test('takes the ends of a range', () => {
    expect(postage({ ...TAKEN, weightKg: 0, count: 1, runs: [0] })).toBe(0);
    expect(postage({ ...TAKEN, weightKg: 100, count: 12, runs: [10, 0, 10] })).toBe(2640);
    expect(postage({ ...TAKEN, kind: 'glass' })).toBe(18);
  });

  test('is not computed where an argument is out of range, and says which', () => {
    let computed = 0;
    const counting = formula({ ...postage, inputs: postage.inputs }, () => ++computed);
    const anything = fc.oneof(fc.double(), fc.string(), fc.constantFrom(null, undefined, true, [], {}, [1]));
    const taken = (value: unknown) => typeof value === 'number' && value >= 0 && value <= 100;
    fc.assert(
      fc.property(anything, (value) => {
        const before = computed;
        const call = () => counting({ ...TAKEN, weightKg: value as number });
        if (taken(value)) {
          call();
          expect(computed).toBe(before + 1);
        } else {
          expect(refusal(call)).toMatchObject({ field: 'weightKg', value, allowed: '0 to 100 kg' });
          expect(computed).toBe(before);
        }
      }),
    );
  });

  test.for([
    ['weightKg', -1e-9, '0 to 100 kg'],
    ['weightKg', 100.0001, '0 to 100 kg'],
    ['weightKg', Number.NaN, '0 to 100 kg'],
    ['weightKg', Number.NEGATIVE_INFINITY, '0 to 100 kg'],
    ['weightKg', '3', '0 to 100 kg'],
    ['weightKg', [3], '0 to 100 kg'],
    ['count', 0, '1 to 12'],
    ['count', undefined, '1 to 12'],
    ['runs', [], '0 to 10 mL'],
    ['runs', 3, '0 to 10 mL'],
    ['runs', [3, 11], '0 to 10 mL'],
    ['runs', [3, Number.NaN], '0 to 10 mL'],
    ['runs', [3, '4'], '0 to 10 mL'],
    ['runs', undefined, '0 to 10 mL'],
    ['kind', 'paper', 'tin or glass'],
    ['kind', 'Tin', 'tin or glass'],
    ['kind', 1, 'tin or glass'],
    ['kind', undefined, 'tin or glass'],
  ] as const)('refuses %s %j', ([field, value, words]) => {
    const error = refusal(() => postage({ ...TAKEN, [field]: value } as never));
    expect(error).toBeInstanceOf(RangeError);
    expect(error).toMatchObject({ code: 'out-of-range', field, value, allowed: words });
  });

  test('names the first of several that are out of range, in the order of its inputs', () => {
    const call = () => postage({ weightKg: -1, runs: [], kind: 'paper' as 'tin', count: 99 });
    expect(refusal(call).field).toBe('weightKg');
  });

  test('that lacks arguments altogether names the first', () => {
    expect(refusal(() => postage({} as never)).field).toBe('weightKg');
  });
});

test('an error tells field, value and what is allowed in its message', () => {
  const { message } = new OutOfRange('pressureHPa', 5, '20 to 1100 hPa');
  for (const part of ['pressureHPa', '5', '20 to 1100 hPa']) expect(message).toContain(part);
});

describe('what is allowed, in words', () => {
  test('is the range with its unit, or the words', () => {
    expect(allowed(WEIGHT)).toBe('0 to 100 kg');
    expect(allowed(COUNT)).toBe('1 to 12');
    expect(allowed(KIND)).toBe('tin or glass');
    expect(allowed(RUNS)).toBe('0 to 10 mL');
  });

  test('and what the source vouches for, where that is less', () => {
    expect(allowed(WEIGHT, 'vouched')).toBe('1 to 50 kg');
    expect(allowed(RUNS, 'vouched')).toBe('1 to 5 mL');
    expect(allowed(COUNT, 'vouched')).toBe('1 to 12');
    expect(allowed(KIND, 'vouched')).toBe('tin or glass');
  });
});

describe('what is extrapolated', () => {
  test('is named where it lies beyond what the source vouches for, its ends being within', () => {
    expect(extrapolated(postage, TAKEN)).toEqual([]);
    expect(extrapolated(postage, { ...TAKEN, weightKg: 1 })).toEqual([]);
    expect(extrapolated(postage, { ...TAKEN, weightKg: 50 })).toEqual([]);
    expect(extrapolated(postage, { ...TAKEN, weightKg: 0.999 })).toEqual(['weightKg']);
    expect(extrapolated(postage, { ...TAKEN, weightKg: 50.001 })).toEqual(['weightKg']);
  });

  test('counts a list by any of its numbers', () => {
    expect(extrapolated(postage, { ...TAKEN, runs: [1, 5, 3] })).toEqual([]);
    expect(extrapolated(postage, { ...TAKEN, runs: [1, 5.1, 3] })).toEqual(['runs']);
    expect(extrapolated(postage, { ...TAKEN, weightKg: 99, runs: [0.5] })).toEqual(['weightKg', 'runs']);
  });

  test('is never what has no narrower range, nor a word', () => {
    expect(extrapolated(postage, { ...TAKEN, count: 12, kind: 'glass' })).toEqual([]);
  });
});
