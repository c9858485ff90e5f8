import type { ReadingRecords } from '../reading-records.ts';

interface Known {
  seq: number | null;
  stamped: boolean;
  value: number;
  /** Another of the same time. */
  next: Known | undefined;
}

/** Readings of one channel by their time, to find out whether one is there already. */
export class KnownReadings {
  readonly #byTime = new Map<number, Known>();

  add(records: ReadingRecords, i: number): void {
    const atMs = records.atMs(i);
    this.#byTime.set(atMs, {
      seq: records.seq(i),
      stamped: records.stamped(i),
      value: records.value(i),
      next: this.#byTime.get(atMs),
    });
  }

  hasAny(atMs: number): boolean {
    return this.#byTime.has(atMs);
  }

  /** What one says that has this identity: a time and a number of a device, which stamped ones have not. */
  valueOf(atMs: number, seq: number | null): number | undefined {
    for (let one = this.#byTime.get(atMs); one !== undefined; one = one.next) {
      if (!one.stamped && one.seq === seq) return one.value;
    }
    return undefined;
  }
}
