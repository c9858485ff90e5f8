import { closeSync, fsyncSync, openSync, readFileSync, renameSync, writeFileSync } from 'node:fs';
import { join } from 'node:path';
import { z } from 'zod';
import type { Log } from './reading.ts';

const FILE = 'numbers.json';
/** So many numbers of a channel are set aside at once, so that not each one is written to a card. */
const SET_ASIDE = 1000;

const schema = z.record(z.string(), z.int().min(0));

/**
 * The `seq` of each channel's readings: one more each time, over restarts too. After a clean stop it goes on with the
 * next number; after a kill or a power cut with the next full thousand, so that none is given twice. Any other gap in
 * what a daemon has would be a reading that was lost.
 */
export class Numbers {
  readonly #file: string;
  readonly #log: Log;
  #isTroubled = false;
  readonly #next: Map<string, number>;
  /** What the file says: from here on no number has been given. */
  readonly #free: Map<string, number>;

  private constructor(file: string, log: Log, free: Record<string, number>) {
    this.#file = file;
    this.#log = log;
    this.#free = new Map(Object.entries(free));
    this.#next = new Map(this.#free);
  }

  static open(folder: string, log: Log): Numbers {
    const file = join(folder, FILE);
    let free: Record<string, number> = {};
    try {
      free = schema.parse(JSON.parse(readFileSync(file, 'utf8')));
    } catch (error) {
      // The time of a reading tells it from any other as well.
      if ((error as NodeJS.ErrnoException).code !== 'ENOENT')
        log.warn(`${file} cannot be understood: the numbers of readings begin again at 0`);
    }
    return new Numbers(file, log, free);
  }

  /** The next number of a channel. Every thousandth time it waits for the disk. */
  next(to: string): number {
    const number = this.#next.get(to) ?? 0;
    const free = this.#free.get(to) ?? 0;
    if (number >= free) {
      this.#free.set(to, (Math.floor(number / SET_ASIDE) + 1) * SET_ASIDE);
      this.#write(this.#free);
    }
    this.#next.set(to, number + 1);
    return number;
  }

  /** To be called last: gives back what was set aside and not used. */
  close(): void {
    this.#write(this.#next);
  }

  #write(numbers: ReadonlyMap<string, number>): void {
    try {
      this.#writeWhole(numbers);
      this.#isTroubled = false;
    } catch (error) {
      // Better a number that may come again (the time still tells readings apart) than no reading.
      if (!this.#isTroubled)
        this.#log.warn(
          `${this.#file} cannot be written (${(error as Error).message}): make room there, or make it writable`,
        );
      this.#isTroubled = true;
    }
  }

  /** The whole new file or none of it, and on the disk. */
  #writeWhole(numbers: ReadonlyMap<string, number>): void {
    const fresh = `${this.#file}.new`;
    const handle = openSync(fresh, 'w', 0o600);
    try {
      writeFileSync(handle, `${JSON.stringify(Object.fromEntries(numbers))}\n`);
      fsyncSync(handle);
    } finally {
      closeSync(handle);
    }
    renameSync(fresh, this.#file);
    syncFolder(join(this.#file, '..'));
  }
}

/** A new name in a folder is on the disk only once the folder is. */
export function syncFolder(folder: string): void {
  const handle = openSync(folder, 'r');
  try {
    fsyncSync(handle);
  } finally {
    closeSync(handle);
  }
}
