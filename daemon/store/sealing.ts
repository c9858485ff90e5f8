import { type ArrivalClock, type Clock, every, type Timer } from '../clock.ts';
import type { Store } from './store.ts';

const HOUR_MS = 3_600_000;
/** Whether something can be sealed is looked at so often, ms. */
const LOOK_MS = 60_000;
/** An hour is closed so long after its end, ms: what was under way at its end is stored by then. */
const CLOSED_AFTER_MS = 5 * 60_000;

/** Seals what arrived in each hour once it is closed, one site after the other, between the writes. */
export class Sealing {
  readonly #store: Pick<Store, 'seal'>;
  readonly #sites: () => readonly string[];
  readonly #arrivals: ArrivalClock;
  readonly #warn: (message: string) => void;
  readonly #looking: Timer;
  #running: Promise<void> | undefined;
  #closing = false;
  /** By site, why it cannot be sealed. */
  readonly #failures = new Map<string, string>();

  constructor(parts: {
    store: Pick<Store, 'seal'>;
    sites: () => readonly string[];
    arrivals: ArrivalClock;
    clock: Clock;
    warn: (message: string) => void;
  }) {
    this.#store = parts.store;
    this.#sites = parts.sites;
    this.#arrivals = parts.arrivals;
    this.#warn = parts.warn;
    this.#look();
    this.#looking = every(parts.clock, LOOK_MS, () => this.#look());
  }

  /** Why something is not sealed, or null. */
  get failure(): string | null {
    return [...this.#failures.values()][0] ?? null;
  }

  /** Waits for what is being sealed. */
  async close(): Promise<void> {
    this.#closing = true;
    this.#looking.cancel();
    await this.#running;
  }

  #look(): void {
    this.#running ??= this.#sealClosed().finally(() => {
      this.#running = undefined;
    });
  }

  async #sealClosed(): Promise<void> {
    const beforeMs = Math.floor((this.#arrivals.nowMs() - CLOSED_AFTER_MS) / HOUR_MS) * HOUR_MS;
    for (const site of this.#sites()) {
      try {
        while (!this.#closing && (await this.#store.seal(site, beforeMs)));
        this.#failures.delete(site);
      } catch (error) {
        const because = (error as Error).message;
        // Said once, not every minute.
        if (this.#failures.get(site) !== because) this.#warn(`nothing of ${site} is sealed: ${because}`);
        this.#failures.set(site, because);
      }
    }
  }
}
