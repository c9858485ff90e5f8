import { setTimeout as wait } from 'node:timers/promises';
import { connect, type MqttClient } from 'mqtt';
import type { RawReadings } from '../../shared/wire/api.ts';
import { LOOPBACK } from './serving.ts';

/** Readings that are sent again in one message. */
const MOST_TOGETHER = 200;
/** A payload that is further ahead of the daemon's clock is refused, and so is one from before 2000, ms (docs/readings.md). */
const AHEAD_MS = 60_000;
const YEAR_2000_MS = Date.UTC(2000, 0, 1);

interface Measured {
  seq: number;
  at: number;
  value: number;
  /** By its time, which no right clock can give. */
  isRefused: boolean;
}

/** What a device measured of one channel, for good. */
export class KeptChannel {
  readonly topic: string;
  readonly #measured: Measured[] = [];
  readonly #acknowledged = new Set<number>();
  /** Measured and not known to have arrived, by number. */
  readonly unknown = new Map<number, Measured>();

  constructor(topic: string) {
    this.topic = topic;
  }

  measure(value: number, atMs: number, nowMs: number): Measured {
    const isRefused = atMs > nowMs + AHEAD_MS || atMs < YEAR_2000_MS;
    const reading = { seq: this.#measured.length, at: atMs, value, isRefused };
    this.#measured.push(reading);
    this.unknown.set(reading.seq, reading);
    return reading;
  }

  acknowledge(readings: readonly Measured[]): void {
    for (const { seq } of readings) {
      this.unknown.delete(seq);
      this.#acknowledged.add(seq);
    }
  }

  /** Readings that were acknowledged, and those of them that are to be stored. */
  get acknowledged(): { all: number; kept: number } {
    const kept = [...this.#acknowledged].filter((seq) => !this.#measured[seq]!.isRefused).length;
    return { all: this.#acknowledged.size, kept };
  }

  /** What is not as it should be about what is stored of it, in words. */
  wrongIn({ t, value, seq }: RawReadings): string[] {
    const wrong: string[] = [];
    const stored = new Set<number>();
    for (const [i, number] of seq.entries()) {
      const sent = number === null ? undefined : this.#measured[number];
      if (sent?.at !== t[i] || sent?.value !== value[i] || sent === undefined || sent.isRefused)
        wrong.push(`${this.topic}: ${value[i]} of ${t[i]}, seq ${number}, is not what was sent`);
      else if (stored.has(sent.seq)) wrong.push(`${this.topic}: seq ${number} is stored twice`);
      else stored.add(sent.seq);
    }
    for (const number of this.#acknowledged)
      if (!this.#measured[number]!.isRefused && !stored.has(number))
        wrong.push(`${this.topic}: seq ${number} was acknowledged and is lost`);
    return wrong;
  }
}

/**
 * A device that keeps every reading until it is acknowledged, through its own restarts too, and sends it again with its
 * own time and number: as one message where it has kept several.
 */
export class KeepingDevice {
  readonly channels: readonly KeptChannel[];
  /** Its clock, ms ahead of the right one. */
  clockAheadMs = 0;
  readonly #port: number;
  #client: MqttClient | undefined;

  constructor(port: number, topics: readonly string[]) {
    this.#port = port;
    this.channels = topics.map((topic) => new KeptChannel(topic));
    this.start();
  }

  start(): void {
    const client = connect(`mqtt://${LOOPBACK}:${this.#port}`, {
      // Short, so that a link that is open at this end only is noticed, s.
      keepalive: 3,
      connectTimeout: 3000,
      reconnectPeriod: 300,
    });
    this.#client = client;
    client.on('error', () => {}); // links break: that is what is tested
    client.on('connect', () => this.#sendAgain(client));
  }

  /** Without power for so long; what it has kept stays. */
  async restart(offMs: number): Promise<void> {
    this.stop();
    await wait(offMs);
    this.start();
  }

  stop(): void {
    this.#client?.end(true);
    this.#client = undefined;
  }

  /** One reading of each channel, sent where there is a link. */
  measure(values: readonly number[]): void {
    const nowMs = Date.now();
    for (const [i, channel] of this.channels.entries()) {
      const reading = channel.measure(values[i]!, nowMs + this.clockAheadMs, nowMs);
      if (this.#client?.connected) this.#send(this.#client, channel, [reading]);
    }
  }

  get unknown(): number {
    return this.channels.reduce((sum, { unknown }) => sum + unknown.size, 0);
  }

  #sendAgain(client: MqttClient): void {
    for (const channel of this.channels) {
      const unknown = [...channel.unknown.values()];
      for (let from = 0; from < unknown.length; from += MOST_TOGETHER)
        this.#send(client, channel, unknown.slice(from, from + MOST_TOGETHER));
    }
  }

  #send(client: MqttClient, channel: KeptChannel, readings: readonly Measured[]): void {
    const payload = readings.map(({ value, at, seq }) => ({ value, at, seq }));
    client.publish(
      channel.topic,
      JSON.stringify(payload.length === 1 ? payload[0] : payload),
      { qos: 1 },
      (error) => {
        if (!error) channel.acknowledge(readings);
      },
    );
  }
}
