import { Decoder, damaged, Encoder } from './entropy-coder.ts';
import { decodeIntegers, encodeIntegers } from './integer-column.ts';
import { decodeValues, encodeValues } from './value-column.ts';

/**
 * Readings of one channel, a column each, in the order of their positions. What each column means is said
 * at `NewReading`.
 */
export interface PageReadings {
  /** Safe integers, in any order. */
  readonly atMs: ArrayLike<number>;
  /** Safe integers, strictly ascending. */
  readonly position: ArrayLike<number>;
  /** Safe integers. */
  readonly arrivedMs: ArrayLike<number>;
  /** Finite. */
  readonly value: ArrayLike<number>;
  /** Safe integers ≥ 0. */
  readonly seq: ArrayLike<number | null>;
  readonly stamped: ArrayLike<boolean>;
  readonly source: ArrayLike<'device' | 'typed'>;
}

/** The first byte. Another one is another form of page. */
const FORM = 1;
export const MOST_READINGS = 10_000_000;

/** One page of 1 to `MOST_READINGS` readings. */
export function encodePage(readings: PageReadings): Uint8Array {
  check(readings);
  const { atMs, position, arrivedMs, value, seq, stamped, source } = readings;
  const out = new Encoder();
  out.unsigned(atMs.length);
  encodeIntegers(atMs, out);
  encodeIntegers(position, out);
  encodeArrivals(arrivedMs, atMs, out);
  encodeValues(value, out);
  encodeNumbers(seq, out);
  encodeFlags(stamped, (is) => is, out);
  encodeFlags(source, (from) => from === 'typed', out);
  const stream = out.finish();
  const page = new Uint8Array(1 + stream.length);
  page[0] = FORM;
  page.set(stream, 1);
  return page;
}

/**
 * The readings of a page. Throws where it is damaged or claims more than `most` readings; who needs to
 * know of any change of a byte keeps a hash of the page.
 */
export function decodePage(page: Uint8Array, most = MOST_READINGS): PageReadings {
  if (page[0] !== FORM) throw damaged('its form');
  const from = new Decoder(page.subarray(1));
  const count = from.unsigned();
  if (count < 1 || count > most) throw damaged('its count');
  const atMs = decodeIntegers(count, from);
  const position = decodeIntegers(count, from);
  const arrivedMs = decodeArrivals(atMs, from);
  const value = decodeValues(count, from);
  const seq = decodeNumbers(count, from);
  const stamped = decodeFlags(count, from, false, true);
  const source = decodeFlags(count, from, 'device' as const, 'typed' as const);
  from.end();
  if (!ascends(position)) throw damaged('its positions');
  return { atMs, position, arrivedMs, value, seq, stamped, source };
}

function check(readings: PageReadings): void {
  const count = readings.atMs.length;
  const fits =
    count >= 1 &&
    count <= MOST_READINGS &&
    Object.values(readings).every((column) => column.length === count) &&
    [readings.atMs, readings.position, readings.arrivedMs].every((column) =>
      every(column, Number.isSafeInteger),
    ) &&
    ascends(readings.position) &&
    every(readings.value, Number.isFinite) &&
    every(readings.seq, (seq) => seq === null || (Number.isSafeInteger(seq) && seq >= 0));
  if (!fits) throw new RangeError('not the readings of a page');
}

function every<T>(column: ArrayLike<T>, holds: (item: T) => boolean): boolean {
  for (let i = 0; i < column.length; i++) if (!holds(column[i]!)) return false;
  return true;
}

function ascends(column: ArrayLike<number>): boolean {
  for (let i = 1; i < column.length; i++) if (!(column[i]! > column[i - 1]!)) return false;
  return true;
}

/** As delays where that is shorter; those that arrived together after an outage are better by themselves. */
function encodeArrivals(arrivedMs: ArrayLike<number>, atMs: ArrayLike<number>, out: Encoder): void {
  const delays = Float64Array.from(arrivedMs, (arrived, i) => arrived - atMs[i]!);
  const asDelays = new Encoder();
  asDelays.bits(1, 1);
  const asTimes = new Encoder();
  asTimes.bits(0, 1);
  encodeIntegers(arrivedMs, asTimes);
  if (!every(delays, Number.isSafeInteger)) {
    out.append(asTimes);
    return;
  }
  encodeIntegers(delays, asDelays);
  out.append(asDelays.length < asTimes.length ? asDelays : asTimes);
}

function decodeArrivals(atMs: Float64Array, from: Decoder): Float64Array {
  const asDelays = from.bits(1) === 1;
  const column = decodeIntegers(atMs.length, from);
  if (!asDelays) return column;
  for (let i = 0; i < column.length; i++) column[i]! += atMs[i]!;
  if (!every(column, Number.isSafeInteger)) throw damaged('an arrival');
  return column;
}

/** Which are null, then those that are not. */
function encodeNumbers(seq: ArrayLike<number | null>, out: Encoder): void {
  encodeFlags(seq, (number) => number !== null, out);
  const given = Array.from(seq).filter((number) => number !== null);
  if (given.length > 0) encodeIntegers(given, out);
}

function decodeNumbers(count: number, from: Decoder): (number | null)[] {
  const isGiven = decodeFlags(count, from, false, true);
  const seq = new Array<number | null>(count).fill(null);
  const total = isGiven.reduce((sum, is) => sum + (is ? 1 : 0), 0);
  if (total === 0) return seq;
  const given = decodeIntegers(total, from);
  if (!every(given, (number) => number >= 0)) throw damaged('a number of a reading');
  for (let i = 0, next = 0; i < count; i++) if (isGiven[i]) seq[i] = given[next++]!;
  return seq;
}

function encodeFlags<T>(column: ArrayLike<T>, isSet: (item: T) => boolean, out: Encoder): void {
  const flags = new Uint8Array(column.length);
  for (let i = 0; i < flags.length; i++) flags[i] = isSet(column[i]!) ? 1 : 0;
  encodeIntegers(flags, out);
}

function decodeFlags<T>(count: number, from: Decoder, unset: T, set: T): T[] {
  const flags = decodeIntegers(count, from);
  const column = new Array<T>(count).fill(unset);
  for (let i = 0; i < count; i++) {
    if (flags[i] === 1) column[i] = set;
    else if (flags[i] !== 0) throw damaged('a flag');
  }
  return column;
}
