import { type ArrivalClock, type Clock, every, type Timer } from '../clock.ts';
import type { RetentionConfig } from '../config.ts';
import type { Drop } from './drops.ts';
import type { Store } from './store.ts';

const DAY_MS = 24 * 3_600_000;
/** Whether something is too old is looked at so often, ms. */
const LOOK_MS = 3_600_000;

/** Drops single readings that are older than configured, one site after the other, between the writes. */
export class Retention {
  readonly #store: Pick<Store, 'drop'>;
  readonly #config: RetentionConfig;
  readonly #sites: () => readonly { site: string; kept: Drop['kept'] }[];
  readonly #arrivals: ArrivalClock;
  readonly #warn: (message: string) => void;
  readonly #looking: Timer;
  #running: Promise<void> | undefined;
  #closing = false;

  constructor(parts: {
    store: Pick<Store, 'drop'>;
    config: RetentionConfig;
    /** Each with the times of its batches. */
    sites: () => readonly { site: string; kept: Drop['kept'] }[];
    arrivals: ArrivalClock;
    clock: Clock;
    warn: (message: string) => void;
  }) {
    this.#store = parts.store;
    this.#config = parts.config;
    this.#sites = parts.sites;
    this.#arrivals = parts.arrivals;
    this.#warn = parts.warn;
    this.#look();
    this.#looking = every(parts.clock, LOOK_MS, () => this.#look());
  }

  /** Waits for what is being dropped. */
  async close(): Promise<void> {
    this.#closing = true;
    this.#looking.cancel();
    await this.#running;
  }

  #look(): void {
    this.#running ??= this.#dropOld().finally(() => {
      this.#running = undefined;
    });
  }

  async #dropOld(): Promise<void> {
    const nowMs = this.#arrivals.nowMs();
    // Whole days, so that a day has one line in the history.
    const beforeMs = Math.floor(nowMs / DAY_MS - this.#config.days) * DAY_MS;
    for (const { site, kept } of this.#sites()) {
      try {
        while (!this.#closing && (await this.#store.drop(site, { beforeMs, kept }, nowMs)));
      } catch (error) {
        this.#warn(`readings of ${site} that are too old are still there: ${(error as Error).message}`);
      }
    }
  }
}
