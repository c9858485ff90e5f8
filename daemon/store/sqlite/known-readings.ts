import type { ReadingRecords } from '../reading-records.ts';

/** Stands for the number of a reading that has none, and of one that was stamped, which has no identity. */
const NONE = -1;
const STAMPED = -2;

interface Known {
  number: number;
  value: number;
}

/** Readings of one channel by their time, to find out whether one is there already. */
export class KnownReadings {
  /** The one of a time, or where there are several (a device whose clock stands still) their values by number. */
  readonly #byTime = new Map<number, Known | Map<number, number>>();

  add(records: ReadingRecords, i: number): void {
    const atMs = records.atMs(i);
    const number = records.stamped(i) ? STAMPED : (records.seq(i) ?? NONE);
    const value = records.value(i);
    const there = this.#byTime.get(atMs);
    if (there === undefined) this.#byTime.set(atMs, { number, value });
    else if (there instanceof Map) there.set(number, value);
    else {
      const several = new Map([
        [there.number, there.value],
        [number, value],
      ]);
      this.#byTime.set(atMs, several);
    }
  }

  hasAny(atMs: number): boolean {
    return this.#byTime.has(atMs);
  }

  /** What one says that has this identity: a time and a number of a device, or none. */
  valueOf(atMs: number, seq: number | null): number | undefined {
    const number = seq ?? NONE;
    const there = this.#byTime.get(atMs);
    if (there instanceof Map) return there.get(number);
    return there?.number === number ? there.value : undefined;
  }
}
