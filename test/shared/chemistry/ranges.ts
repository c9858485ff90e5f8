import fc from 'fast-check';
import { expect } from 'vitest';
import {
  type Arguments,
  type Formula,
  type NumberInput,
  OutOfRange,
} from '../../../shared/chemistry/formula.ts';

/**
 * A formula of one quantity gives a number, never NaN or infinity, wherever it is taken, runs one way
 * throughout, and refuses by name what lies beyond.
 */
export function expectMonotone<Name extends string>(
  of: Formula<{ readonly [N in Name]: NumberInput }>,
  name: Name,
  way: 'rises' | 'falls',
): void {
  type Inputs = { readonly [N in Name]: NumberInput };
  const give = (value: number): number => of({ [name]: value } as unknown as Arguments<Inputs>);
  const { least, most } = of.inputs[name];
  const within = fc.double({ min: least, max: most, noNaN: true });
  fc.assert(
    fc.property(within, within, (one, other) => {
      const lower = give(Math.min(one, other));
      const higher = give(Math.max(one, other));
      expect(Number.isFinite(lower) && Number.isFinite(higher)).toBe(true);
      // What is nearer than a billionth of the range may be lost in rounding.
      if (Math.abs(one - other) > (most - least) * 1e-9) {
        expect(way === 'rises' ? higher > lower : higher < lower).toBe(true);
      }
    }),
  );
  const span = most - least;
  for (const value of [least - span * 1e-6, most + span * 1e-6, Number.NaN, Number.POSITIVE_INFINITY]) {
    expect(refusal(() => give(value))).toMatchObject({ code: 'out-of-range', field: name, value });
  }
}

/** The error of a call that has to be refused as out of range; its `allowed` says something. */
export function refusal(call: () => unknown): OutOfRange {
  try {
    call();
  } catch (error) {
    if (error instanceof OutOfRange) {
      expect(error.allowed).toMatch(/\d|or/);
      return error;
    }
    throw error;
  }
  throw new Error('was not refused');
}
