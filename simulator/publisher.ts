import { randomBytes } from 'node:crypto';
import { setTimeout as wait } from 'node:timers/promises';
import { connect, type MqttClient } from 'mqtt';
import { isoTime } from '../shared/wire/time.ts';
import type { Clock } from './clock.ts';
import { type BacklogItem, dueMs, type ReadingItem, type RunItem, type StageItem } from './run.ts';

export interface BacklogOptions {
  /** `mqtt://` or `mqtts://`, with user name and password in it where the broker asks for them. */
  brokerUrl: string;
  site: string;
  run: Iterable<RunItem>;
  /**
   * Called at each stage cue, when the broker has acknowledged everything before it; what follows waits for
   * the promise. Where it rejects, so does `finished`.
   */
  onStage?: (item: StageItem) => Promise<void> | void;
  /** Told of connection errors; a lost connection is tried again until `close()`. */
  onTrouble?: (error: Error) => void;
}

export interface PublishOptions extends BacklogOptions {
  /** A reading goes out when this clock reaches its time. */
  clock: Clock;
}

export interface Publishing {
  /** Resolves when the whole run is published and acknowledged, or `close()` was called. */
  finished: Promise<void>;
  /** Stops and disconnects, within seconds even where the broker does not answer. Resolves when done. */
  close(): Promise<void>;
}

/** Messages a device has under way without an acknowledgement: bounds memory while the broker is away. */
const IN_FLIGHT = 64;
/** Readings in one message of a device that sends what it kept. */
const ARRAY_LENGTH = 500;
const RECONNECT_MS = 1000;
/** How long a goodbye may take, ms. */
const GOODBYE_MS = 2000;

/**
 * Plays a run to a broker as its devices would: each an MQTT client of its own, with retained presence and a
 * last will, that loses its connection without a goodbye where the run says so.
 */
export function publishRun({ clock, ...options }: PublishOptions): Publishing {
  return publishing(async (stop, inFlight) => {
    const devices = new Map<string, Connection>();
    const device = (name: string): Connection => {
      const connection = devices.get(name);
      if (!connection) throw new RangeError(`'${name}' publishes while it is gone`);
      return connection;
    };
    const { site, onStage } = options;
    try {
      for (const item of options.run) {
        const aheadMs = dueMs(item) - clock.now();
        if (aheadMs > 0) await clock.sleep(aheadMs, stop);
        switch (item.kind) {
          case 'reading':
            // What a person types in goes over no wire.
            if (item.device === null) break;
            await device(item.device).send(readingTopic(site, item), JSON.stringify(onWire(item)));
            break;
          case 'backlog':
            for (const part of chunks(item.readings.map(onWire))) {
              await device(item.device).send(readingTopic(site, item), JSON.stringify(part));
            }
            break;
          case 'stage':
            await inFlight.fewerThan(1);
            await onStage?.(item);
            break;
          case 'presence':
            if (item.presence === 'here') {
              devices.set(item.device, connectDevice(options, item.device, inFlight));
            } else {
              await inFlight.fewerThan(1);
              await device(item.device).drop();
              devices.delete(item.device);
            }
            break;
        }
      }
      await inFlight.fewerThan(1);
    } finally {
      await Promise.all([...devices.values()].map((connection) => connection.goodbye()));
    }
  });
}

/**
 * Sends a run as fast as the broker takes it, as a device does that was long without a network: readings in
 * arrays, everything before a stage cue acknowledged before it. Presence is left out, since it has no time
 * of its own and would be taken as of now.
 */
export function publishBacklog(options: BacklogOptions): Publishing {
  return publishing(async (_stop, inFlight) => {
    const connection = new Connection(options, { name: 'backlog', presenceTopic: null, inFlight });
    const kept = new Map<string, WireReading[]>();
    // Channels go out together and in turn, so that none runs far ahead of another; temperatures last, since
    // they are judged by what the others show at their time.
    const flush = async (): Promise<void> => {
      const isTemperature = (topic: string) => Number(topic.includes('temperature'));
      const inTurn = [...kept].sort(([a], [b]) => isTemperature(a) - isTemperature(b));
      for (const [topic, readings] of inTurn) {
        for (const part of chunks(readings)) await connection.send(topic, JSON.stringify(part));
      }
      kept.clear();
      await inFlight.fewerThan(1);
    };
    try {
      for (const item of options.run) {
        if (item.kind === 'stage') {
          await flush();
          await options.onStage?.(item);
        } else if (item.kind !== 'presence' && item.device !== null) {
          const topic = readingTopic(options.site, item);
          const readings = kept.get(topic) ?? [];
          kept.set(topic, readings);
          readings.push(...(item.kind === 'backlog' ? item.readings : [item]).map(onWire));
          if (readings.length >= ARRAY_LENGTH) await flush();
        }
      }
      await flush();
    } finally {
      await connection.goodbye();
    }
  });
}

function publishing(play: (stop: AbortSignal, inFlight: InFlight) => Promise<void>): Publishing {
  const stopping = new AbortController();
  const finished = play(stopping.signal, new InFlight(stopping.signal)).catch((error: unknown) => {
    if (!stopping.signal.aborted) throw error;
  });
  return {
    finished,
    close: () => {
      stopping.abort();
      return finished;
    },
  };
}

interface WireReading {
  value: number;
  at: string;
  seq: number;
}

const onWire = ({ value, atMs, seq }: { value: number; atMs: number; seq: number }): WireReading => ({
  value,
  at: isoTime(atMs),
  seq,
});

const readingTopic = (site: string, { vessel, channel }: ReadingItem | BacklogItem): string =>
  `esterwatch/v1/reading/${site}/${vessel}/${channel}`;

function* chunks<T>(list: readonly T[]): Generator<T[]> {
  for (let start = 0; start < list.length; start += ARRAY_LENGTH) {
    yield list.slice(start, start + ARRAY_LENGTH);
  }
}

/** Counts messages that wait for their acknowledgement. */
class InFlight {
  #count = 0;
  #wake: () => void = () => {};
  readonly #stop: AbortSignal;

  constructor(stop: AbortSignal) {
    this.#stop = stop;
    stop.addEventListener('abort', () => this.#wake());
  }

  /** Waits until fewer than `limit` are under way. Rejects when stopped. */
  async fewerThan(limit: number): Promise<void> {
    while (this.#count >= limit && !this.#stop.aborted) {
      await new Promise<void>((resolve) => {
        this.#wake = resolve;
      });
    }
    this.#stop.throwIfAborted();
  }

  add(acknowledged: Promise<unknown>): void {
    this.#count += 1;
    const settle = (): void => {
      this.#count -= 1;
      this.#wake();
    };
    acknowledged.then(settle, settle);
  }
}

const connectDevice = (options: BacklogOptions, name: string, inFlight: InFlight): Connection =>
  new Connection(options, {
    name,
    presenceTopic: `esterwatch/v1/presence/${options.site}/${name}`,
    inFlight,
  });

/** One MQTT client, connecting and reconnecting by itself, with its presence kept where it has a topic for it. */
class Connection {
  readonly #client: MqttClient;
  readonly #presenceTopic: string | null;
  readonly #inFlight: InFlight;
  #unacknowledged = 0;

  constructor(
    { brokerUrl, onTrouble }: BacklogOptions,
    { name, presenceTopic, inFlight }: { name: string; presenceTopic: string | null; inFlight: InFlight },
  ) {
    this.#presenceTopic = presenceTopic;
    this.#inFlight = inFlight;
    this.#client = connect(brokerUrl, {
      // Two simulators at one broker must not push each other out.
      clientId: `${name}-${randomBytes(4).toString('hex')}`,
      protocolVersion: 4,
      reconnectPeriod: RECONNECT_MS,
      ...(presenceTopic && {
        will: { topic: presenceTopic, payload: Buffer.from('gone'), qos: 1, retain: true },
      }),
    });
    this.#client.on('error', (error) => onTrouble?.(error));
    // Said again after each reconnection: the broker has published the last will meanwhile.
    if (presenceTopic) {
      this.#client.on('connect', () => this.#client.publish(presenceTopic, 'here', { qos: 1, retain: true }));
    }
  }

  /** Hands a reading to the client, which sends it when it can. Waits while too many are under way. */
  async send(topic: string, payload: string): Promise<void> {
    await this.#inFlight.fewerThan(IN_FLIGHT);
    this.#unacknowledged += 1;
    const acknowledged = this.#client.publishAsync(topic, payload, { qos: 1 }).finally(() => {
      this.#unacknowledged -= 1;
    });
    this.#inFlight.add(acknowledged);
  }

  /** Goes without a word, as a device does that loses its network: the broker publishes the last will. */
  drop(): Promise<void> {
    return this.#client.endAsync(true);
  }

  async goodbye(): Promise<void> {
    const said =
      this.#client.connected &&
      (this.#presenceTopic === null ||
        (await within(
          GOODBYE_MS,
          this.#client.publishAsync(this.#presenceTopic, 'gone', { qos: 1, retain: true }),
        )));
    // A polite end waits for every acknowledgement, for ever where the broker withholds one.
    await this.#client.endAsync(!said || this.#unacknowledged > 0);
  }
}

/** Whether the promise resolves in time. */
async function within(ms: number, promise: Promise<unknown>): Promise<boolean> {
  const late = new AbortController();
  const resolved = promise.then(
    () => true,
    () => false,
  );
  const timer = wait(ms, false, { signal: late.signal }).catch(() => false);
  const answer = await Promise.race([resolved, timer]);
  late.abort();
  return answer;
}
