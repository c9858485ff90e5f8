import { type Decoder, damaged, Encoder } from './entropy-coder.ts';
import { decodeIntegers, encodeIntegers } from './integer-column.ts';

/**
 * A column of finite doubles. Most instruments count in steps, of which a power of ten or two makes whole
 * numbers; others take few different values (those of a scale that was converted), which are listed. What
 * is neither is kept as it is. All come back as the same bits.
 */
export function encodeValues(values: ArrayLike<number>, out: Encoder): void {
  const decimal = scaleOf(values, 10);
  if (decimal !== null && decimal.exponent <= FEW_DECIMALS) {
    out.append(scaled(values, decimal));
    return;
  }
  const scales = [decimal, scaleOf(values, 2)].filter((scale) => scale !== null);
  const forms = [...scales.map((scale) => scaled(values, scale)), listed(values), plain(values)];
  const shortest = forms
    .filter((form) => form !== null)
    .reduce((least, form) => (form.length < least.length ? form : least));
  out.append(shortest);
}

export function decodeValues(count: number, from: Decoder): Float64Array {
  const form = from.bits(FORM_BITS);
  if (form === FORMS.scaled) return decodeScaled(count, from);
  if (form === FORMS.listed) return decodeListed(count, from);
  if (form !== FORMS.plain) throw damaged('the form of the values');
  return Float64Array.from({ length: count }, () => finite(from.double()));
}

const FORMS = { scaled: 0, listed: 1, plain: 2 } as const;
const FORM_BITS = 2;
const EXPONENT_BITS = 6;
/** Values are whole numbers divided by a power of 10 or 2, which one division gives back as they were. */
interface Scale {
  base: 10 | 2;
  exponent: number;
  divisor: number;
}

/** Powers of ten that doubles hold exactly; read as text, since `**` need not be exact. */
const TENS = Array.from({ length: 23 }, (_, exponent) => Number(`1e${exponent}`));
const TWOS = Array.from({ length: 61 }, (_, exponent) => 2 ** exponent);
const DIVISORS = { 10: TENS, 2: TWOS } as const;
/** Whole numbers as short as these cannot be worth another form. Steps of 1/16 have four decimals. */
const FEW_DECIMALS = 6;

function finite(value: number): number {
  if (!Number.isFinite(value)) throw damaged('a value');
  return value;
}

/** The smallest power that makes whole numbers of all values. */
function scaleOf(values: ArrayLike<number>, base: Scale['base']): Scale | null {
  const exponent = DIVISORS[base].findIndex((divisor) => makesWhole(values, divisor));
  return exponent < 0 ? null : { base, exponent, divisor: DIVISORS[base][exponent]! };
}

function makesWhole(values: ArrayLike<number>, divisor: number): boolean {
  for (let i = 0; i < values.length; i++) {
    const whole = wholeOf(values[i]!, divisor);
    if (!Number.isSafeInteger(whole) || !Object.is(whole / divisor, values[i])) return false;
  }
  return true;
}

const wholeOf = (value: number, divisor: number): number => Math.floor(value * divisor + 0.5);

function scaled(values: ArrayLike<number>, { base, exponent, divisor }: Scale): Encoder {
  const out = new Encoder();
  out.bits(FORMS.scaled, FORM_BITS);
  out.bits(base === 10 ? 0 : 1, 1);
  out.bits(exponent, EXPONENT_BITS);
  encodeIntegers(
    Float64Array.from(values, (value) => wholeOf(value, divisor)),
    out,
  );
  return out;
}

function decodeScaled(count: number, from: Decoder): Float64Array {
  const base = from.bits(1) === 0 ? 10 : 2;
  const exponent = from.bits(EXPONENT_BITS);
  const divisor = DIVISORS[base][exponent];
  if (divisor === undefined) throw damaged('the scale of the values');
  const values = decodeIntegers(count, from);
  for (let i = 0; i < count; i++) values[i] = values[i]! / divisor;
  return values;
}

/** More different values than one in so many cannot be worth a list. */
const LEAST_REPEATS = 4;

/** The different values, ascending, so that neighbours have neighbouring numbers; then which each is. */
function listed(values: ArrayLike<number>): Encoder | null {
  const sorted = Float64Array.from(values).sort();
  const list = sorted.filter((value, i) => i === 0 || !Object.is(value, sorted[i - 1]));
  if (list.length * LEAST_REPEATS > values.length) return null;
  const numbers = new Map(Array.from(list, (value, number) => [keyOf(value), number]));
  const out = new Encoder();
  out.bits(FORMS.listed, FORM_BITS);
  out.unsigned(list.length);
  for (const value of list) out.double(value);
  encodeIntegers(
    Array.from(values, (value) => numbers.get(keyOf(value))!),
    out,
  );
  return out;
}

/** A map takes -0 for 0. */
const keyOf = (value: number): number | string => (Object.is(value, -0) ? '-0' : value);

function decodeListed(count: number, from: Decoder): Float64Array {
  const length = from.unsigned();
  if (length * LEAST_REPEATS > count) throw damaged('the list of values');
  const list = Float64Array.from({ length }, () => finite(from.double()));
  return decodeIntegers(count, from).map((number) => {
    const value = list[number];
    if (value === undefined) throw damaged('a value');
    return value;
  });
}

function plain(values: ArrayLike<number>): Encoder {
  const out = new Encoder();
  out.bits(FORMS.plain, FORM_BITS);
  for (let i = 0; i < values.length; i++) out.double(values[i]!);
  return out;
}
