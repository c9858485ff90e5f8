import { type NewReading, StoreError } from './store.ts';

/** Bytes of one record. */
const SIZE = 48;
const STAMPED = 1;
const HAS_SEQ = 2;
const TYPED = 4;

/** What a record says. `channel` and `position` are numbers whose meaning is said where records are kept. */
export interface ReadingRecord extends Pick<NewReading, 'atMs' | 'arrivedMs' | 'value' | 'seq'> {
  channel: number;
  position: number;
  stamped: boolean;
  source: NewReading['source'];
}

/**
 * Readings side by side in bytes, 48 each, little-endian: u32 channel, u32 flags (1 stamped, 2 has a number,
 * 4 typed), and as 64-bit floating point position, at (epoch ms), arrival (epoch ms), value, and the device's
 * number, 0 where it has none. So they cross from thread to thread and lie in the journal as they are.
 */
export class ReadingRecords {
  readonly bytes: Uint8Array;
  readonly #view: DataView;

  /** Throws a `RangeError` where the bytes end within a record. */
  constructor(bytes: Uint8Array) {
    if (bytes.length % SIZE !== 0) throw new RangeError('bytes that are no whole number of readings');
    this.bytes = bytes;
    this.#view = new DataView(bytes.buffer, bytes.byteOffset, bytes.byteLength);
  }

  static ofLength(length: number): ReadingRecords {
    return new ReadingRecords(new Uint8Array(length * SIZE));
  }

  get length(): number {
    return this.bytes.length / SIZE;
  }

  first(count: number): Uint8Array {
    return this.bytes.subarray(0, count * SIZE);
  }

  channel(i: number): number {
    return this.#view.getUint32(i * SIZE, true);
  }

  position(i: number): number {
    return this.#view.getFloat64(i * SIZE + 8, true);
  }

  atMs(i: number): number {
    return this.#view.getFloat64(i * SIZE + 16, true);
  }

  arrivedMs(i: number): number {
    return this.#view.getFloat64(i * SIZE + 24, true);
  }

  value(i: number): number {
    return this.#view.getFloat64(i * SIZE + 32, true);
  }

  seq(i: number): number | null {
    return this.#flags(i) & HAS_SEQ ? this.#view.getFloat64(i * SIZE + 40, true) : null;
  }

  stamped(i: number): boolean {
    return (this.#flags(i) & STAMPED) !== 0;
  }

  source(i: number): NewReading['source'] {
    return this.#flags(i) & TYPED ? 'typed' : 'device';
  }

  /** Throws a `StoreError` where the value is not finite, a time no safe integer, or the number none from 0 on. */
  set(i: number, { channel, position, atMs, arrivedMs, value, seq, stamped, source }: ReadingRecord): void {
    const isWhole = Number.isSafeInteger(atMs) && Number.isSafeInteger(arrivedMs);
    if (!isWhole || !Number.isFinite(value) || !(seq === null || (Number.isSafeInteger(seq) && seq >= 0)))
      throw new StoreError('store-write-failed', 'nothing was stored: not a reading that can be kept');
    const at = i * SIZE;
    const view = this.#view;
    view.setUint32(at, channel, true);
    view.setUint32(
      at + 4,
      (stamped ? STAMPED : 0) | (seq === null ? 0 : HAS_SEQ) | (source === 'typed' ? TYPED : 0),
      true,
    );
    view.setFloat64(at + 8, position, true);
    view.setFloat64(at + 16, atMs, true);
    view.setFloat64(at + 24, arrivedMs, true);
    view.setFloat64(at + 32, value + 0, true); // -0 as 0
    view.setFloat64(at + 40, seq ?? 0, true);
  }

  /** Takes over a record of others, for another channel, position and time. */
  copy(i: number, from: ReadingRecords, j: number, channel: number, position: number, atMs: number): void {
    this.bytes.set(from.bytes.subarray(j * SIZE, (j + 1) * SIZE), i * SIZE);
    this.#view.setUint32(i * SIZE, channel, true);
    this.#view.setFloat64(i * SIZE + 8, position, true);
    this.#view.setFloat64(i * SIZE + 16, atMs, true);
  }

  #flags(i: number): number {
    return this.#view.getUint32(i * SIZE + 4, true);
  }
}
