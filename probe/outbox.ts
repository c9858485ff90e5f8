import { channelKind } from '../shared/wire/names.ts';
import { isoTime } from '../shared/wire/time.ts';
import { readingTopic } from '../shared/wire/topics.ts';
import type { ProbeClock } from './clock.ts';
import type { Link } from './link.ts';
import type { Log, Reading } from './reading.ts';
import type { Spool } from './spool.ts';

/** A reading that is not acknowledged within this goes to the disk, ms: an ordinary answer takes some tens. */
const ACKNOWLEDGED_WITHIN_MS = 1000;
/** Readings kept that go out at once, at most: an array of them stays far under a message's 5,000 and 256 KiB. */
const AT_ONCE = 1000;

/**
 * Readings on their way. While the link is up and nothing is kept, each goes out at once, and nothing is written. One
 * that finds no link, or gets no answer in time, is kept on the disk, and from then on every later one behind it, so
 * that a daemon gets them in their order; when the link is there they go out as arrays. A reading is let go of once it
 * is acknowledged. One may go out twice, when the answer to it was lost: the daemon knows it by its time and number.
 */
export class Outbox {
  readonly #site: string;
  readonly #link: Link;
  readonly #spool: Spool;
  readonly #clock: ProbeClock;
  readonly #log: Log;
  /** Sent and not acknowledged, with what makes each be kept. */
  readonly #flying = new Map<Reading, { cancel(): void }>();
  #draining: Promise<void> | null = null;
  /** What was last told: it is tried again with each reading. */
  #told = '';

  constructor(site: string, link: Link, spool: Spool, clock: ProbeClock, log: Log) {
    this.#site = site;
    this.#link = link;
    this.#spool = spool;
    this.#clock = clock;
    this.#log = log;
  }

  take(reading: Reading): void {
    if (!this.#link.isUp || !this.#spool.isEmpty) {
      this.#keep([reading]);
      return;
    }
    const landed = () => {
      this.#flying.get(reading)?.cancel();
      return this.#flying.delete(reading);
    };
    const failed = () => {
      if (this.#flying.has(reading)) this.#keepFlying();
    };
    this.#flying.set(reading, this.#clock.after(ACKNOWLEDGED_WITHIN_MS, failed));
    this.#link.publish(this.#topic(reading.to), JSON.stringify(onWire(reading))).then(landed, failed);
  }

  /** Sends what is kept, if anything is and the link is up. To be called when the link comes up. */
  drain(): void {
    if (this.#draining !== null || this.#spool.isEmpty || !this.#link.isUp) return;
    this.#draining = this.#drainAll()
      .catch((error: Error) => {
        // The link is gone; or the disk cannot be read, which is said, and tried again with the next reading.
        if (!this.#link.isUp || error.message === this.#told) return;
        this.#told = error.message;
        this.#log.warn(`what was kept cannot be sent: ${error.message}`);
      })
      .finally(() => {
        this.#draining = null;
      });
  }

  /** Waits a while for what is under way, and keeps the rest. */
  async close(withinMs: number): Promise<void> {
    const until = this.#clock.monotonicMs() + withinMs;
    while (this.#flying.size > 0 && this.#clock.monotonicMs() < until) await pause();
    this.#keepFlying();
  }

  /** Where one finds no answer the others behind it do not either: together, so that they lie in their order. */
  #keepFlying(): void {
    const readings = [...this.#flying.keys()];
    for (const timer of this.#flying.values()) timer.cancel();
    this.#flying.clear();
    if (readings.length > 0) this.#keep(readings);
  }

  #keep(readings: readonly Reading[]): void {
    void this.#spool.keep(readings).then(() => this.drain());
  }

  async #drainAll(): Promise<void> {
    let count = 0;
    while (!this.#spool.isEmpty && this.#link.isUp) {
      const { readings, letGo } = await this.#spool.oldest(AT_ONCE);
      for (const [to, some] of this.#byChannel(readings))
        await this.#link.publish(this.#topic(to), JSON.stringify(some.map(onWire)));
      await letGo();
      count += readings.length;
    }
    if (count > 1) this.#log.info(`${count} readings that were kept are sent`);
  }

  /** Channel by channel, temperatures last: they are judged by what the others show at their time. */
  #byChannel(readings: readonly Reading[]): [string, Reading[]][] {
    const isTemperature = (to: string) => Number(channelKind(to.split('/')[1]!) === 'temperature');
    const channels = new Map<string, Reading[]>();
    for (const reading of readings) {
      const some = channels.get(reading.to) ?? [];
      channels.set(reading.to, some);
      some.push(reading);
    }
    return [...channels].sort(([a], [b]) => isTemperature(a) - isTemperature(b));
  }

  #topic(to: string): string {
    const [vessel, channel] = to.split('/') as [string, string];
    return readingTopic(this.#site, vessel, channel);
  }
}

const onWire = ({ value, atMs, seq }: Reading) => ({ value, at: isoTime(atMs), seq });

const pause = (): Promise<void> => new Promise((resolve) => setTimeout(resolve, 10));
