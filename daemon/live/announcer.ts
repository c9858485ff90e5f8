import type { EngineOutput } from '../../shared/engine/events.ts';
import { isoTime } from '../../shared/wire/time.ts';
import { alarmTopic, beatTopic } from '../../shared/wire/topics.ts';
import type { Broker } from '../broker/broker.ts';
import { type ArrivalClock, type Clock, every, type Timer } from '../clock.ts';
import type { JudgedReading } from '../watch/site-watch.ts';
import type { Watch, WatchListener } from '../watch/watch.ts';

/** The beat's promise is every 10 s; sent twice as often, one may be lost, ms. */
const BEAT_MS = 5000;
/** A broker that does not answer does not hold up the stop for longer, real ms. */
const GOODBYE_MS = 2000;

/** Tells MQTT: the standing alarms of each vessel and that somebody watches, both retained. */
export class Announcer implements WatchListener {
  readonly #watch: Watch;
  readonly #arrivals: ArrivalClock;
  readonly #warn: (message: string) => void;
  readonly #beating: Timer;
  readonly #announced = new Map<string, string>();
  #broker: Broker | undefined;

  constructor(parts: {
    watch: Watch;
    arrivals: ArrivalClock;
    clock: Clock;
    warn: (message: string) => void;
  }) {
    this.#watch = parts.watch;
    this.#arrivals = parts.arrivals;
    this.#warn = parts.warn;
    this.#beating = every(parts.clock, BEAT_MS, () => this.#beat('watching'));
    this.#watch.listen(this);
  }

  /** Tells a broker everything anew: at the start, and whenever the link comes back. */
  announceTo(broker: Broker): void {
    this.#broker = broker;
    this.#announced.clear();
    for (const site of this.#watch.sites()) {
      for (const vessel in site.state.vessels) this.#announceAlarms(site.site, vessel);
    }
    this.#beat('watching');
  }

  readings(site: string, readings: readonly JudgedReading[]): void {
    // The first reading makes a site and a vessel known: they have a beat and a list of alarms from then on.
    if (!this.#announced.has(beatTopic(site))) void this.#beatSite(site, 'watching');
    for (const { vessel } of readings) {
      if (!this.#announced.has(alarmTopic(site, vessel))) this.#announceAlarms(site, vessel);
    }
  }

  outputs(site: string, outputs: readonly EngineOutput[]): void {
    for (const vessel of new Set(outputs.map((output) => output.vessel))) this.#announceAlarms(site, vessel);
  }

  /** Says that nobody watches any more. */
  async close(): Promise<void> {
    this.#beating.cancel();
    const said = Promise.all(this.#watch.sites().map(({ site }) => this.#beatSite(site, 'gone')));
    const longEnough = new Promise((resolve) => setTimeout(resolve, GOODBYE_MS).unref());
    await Promise.race([said, longEnough]);
  }

  #announceAlarms(site: string, vessel: string): void {
    const view = this.#watch.site(site)?.vessel(vessel, this.#arrivals.nowMs());
    const standing = view?.alarms.filter((alarm) => alarm.standing) ?? [];
    const topic = alarmTopic(site, vessel);
    const payload = JSON.stringify(standing);
    if (this.#announced.get(topic) === payload) return;
    this.#announced.set(topic, payload);
    void this.#publish(topic, payload);
  }

  #beat(state: 'watching' | 'gone'): void {
    for (const { site } of this.#watch.sites()) void this.#beatSite(site, state);
  }

  #beatSite(site: string, state: 'watching' | 'gone'): Promise<void> {
    const topic = beatTopic(site);
    const at = isoTime(this.#arrivals.nowMs());
    this.#announced.set(topic, state);
    this.#broker?.leaveWill(topic, JSON.stringify({ state: 'gone', at }));
    return this.#publish(topic, JSON.stringify({ state, at }));
  }

  async #publish(topic: string, payload: string): Promise<void> {
    try {
      await this.#broker?.publish(topic, payload, true);
    } catch (error) {
      this.#warn(`${topic}: ${(error as Error).message}`);
    }
  }
}
