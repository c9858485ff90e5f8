import type { Band } from '../chemistry/formula.ts';

/** `name`, `nameLow` and `nameHigh` of an estimate. */
export type Bounded<Name extends string> = Record<Name | `${Name}Low` | `${Name}High`, number>;

/** The three fields of an estimate. */
export const bounded = <Name extends string>(name: Name, { low, value, high }: Band): Bounded<Name> =>
  ({ [name]: value, [`${name}Low`]: low, [`${name}High`]: high }) as Bounded<Name>;
