import { isoTime } from '../../shared/wire/time.ts';
import { headTopic } from '../../shared/wire/topics.ts';
import type { Broker } from '../broker/broker.ts';
import { type ArrivalClock, type Clock, every, type Timer } from '../clock.ts';
import type { Store } from '../store/store.ts';

const DAY_MS = 24 * 3_600_000;
/** Whether there is something to publish is looked at so often, ms. */
const LOOK_MS = 60_000;

/**
 * Publishes the head of what is sealed of each site, retained, with the start and with each day, and as soon as it
 * has one: whoever keeps what comes here can tell later, with `verify --head`, that the history up to then was not
 * made anew. Of what is not sealed there is no head that lasts.
 */
export class HeadPublisher {
  readonly #store: Pick<Store, 'heads'>;
  readonly #arrivals: ArrivalClock;
  readonly #warn: (message: string) => void;
  readonly #looking: Timer;
  #broker: Broker | undefined;
  #day: number;
  /** Sites that have been published today. */
  readonly #published = new Set<string>();
  #closed = false;

  constructor(parts: {
    store: Pick<Store, 'heads'>;
    arrivals: ArrivalClock;
    clock: Clock;
    warn: (message: string) => void;
  }) {
    this.#store = parts.store;
    this.#arrivals = parts.arrivals;
    this.#warn = parts.warn;
    this.#day = this.#today();
    this.#looking = every(parts.clock, LOOK_MS, () => {
      if (this.#today() !== this.#day) this.#published.clear();
      this.#day = this.#today();
      void this.#publish();
    });
  }

  /** Publishes them to a broker now, and from now on. */
  announceTo(broker: Broker): void {
    this.#broker = broker;
    this.#published.clear();
    void this.#publish();
  }

  close(): void {
    this.#closed = true;
    this.#looking.cancel();
  }

  #today(): number {
    return Math.floor(this.#arrivals.nowMs() / DAY_MS);
  }

  async #publish(): Promise<void> {
    try {
      const at = isoTime(this.#arrivals.nowMs());
      for (const { site, sealed } of await this.#store.heads()) {
        if (sealed === null || this.#published.has(site) || this.#broker === undefined) continue;
        await this.#broker.publish(headTopic(site), JSON.stringify({ at, ...sealed }), true);
        this.#published.add(site);
      }
    } catch (error) {
      if (!this.#closed) this.#warn(`the heads could not be published: ${(error as Error).message}`);
    }
  }
}
