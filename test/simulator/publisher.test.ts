import { once } from 'node:events';
import { createServer, type Server, type Socket } from 'node:net';
import { setTimeout as wait } from 'node:timers/promises';
import { Aedes } from 'aedes';
import { connectAsync, type MqttClient } from 'mqtt';
import { afterAll, afterEach, beforeAll, beforeEach, describe, expect, it } from 'vitest';
import { type Clock, scaledClock } from '../../simulator/clock.ts';
import { publishBacklog, publishRun } from '../../simulator/publisher.ts';
import { type RunItem, run } from '../../simulator/run.ts';
import type { Cue, Scenario } from '../../simulator/scenario.ts';
import { SCENARIOS } from '../../simulator/scenarios/index.ts';
import { freePort, type Mosquitto, startMosquitto, startRelay } from '../support/mosquitto.ts';
import { patiently } from '../support/patiently.ts';

const START = Date.UTC(2026, 2, 2, 8);
const SETTINGS = { seed: 1, startMs: START, readingEveryMs: 1000 };

/** The ordinary batch's vessels with cues of the test's own. */
const scenario = (lengthMinutes: number, ...cues: Cue[]): Scenario => ({
  ...SCENARIOS['ordinary-batch'],
  lengthMinutes,
  cues,
});

/** `vessel/channel atMs seq value` of each reading that a run measures. */
function measured(items: Iterable<RunItem>): string[] {
  const lines: string[] = [];
  for (const item of items) {
    if (item.kind !== 'reading' && item.kind !== 'backlog') continue;
    for (const { atMs, seq, value } of item.kind === 'backlog' ? item.readings : [item]) {
      lines.push(`${item.vessel}/${item.channel} ${atMs} ${seq} ${value}`);
    }
  }
  return lines.sort();
}

interface Message {
  topic: string;
  text: string;
  retain: boolean;
}

/** The readings in messages, in the form of `measured`. */
function received(messages: readonly Message[]): string[] {
  const lines: string[] = [];
  for (const { topic, text } of messages) {
    const [, channel] = /^esterwatch\/v1\/reading\/shed\/(.+)$/.exec(topic) ?? [];
    if (channel === undefined) continue;
    const payload = JSON.parse(text);
    for (const { at, seq, value } of Array.isArray(payload) ? payload : [payload]) {
      expect(at).toBe(new Date(at).toISOString());
      lines.push(`${channel} ${Date.parse(at)} ${seq} ${value}`);
    }
  }
  return lines.sort();
}

const presenceOf = (messages: readonly Message[], device: string): string[] =>
  messages.filter(({ topic }) => topic === `esterwatch/v1/presence/shed/${device}`).map(({ text }) => text);

let mosquitto: Mosquitto;
let brokerUrl: string;
let listener: MqttClient;
let messages: Message[];

beforeAll(async () => {
  mosquitto = await startMosquitto();
  brokerUrl = `mqtt://127.0.0.1:${mosquitto.port}`;
});
afterAll(() => mosquitto.stop());

async function listen(): Promise<[MqttClient, Message[]]> {
  const heard: Message[] = [];
  const client = await connectAsync(brokerUrl);
  client.on('message', (topic, payload, { retain }) =>
    heard.push({ topic, text: payload.toString(), retain }),
  );
  await client.subscribeAsync('esterwatch/#', { qos: 1 });
  return [client, heard];
}

beforeEach(async () => {
  [listener, messages] = await listen();
});
afterEach(() => listener.endAsync());

describe('a run that is played', () => {
  it('arrives whole, each reading once, with its own time and number', async () => {
    const story = scenario(3, { atMinutes: 1, do: 'stir', vessel: 'r1', perMin: 300 });
    const clock = scaledClock(600, START);
    await publishRun({ brokerUrl, site: 'shed', run: run(story, SETTINGS), clock }).finished;
    expect(clock.now()).toBeGreaterThanOrEqual(START + 3 * 60_000);
    const expected = measured(run(story, SETTINGS));
    expect(expected).toHaveLength(181 * 5);
    await patiently(() => expect(received(messages)).toEqual(expected));
  });

  it('shows each device as here, retained, and as gone when it ends', async () => {
    await publishRun({
      brokerUrl,
      site: 'shed',
      run: run(scenario(1), SETTINGS),
      clock: scaledClock(600, START),
    }).finished;
    for (const device of ['r1-node', 'm1-node']) {
      await patiently(() => expect(presenceOf(messages, device).slice(-2)).toEqual(['here', 'gone']));
    }
    const [afterwards, kept] = await listen();
    await patiently(() => expect(kept.filter(({ retain }) => retain)).toHaveLength(2));
    await afterwards.endAsync();
  });

  it('waits with each reading for the clock', async () => {
    const clock = new SteppedClock(START);
    const playing = publishRun({ brokerUrl, site: 'shed', run: run(scenario(10), SETTINGS), clock });
    const upTo = (seconds: number) =>
      measured(run(scenario(10), SETTINGS)).filter(
        (line) => Number(line.split(' ')[1]) <= START + seconds * 1000,
      );
    clock.step(4500);
    await patiently(() => expect(received(messages)).toEqual(upTo(4)));
    await wait(100);
    expect(received(messages)).toEqual(upTo(4));
    clock.step(1000);
    await patiently(() => expect(received(messages)).toEqual(upTo(5)));
    await playing.close();
  });

  it('hands stage cues on in order and waits for them', async () => {
    const story = scenario(
      2,
      { atMinutes: 0.5, do: 'stage', vessel: 'r1', stage: 'warm' },
      { atMinutes: 1, do: 'stage', vessel: 'r1', stage: 'dose' },
    );
    const seen: string[] = [];
    await publishRun({
      brokerUrl,
      site: 'shed',
      run: run(story, SETTINGS),
      clock: scaledClock(6000, START),
      onStage: async ({ stage, atMs }) => {
        seen.push(`${stage} ${atMs - START}`);
        await wait(20);
        seen.push(`${stage} noted`);
      },
    }).finished;
    expect(seen).toEqual(['warm 30000', 'warm noted', 'dose 60000', 'dose noted']);
  });

  it('fails with what a stage cue fails with, and leaves the broker', async () => {
    const story = scenario(2, { atMinutes: 0.1, do: 'stage', vessel: 'r1', stage: 'warm' });
    const refusal = new Error('refused');
    const { finished } = publishRun({
      brokerUrl,
      site: 'shed',
      run: run(story, SETTINGS),
      clock: scaledClock(600, START),
      onStage: () => Promise.reject(refusal),
    });
    await expect(finished).rejects.toBe(refusal);
    await patiently(() => expect(presenceOf(messages, 'r1-node').at(-1)).toBe('gone'));
  });

  it('drops a device’s link without a goodbye, and sends what it kept in arrays when it is back', async () => {
    const story = scenario(
      13,
      { atMinutes: 1, do: 'link', device: 'r1-node', up: false },
      { atMinutes: 11, do: 'link', device: 'r1-node', up: true },
    );
    await publishRun({ brokerUrl, site: 'shed', run: run(story, SETTINGS), clock: scaledClock(600, START) })
      .finished;
    await patiently(() => expect(received(messages)).toEqual(measured(run(story, SETTINGS))));
    expect(presenceOf(messages, 'r1-node').slice(-4)).toEqual(['here', 'gone', 'here', 'gone']);
    const lengths = messages
      .filter(({ text }) => text.startsWith('['))
      .map(({ text }) => JSON.parse(text).length);
    expect(lengths.sort()).toEqual([100, 100, 100, 500, 500, 500]);
  });

  it('connects again after a cut, shows itself here again, and loses nothing', async () => {
    const relay = await startRelay(mosquitto.port);
    const story = scenario(20);
    const playing = publishRun({
      brokerUrl: `mqtt://127.0.0.1:${relay.port}`,
      site: 'shed',
      run: run(story, SETTINGS),
      clock: scaledClock(300, START),
    });
    await patiently(() => expect(received(messages).length).toBeGreaterThan(500));
    expect(relay.cut()).toBe(2);
    await playing.finished;
    await relay.stop();
    // A reading whose acknowledgement was cut off comes twice.
    await patiently(() => expect([...new Set(received(messages))]).toEqual(measured(run(story, SETTINGS))));
    expect(presenceOf(messages, 'r1-node').slice(-4)).toEqual(['here', 'gone', 'here', 'gone']);
  }, 15_000);

  it('stops when it is closed', async () => {
    const clock = scaledClock(1, START);
    const playing = publishRun({ brokerUrl, site: 'shed', run: run(scenario(60), SETTINGS), clock });
    await patiently(() => expect(received(messages)).not.toHaveLength(0));
    await playing.close();
    await playing.finished;
    await patiently(() => expect(presenceOf(messages, 'r1-node').at(-1)).toBe('gone'));
    const count = received(messages).length;
    await wait(1200);
    expect(received(messages)).toHaveLength(count);
  });

  it('tells of a broker that is not there, and can be closed all the same', async () => {
    const trouble: Error[] = [];
    const playing = publishRun({
      brokerUrl: `mqtt://127.0.0.1:${await freePort()}`,
      site: 'shed',
      run: run(scenario(60), SETTINGS),
      clock: scaledClock(600, START),
      onTrouble: (error) => trouble.push(error),
    });
    await patiently(() => expect(trouble).not.toHaveLength(0));
    expect(trouble[0]).toMatchObject({ code: 'ECONNREFUSED' });
    await playing.close();
  });
});

const KEPT = scenario(
  40,
  { atMinutes: 0, do: 'stage', vessel: 'r1', stage: 'warm' },
  { atMinutes: 20, do: 'stage', vessel: 'r1', stage: 'dose' },
  { atMinutes: 25, do: 'link', device: 'r1-node', up: false },
  { atMinutes: 30, do: 'link', device: 'r1-node', up: true },
);

describe('a backlog', () => {
  it('arrives whole in arrays of at most 500 readings, each channel in order, without presence', async () => {
    await publishBacklog({ brokerUrl, site: 'shed', run: run(KEPT, SETTINGS) }).finished;
    await patiently(() => expect(received(messages)).toEqual(measured(run(KEPT, SETTINGS))));
    const times = new Map<string, number[]>();
    // What is marked as retained was left by earlier runs.
    for (const { topic, text } of messages.filter(({ retain }) => !retain)) {
      const readings: { at: string }[] = JSON.parse(text);
      expect(readings.length).toBeLessThanOrEqual(500);
      times.set(topic, [...(times.get(topic) ?? []), ...readings.map(({ at }) => Date.parse(at))]);
    }
    expect(times.size).toBe(5);
    for (const each of times.values()) expect(each).toEqual([...each].sort((a, b) => a - b));
  });
});

describe('at a broker that is slow to acknowledge', () => {
  let broker: Aedes;
  let server: Server;
  const sockets = new Set<Socket>();
  let acknowledged: Message[];
  let holds: boolean;

  beforeEach(async () => {
    acknowledged = [];
    holds = false;
    broker = await Aedes.createBroker();
    broker.authorizePublish = (_client, packet, done) => {
      if (holds) return;
      setTimeout(() => {
        acknowledged.push({ topic: packet.topic, text: packet.payload.toString(), retain: packet.retain });
        done(null);
      }, 20);
    };
    server = createServer((socket) => {
      sockets.add(socket);
      broker.handle(socket);
    }).listen(0, '127.0.0.1');
    await once(server, 'listening');
  });
  afterEach(async () => {
    for (const socket of sockets) socket.destroy();
    server.close();
    await new Promise<void>((resolve) => broker.close(resolve));
  });
  const slowUrl = () => {
    const address = server.address();
    return typeof address === 'object' && address ? `mqtt://127.0.0.1:${address.port}` : '';
  };

  it('has everything before a stage acknowledged when the stage is noted', async () => {
    const atStages: string[][] = [];
    await publishBacklog({
      brokerUrl: slowUrl(),
      site: 'shed',
      run: run(KEPT, SETTINGS),
      onStage: () => {
        atStages.push(received(acknowledged));
      },
    }).finished;
    const before = [...run(KEPT, SETTINGS)].filter(({ atMs }) => atMs < START + 20 * 60_000);
    expect(atStages).toEqual([[], measured(before)]);
    expect(received(acknowledged)).toEqual(measured(run(KEPT, SETTINGS)));
  });

  it.each([
    ['a backlog', publishBacklog, 1],
    ['a played run', publishRun, 2],
  ])('%s can be closed while acknowledgements are withheld', async (_what, publish, clients) => {
    holds = true;
    const clock = scaledClock(600, START);
    const sending = publish({ brokerUrl: slowUrl(), site: 'shed', run: run(KEPT, SETTINGS), clock });
    await patiently(() => expect(broker.connectedClients).toBe(clients));
    const began = performance.now();
    await sending.close();
    expect(performance.now() - began).toBeLessThan(4000);
    await patiently(() => expect(broker.connectedClients).toBe(0));
  });
});

describe('a clock', () => {
  it('runs so many times as fast as life', async () => {
    const clock = scaledClock(1000, START);
    const began = performance.now();
    await clock.sleep(100_000);
    expect(performance.now() - began).toBeLessThan(2000);
    expect(clock.now()).toBeGreaterThanOrEqual(START + 99_000);
  });

  it('wakes when it is told to stop', async () => {
    const stop = new AbortController();
    const sleeping = scaledClock(1, START).sleep(60_000, stop.signal);
    stop.abort();
    await expect(sleeping).rejects.toMatchObject({ name: 'AbortError' });
  });

  it.each([0, -1, Number.NaN, Number.POSITIVE_INFINITY])('refuses a speed of %s', (speed) => {
    expect(() => scaledClock(speed, START)).toThrow(RangeError);
  });
});

/** A clock that stands still until it is stepped. */
class SteppedClock implements Clock {
  #nowMs: number;
  #sleepers: { untilMs: number; wake: () => void }[] = [];

  constructor(startMs: number) {
    this.#nowMs = startMs;
  }

  now(): number {
    return this.#nowMs;
  }

  sleep(ms: number, signal?: AbortSignal): Promise<void> {
    return new Promise((resolve, reject) => {
      signal?.addEventListener('abort', () => reject(signal.reason));
      this.#sleepers.push({ untilMs: this.#nowMs + ms, wake: resolve });
    });
  }

  step(ms: number): void {
    this.#nowMs += ms;
    const due = this.#sleepers.filter(({ untilMs }) => untilMs <= this.#nowMs);
    this.#sleepers = this.#sleepers.filter(({ untilMs }) => untilMs > this.#nowMs);
    for (const { wake } of due) wake();
  }
}
