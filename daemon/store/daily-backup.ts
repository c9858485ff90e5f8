import { readdirSync, rmSync, statSync } from 'node:fs';
import { join } from 'node:path';
import { isoTime } from '../../shared/wire/time.ts';
import { type ArrivalClock, type Clock, every, type Timer } from '../clock.ts';
import type { BackupConfig } from '../config.ts';

/** Whether the copy of the day is there is looked at so often, ms; one that failed is tried again then. */
const LOOK_MS = 10 * 60_000;
const NAME = /^esterwatch-\d{4}-\d{2}-\d{2}\.db$/;
/** What a daemon that was killed amid a copy has left. */
const UNFINISHED = /^esterwatch-\d{4}-\d{2}-\d{2}\.db\.[0-9a-f]{8}\.copying/;

/** Copies the store into a folder once a day (UTC), verified, and removes the oldest copies. */
export class DailyBackup {
  readonly #config: BackupConfig;
  readonly #copy: (file: string) => Promise<unknown>;
  readonly #arrivals: ArrivalClock;
  readonly #warn: (message: string) => void;
  readonly #looking: Timer;
  #copying: Promise<void> | undefined;
  #lastMs: number | null = null;
  #failure: string | null = null;

  constructor(parts: {
    config: BackupConfig;
    copy: (file: string) => Promise<unknown>;
    arrivals: ArrivalClock;
    clock: Clock;
    warn: (message: string) => void;
  }) {
    this.#config = parts.config;
    this.#copy = parts.copy;
    this.#arrivals = parts.arrivals;
    this.#warn = parts.warn;
    this.#look();
    this.#looking = every(parts.clock, LOOK_MS, () => this.#look());
  }

  /** When a copy was last made, as far as it is of this day or this run, and why the newest try failed. */
  get status(): { last: string | null; because: string | null } {
    return { last: this.#lastMs === null ? null : isoTime(this.#lastMs), because: this.#failure };
  }

  /** Waits for a copy that is being made. */
  async close(): Promise<void> {
    this.#looking.cancel();
    await this.#copying;
  }

  #look(): void {
    this.#copying ??= this.#copyToday().finally(() => {
      this.#copying = undefined;
    });
  }

  async #copyToday(): Promise<void> {
    const nowMs = this.#arrivals.nowMs();
    const name = `esterwatch-${isoTime(nowMs).slice(0, 10)}.db`;
    const { folder, keep } = this.#config;
    try {
      // Not made where it is not there: a stick that is not put in would be taken for the computer's own disk.
      const files = readdirSync(folder);
      for (const file of files) if (UNFINISHED.test(file)) rmSync(join(folder, file));
      const there = files.filter((file) => NAME.test(file));
      if (there.includes(name)) {
        this.#lastMs ??= statSync(join(folder, name)).mtimeMs;
        this.#failure = null;
        return;
      }
      await this.#copy(join(folder, name));
      this.#lastMs = nowMs;
      this.#failure = null;
      // Names of days to come are of a clock that was wrong: they count for nothing, and stay.
      const older = there.filter((file) => file < name).sort();
      const tooMany = older.slice(0, Math.max(0, older.length - (keep - 1)));
      for (const old of tooMany) rmSync(join(folder, old));
    } catch (error) {
      this.#failure = (error as Error).message;
      this.#warn(`no backup: ${this.#failure}`);
    }
  }
}
