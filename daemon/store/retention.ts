import { isoTime } from '../../shared/wire/time.ts';
import { type ArrivalClock, type Clock, every, type Timer } from '../clock.ts';
import type { RetentionConfig } from '../config.ts';
import type { Span } from './drops.ts';
import type { Store } from './store.ts';

const HOUR_MS = 3_600_000;
const DAY_MS = 24 * HOUR_MS;
/** Whether something is too old is looked at so often, ms. */
const LOOK_MS = HOUR_MS;
/** So many looks the clock must have been right: one that is set a year ahead for an hour must not cost a year. */
const LOOKS = DAY_MS / LOOK_MS;

/**
 * Drops single readings that are older than configured, one site after the other, between the writes, once a day.
 * Goes by the earliest time that the clock has said in the last 24 h of running, and drops nothing before those.
 */
export class Retention {
  readonly #store: Pick<Store, 'drop'>;
  readonly #config: RetentionConfig;
  readonly #sites: () => readonly { site: string; kept: readonly Span[] }[];
  readonly #arrivals: ArrivalClock;
  readonly #clock: Clock;
  readonly #warn: (message: string) => void;
  readonly #say: (message: string) => void;
  readonly #looking: Timer;
  /** By how much the time of arrivals was ahead of the monotonic clock, at the newest looks. */
  readonly #aheadMs: number[] = [];
  #doneBeforeMs = Number.NEGATIVE_INFINITY;
  #running: Promise<void> | undefined;
  #closing = false;

  constructor(parts: {
    store: Pick<Store, 'drop'>;
    config: RetentionConfig;
    /** Each with the times of its batches. */
    sites: () => readonly { site: string; kept: readonly Span[] }[];
    arrivals: ArrivalClock;
    clock: Clock;
    warn: (message: string) => void;
    say: (message: string) => void;
  }) {
    this.#store = parts.store;
    this.#config = parts.config;
    this.#sites = parts.sites;
    this.#arrivals = parts.arrivals;
    this.#clock = parts.clock;
    this.#warn = parts.warn;
    this.#say = parts.say;
    this.#looking = every(parts.clock, LOOK_MS, () => this.#look());
  }

  /** Waits for what is being dropped. */
  async close(): Promise<void> {
    this.#closing = true;
    this.#looking.cancel();
    await this.#running;
  }

  #look(): void {
    this.#aheadMs.push(this.#arrivals.nowMs() - this.#clock.monotonicMs());
    if (this.#aheadMs.length <= LOOKS) return;
    this.#aheadMs.shift();
    const leastMs = this.#clock.monotonicMs() + Math.min(...this.#aheadMs);
    // Whole days, so that a day has one line in the history.
    const beforeMs = Math.floor(leastMs / DAY_MS - this.#config.days) * DAY_MS;
    if (beforeMs === this.#doneBeforeMs) return;
    this.#running ??= this.#dropBefore(beforeMs).finally(() => {
      this.#running = undefined;
    });
  }

  async #dropBefore(beforeMs: number): Promise<void> {
    let isDone = true;
    for (const { site, kept } of this.#sites()) {
      const wanted = { beforeMs, kept: [...kept] };
      try {
        let isAny = false;
        while (!this.#closing && (await this.#store.drop(site, wanted, this.#arrivals.nowMs()))) isAny = true;
        if (isAny)
          this.#say(`readings of ${site} from before ${isoTime(beforeMs)} are dropped, as configured`);
      } catch (error) {
        isDone = false;
        this.#warn(`readings of ${site} that are too old are still there: ${(error as Error).message}`);
      }
    }
    if (isDone) this.#doneBeforeMs = beforeMs;
  }
}
