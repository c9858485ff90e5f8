/**
 * A formula is a function of named quantities that carries what has to be said of it: the arguments'
 * units and ranges, the constants, the source, how far it may be trusted. The ranges are checked at
 * every call; the plan's workings and the chemistry page of the docs are made from the same words.
 */

/** An argument that is a number. */
export interface NumberInput {
  readonly what: string;
  /** '' for a pure number. */
  readonly unit: string;
  /** Range that is taken; beyond it the call throws. */
  readonly least: number;
  readonly most: number;
  /** Range that the source vouches for, where that is narrower: beyond it the result is extrapolated. */
  readonly valid?: readonly [least: number, most: number];
  /** A list of at least one such number. */
  readonly list?: true;
}

/** An argument that is one of several words. */
export interface ChoiceInput {
  readonly what: string;
  readonly oneOf: readonly string[];
}

export type Inputs = Readonly<Record<string, NumberInput | ChoiceInput>>;

export type Arguments<I extends Inputs> = {
  readonly [K in keyof I]: I[K] extends { readonly oneOf: readonly (infer Choice)[] }
    ? Choice
    : I[K] extends { readonly list: true }
      ? readonly number[]
      : number;
};

/** An estimate with its bounds. `low` ≤ `value` ≤ `high`. */
export interface Band {
  readonly low: number;
  readonly value: number;
  readonly high: number;
}

export interface FormulaText<I extends Inputs = Inputs> {
  /** What it gives, as a heading: 'Boiling point of methanol'. */
  readonly gives: string;
  /** Unit of what it gives; '' for a pure number. */
  readonly unit: string;
  /** In symbols, which are the names of the inputs and constants. */
  readonly formula: string;
  readonly inputs: I;
  readonly constants?: Readonly<Record<string, number>>;
  /** Where formula and constants come from; 'common practice, no source' where that is so. */
  readonly source: string;
  /** How far off it may be, and from what that is known. */
  readonly uncertainty: string;
  /** What other sources say. */
  readonly disagreement?: string;
}

export type Formula<I extends Inputs = Inputs, R = number> = ((args: Arguments<I>) => R) & FormulaText<I>;

/** A quantity outside the range in which it is taken. `code` is `out-of-range`. */
export class OutOfRange extends RangeError {
  readonly code = 'out-of-range';
  readonly field: string;
  readonly value: unknown;
  /** '20 to 1100 hPa', 'NaOH or KOH'. */
  readonly allowed: string;

  constructor(field: string, value: unknown, allowed: string) {
    super(`${field} is ${String(value)}, and has to be ${allowed}`);
    this.field = field;
    this.value = value;
    this.allowed = allowed;
  }
}

/**
 * Makes a formula of its text and its computation. The computation is given arguments that are in
 * range, and what it gives is handed on as it is.
 */
export function formula<const I extends Inputs, R = number>(
  text: FormulaText<I>,
  compute: (args: Arguments<I>) => R,
): Formula<I, R> {
  const inputs = Object.entries<NumberInput | ChoiceInput>(text.inputs);
  const checked = (args: Arguments<I>): R => {
    for (const [name, input] of inputs) {
      const value: unknown = args[name];
      if (!isTaken(input, value)) throw new OutOfRange(name, value, allowed(input));
    }
    return compute(args);
  };
  return Object.assign(checked, text);
}

function isTaken(input: NumberInput | ChoiceInput, value: unknown): boolean {
  if ('oneOf' in input) return input.oneOf.includes(value as string);
  const isIn = (number: unknown) =>
    typeof number === 'number' && number >= input.least && number <= input.most;
  return input.list ? Array.isArray(value) && value.length > 0 && value.every(isIn) : isIn(value);
}

/** What an argument may be, in words; `vouched` for what the source vouches for. */
export function allowed(input: NumberInput | ChoiceInput, which: 'taken' | 'vouched' = 'taken'): string {
  if ('oneOf' in input) return input.oneOf.join(' or ');
  const [least, most] = which === 'vouched' && input.valid ? input.valid : [input.least, input.most];
  return `${least} to ${most}${input.unit === '' ? '' : ` ${input.unit}`}`;
}

/** Names of the arguments that lie beyond what the source vouches for. */
export function extrapolated<I extends Inputs, R>(
  { inputs }: Formula<I, R>,
  args: Arguments<NoInfer<I>>,
): string[] {
  return Object.entries<NumberInput | ChoiceInput>(inputs)
    .filter(([name, input]) => {
      if ('oneOf' in input || input.valid === undefined) return false;
      const [least, most] = input.valid;
      return [args[name] as number | number[]].flat().some((value) => value < least || value > most);
    })
    .map(([name]) => name);
}
