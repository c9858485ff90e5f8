import { setTimeout as wait } from 'node:timers/promises';
import { connectAsync, type MqttClient } from 'mqtt';
import { openReadable } from '../../daemon/store/sqlite/database.ts';
import { isDifference, verifyDatabase } from '../../daemon/store/sqlite/verify.ts';
import type { RawReadings } from '../../shared/wire/api.ts';
import { readingTopic } from '../../shared/wire/topics.ts';
import type { Random } from '../../simulator/random.ts';
import { Api } from './api.ts';
import { LOOPBACK, type Served, serve, serveCutShort } from './serving.ts';

const VESSELS = ['barn:r1', 'barn:r2', 'shed:r1', 'shed:m1'] as const;
const CHANNELS = ['liquid-temperature', 'stirrer-speed', 'lamp'] as const;
/** Messages under way at once, of each device. */
const UNDER_WAY = 50;
const LONGEST_ARRAY = 12;
/** A round's load lasts up to so long, ms. */
const LONGEST_LOAD_MS = 1200;
/** A start takes about so long, ms: one that is cut short is cut somewhere in it. */
const START_MS = 600;

/** A daemon killed once: what was sent to it, and what it was like after its next start. */
export interface KillRound {
  /** After how much of the load, ms. */
  killedAfterMs: number;
  /** The next start was killed after so long, ms, before the one that counts; null where it was not. */
  startCutAfterMs: number | null;
  /** Readings acknowledged in this round, and stored in all. */
  acknowledged: number;
  stored: number;
  /** From the start of the process until it listened. */
  startMs: number;
  /** What is not as it should be, in words. */
  wrong: string[];
}

/** A reading with its own time; without `seq` it would not be told from another of the same ms. */
interface Own {
  value: number;
  at: number;
  seq: number;
}

/** What a device has sent to one channel, for good. */
class Sent {
  readonly own = new Map<number, Own>();
  readonly plain = new Set<number>();
  readonly acknowledgedOwn = new Set<number>();
  readonly acknowledgedPlain = new Set<number>();
  readonly topic: string;
  readonly #random: Random;

  constructor(topic: string, random: Random) {
    this.topic = topic;
    this.#random = random;
  }

  get acknowledged(): number {
    return this.acknowledgedOwn.size + this.acknowledgedPlain.size;
  }

  /** Sends something new: a plain number, a reading, or what was kept for a while. */
  async sendNext(client: MqttClient): Promise<void> {
    const kind = this.#random();
    if (kind < 0.2) return this.#sendPlain(client);
    const count = kind < 0.9 ? 1 : 1 + Math.floor(LONGEST_ARRAY * this.#random());
    const readings = Array.from({ length: count }, () => {
      const reading = { value: this.#value(), at: Date.now(), seq: this.own.size };
      this.own.set(reading.seq, reading);
      return reading;
    });
    await this.#sendOwn(client, kind < 0.9 ? readings[0]! : readings);
  }

  /** A device that does not know what arrived sends it again, in one message. */
  async sendAgain(client: MqttClient): Promise<void> {
    const unknown = [...this.own.values()].filter(({ seq }) => !this.acknowledgedOwn.has(seq));
    if (unknown.length > 0) await this.#sendOwn(client, unknown);
  }

  /** What is not as it should be about what is stored of it. */
  *wrongIn({ t, value, seq }: RawReadings): Generator<string> {
    const storedOwn = new Set<number>();
    const storedPlain = new Set<number>();
    for (const [i, number] of seq.entries()) {
      const [stored, at] = [value[i]!, t[i]!];
      if (number === null) {
        if (!this.plain.has(stored)) yield `${this.topic}: ${stored} was never sent`;
        storedPlain.add(stored);
        continue;
      }
      const sent = this.own.get(number);
      if (sent?.at !== at || sent.value !== stored)
        yield `${this.topic}: ${stored} of ${at}, seq ${number}, is not what was sent`;
      if (storedOwn.has(number)) yield `${this.topic}: seq ${number} is stored twice`;
      storedOwn.add(number);
    }
    for (const number of this.acknowledgedOwn)
      if (!storedOwn.has(number)) yield `${this.topic}: seq ${number} was acknowledged and is lost`;
    for (const number of this.acknowledgedPlain)
      if (!storedPlain.has(number)) yield `${this.topic}: ${number} was acknowledged and is lost`;
  }

  async #sendPlain(client: MqttClient): Promise<void> {
    const value = this.#value();
    this.plain.add(value);
    await client.publishAsync(this.topic, String(value), { qos: 1 });
    this.acknowledgedPlain.add(value);
  }

  async #sendOwn(client: MqttClient, readings: Own | Own[]): Promise<void> {
    await client.publishAsync(this.topic, JSON.stringify(readings), { qos: 1 });
    for (const { seq } of Array.isArray(readings) ? readings : [readings]) this.acknowledgedOwn.add(seq);
  }

  /** With all its bits in use, and no other like it. */
  #value(): number {
    return 20 + 60 * (this.#random() + this.#random() * 2 ** -32);
  }
}

/** A device of one vessel: connects, and sends as fast as it is acknowledged until the daemon is gone. */
async function sendUntilKilled(channels: readonly Sent[], port: number, random: Random): Promise<void> {
  const client = await connectAsync(`mqtt://${LOOPBACK}:${port}`, { reconnectPeriod: 0 }, false);
  client.on('error', () => {}); // the link breaks: that is what is tested
  const gone = new Promise<void>((resolve) => client.once('close', resolve));
  const one = async () => {
    while (client.connected) await channels[Math.floor(random() * channels.length)]!.sendNext(client);
  };
  const again = channels.map((channel) => channel.sendAgain(client));
  const sending = [...again, ...Array.from({ length: UNDER_WAY }, one)].map((sent) => sent.catch(() => {}));
  await gone;
  client.end(true); // what was under way fails
  await Promise.all(sending);
}

/**
 * Kills a daemon under full load at a random moment and starts it again on the same folder, `rounds` times;
 * each gives what it found once the daemon was there again. Of a quarter the start is cut short, too.
 */
export async function* killRounds(data: string, rounds: number, random: Random): AsyncGenerator<KillRound> {
  const devices = VESSELS.map((vessel) =>
    CHANNELS.map((channel) => {
      const [site, name] = vessel.split(':') as [string, string];
      return { vessel, channel, sent: new Sent(readingTopic(site, name, channel), random) };
    }),
  );
  const channels = devices.flat();
  const acknowledgedSoFar = () => channels.reduce((sum, { sent }) => sum + sent.acknowledged, 0);

  let served: Served = await serve({ data });
  try {
    for (let round = 0; round < rounds; round++) {
      const killedAfterMs = Math.floor(LONGEST_LOAD_MS * random());
      const startCutAfterMs = random() < 0.25 ? Math.floor(START_MS * random()) : null;
      const before = acknowledgedSoFar();
      const load = devices.map((device) =>
        sendUntilKilled(
          device.map(({ sent }) => sent),
          served.mqttPort!,
          random,
        ),
      );
      // Without a connection there is no load: one that is refused fails the run.
      await Promise.race([wait(killedAfterMs), Promise.all(load)]);
      served.kill('SIGKILL');
      await served.ended;
      await Promise.allSettled(load);
      const acknowledged = acknowledgedSoFar() - before;

      if (startCutAfterMs !== null) await serveCutShort(data, startCutAfterMs);
      const from = performance.now();
      served = await serve({ data });
      const startMs = performance.now() - from;

      const wrong: string[] = [];
      let stored = 0;
      const api = new Api(served.httpPort);
      for (const { vessel, channel, sent } of channels) {
        const readings = await api.raw(vessel, channel);
        stored += readings.t.length;
        wrong.push(...sent.wrongIn(readings));
      }
      const refused = await api.refused();
      if (refused.length > 0) wrong.push(`refused: ${JSON.stringify(refused)}`);
      wrong.push(...differences(data));
      yield { killedAfterMs, startCutAfterMs, acknowledged, stored, startMs, wrong };
    }
  } finally {
    served.kill('SIGKILL');
    await served.ended;
  }
}

function differences(data: string): string[] {
  const database = openReadable(data);
  try {
    const result = verifyDatabase(database);
    return isDifference(result) ? [JSON.stringify(result)] : [];
  } finally {
    database.close();
  }
}
