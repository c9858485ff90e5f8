/**
 * An entropy coder for symbols of known frequency: range asymmetric numeral systems (J. Duda, "Asymmetric
 * numeral systems: entropy coding combining speed of Huffman coding with compression rate of arithmetic
 * coding", arXiv:1311.2540), with a state of 31 bits that gives off whole bytes (F. Giesen, "Interleaved
 * entropy coders", arXiv:1402.3392). It takes symbols last first, so that they are gathered and coded at
 * the end. What is spread evenly (numbers of a header, low bits) goes through the same stream as symbols
 * of equal frequency.
 */

const SCALE_BITS = 14;
/** What the frequencies of a table add up to. */
export const SCALE = 1 << SCALE_BITS;
const LOWEST_STATE = 1 << 23;
const STATE_BYTES = 4;
/** Of the number that says how many bits follow. */
const LENGTH_BITS = 6;
/** Of the largest safe integer. */
const MOST_BITS = 53;

/** Symbols 0, 1, 2 …, each with its frequency; one of frequency 0 cannot be coded. */
export interface FrequencyTable {
  frequencies: Uint16Array;
  /** For each symbol, the frequencies of those before it. */
  starts: Uint16Array;
}

/**
 * Shares out `SCALE` in proportion, at least 1 for each weight above 0. Only additions, multiplications
 * and divisions of doubles in a fixed order, which IEEE 754 rounds alike on every machine: who decodes
 * must come to the same frequencies.
 */
export function frequencyTable(weights: ArrayLike<number>): FrequencyTable {
  const frequencies = new Uint16Array(weights.length);
  let total = 0;
  let used = 0;
  let largest = 0;
  for (let i = 0; i < weights.length; i++) {
    const weight = weights[i]!;
    total += weight;
    if (weight > 0) used++;
    if (weight > weights[largest]!) largest = i;
  }
  if (!(total > 0)) throw damaged('no symbol has a weight');
  const share = (SCALE - used) / total;
  let left = SCALE;
  for (let i = 0; i < weights.length; i++) {
    if (weights[i]! > 0) frequencies[i] = 1 + Math.floor(weights[i]! * share);
    left -= frequencies[i]!;
  }
  frequencies[largest]! += left;
  const starts = new Uint16Array(weights.length);
  for (let i = 1; i < weights.length; i++) starts[i] = starts[i - 1]! + frequencies[i - 1]!;
  return { frequencies, starts };
}

/** Bits that a symbol of each frequency takes. */
const BITS_BY_FREQUENCY = Float64Array.from({ length: SCALE + 1 }, (_, frequency) =>
  frequency === 0 ? Number.POSITIVE_INFINITY : SCALE_BITS - Math.log2(frequency),
);

export const bitsOf = (table: FrequencyTable, symbol: number): number =>
  BITS_BY_FREQUENCY[table.frequencies[symbol]!]!;

export class Encoder {
  /** In order; each is its start and, above that, its frequency. */
  readonly #symbols: number[] = [];
  #bits = 0;

  /** How long the stream will be, nearly. */
  get length(): number {
    return this.#bits;
  }

  symbol(table: FrequencyTable, symbol: number): void {
    this.#put(table.starts[symbol]!, table.frequencies[symbol]!);
  }

  /** A whole number below 2 ** count. */
  bits(value: number, count: number): void {
    let rest = value;
    for (let left = count; left > 0; left -= SCALE_BITS) {
      const now = Math.min(left, SCALE_BITS);
      const high = Math.floor(rest / 2 ** now);
      this.#put((rest - high * 2 ** now) << (SCALE_BITS - now), 1 << (SCALE_BITS - now));
      rest = high;
    }
  }

  /** A safe integer ≥ 0. */
  unsigned(value: number): void {
    let length = 0;
    while (length < MOST_BITS && value >= 2 ** length) length++;
    this.bits(length, LENGTH_BITS);
    this.bits(value, length);
  }

  /** A safe integer. */
  signed(value: number): void {
    this.bits(value < 0 ? 1 : 0, 1);
    this.unsigned(Math.abs(value));
  }

  double(value: number): void {
    asDouble[0] = value;
    this.bits(asWords[0]!, 32);
    this.bits(asWords[1]!, 32);
  }

  /** Everything of another, after what is here. */
  append(other: Encoder): void {
    for (const symbol of other.#symbols) this.#symbols.push(symbol);
    this.#bits += other.#bits;
  }

  finish(): Uint8Array {
    // No symbol takes more than its 14 bits, and the state holds back less than it is long.
    const bytes = new Uint8Array(2 * this.#symbols.length + STATE_BYTES);
    let at = bytes.length;
    let state = LOWEST_STATE;
    for (let i = this.#symbols.length - 1; i >= 0; i--) {
      const start = this.#symbols[i]! & (SCALE - 1);
      const frequency = this.#symbols[i]! >>> SCALE_BITS;
      for (; state >= (LOWEST_STATE >>> SCALE_BITS) * 256 * frequency; state >>>= 8) bytes[--at] = state;
      const whole = Math.floor(state / frequency);
      state = whole * SCALE + (state - whole * frequency) + start;
    }
    for (let i = 0; i < STATE_BYTES; i++, state >>>= 8) bytes[--at] = state;
    return bytes.slice(at);
  }

  #put(start: number, frequency: number): void {
    if (frequency === 0) throw new Error('a symbol without a frequency');
    this.#symbols.push((frequency << SCALE_BITS) | start);
    this.#bits += BITS_BY_FREQUENCY[frequency]!;
  }
}

/** A table with what decoding looks up. */
export interface DecodingTable extends FrequencyTable {
  /** The symbol of each of the `SCALE` places. */
  symbolAt: Uint8Array;
}

/** Of a table of at most 256 symbols. */
export function decodingTable(table: FrequencyTable): DecodingTable {
  const symbolAt = new Uint8Array(SCALE);
  table.starts.forEach((start, symbol) => {
    symbolAt.fill(symbol, start, start + table.frequencies[symbol]!);
  });
  return { ...table, symbolAt };
}

/** Reads what an `Encoder` wrote, in the order it was put; throws where the bytes end before that. */
export class Decoder {
  readonly #bytes: Uint8Array;
  #at = STATE_BYTES;
  #state = 0;

  constructor(bytes: Uint8Array) {
    this.#bytes = bytes;
    for (let i = 0; i < STATE_BYTES; i++) this.#state = this.#state * 256 + (bytes[i] ?? 0);
    if (bytes.length < STATE_BYTES || this.#state < LOWEST_STATE || this.#state >= LOWEST_STATE * 256) {
      throw damaged('its beginning');
    }
  }

  symbol(table: DecodingTable): number {
    const place = this.#state & (SCALE - 1);
    const symbol = table.symbolAt[place]!;
    this.#take(table.starts[symbol]!, table.frequencies[symbol]!, place);
    return symbol;
  }

  bits(count: number): number {
    let value = 0;
    for (let done = 0; done < count; done += SCALE_BITS) {
      const now = Math.min(count - done, SCALE_BITS);
      const place = this.#state & (SCALE - 1);
      const part = place >>> (SCALE_BITS - now);
      this.#take(part << (SCALE_BITS - now), 1 << (SCALE_BITS - now), place);
      value += part * 2 ** done;
    }
    return value;
  }

  unsigned(): number {
    const length = this.bits(LENGTH_BITS);
    if (length > MOST_BITS) throw damaged('a number');
    return this.bits(length);
  }

  signed(): number {
    const negative = this.bits(1) === 1;
    const value = this.unsigned();
    return negative && value !== 0 ? -value : value;
  }

  double(): number {
    asWords[0] = this.bits(32);
    asWords[1] = this.bits(32);
    return asDouble[0]!;
  }

  /** Throws unless the stream ends here, with the state it began with: few damages come to that. */
  end(): void {
    if (this.#at !== this.#bytes.length || this.#state !== LOWEST_STATE) throw damaged('its end');
  }

  #take(start: number, frequency: number, place: number): void {
    let state = frequency * (this.#state >>> SCALE_BITS) + place - start;
    while (state < LOWEST_STATE) {
      if (this.#at >= this.#bytes.length) throw damaged('it is too short');
      state = (state << 8) | this.#bytes[this.#at++]!;
    }
    this.#state = state;
  }
}

export const damaged = (what: string): Error => new Error(`damaged page: ${what}`);

const asDouble = new Float64Array(1);
const asWords = new Uint32Array(asDouble.buffer);
