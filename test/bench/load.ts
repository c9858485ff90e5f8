/**
 * How many readings the daemon takes in, how long they and the alarms in them wait, and what that costs, beside a
 * Mosquitto that stores nothing, driven by the same client in a process of its own. `npm run bench:load`, after
 * `npm run build`; with parts' names for some only. Pairs of runs in turn, medians, raw values beside them.
 */
import { type ChildProcessByStdio, spawn } from 'node:child_process';
import { once } from 'node:events';
import { mkdirSync } from 'node:fs';
import { connect } from 'node:net';
import { createInterface, type Interface } from 'node:readline';
import type { Readable, Writable } from 'node:stream';
import { setTimeout as wait } from 'node:timers/promises';
import { fileURLToPath } from 'node:url';
import { connectAsync } from 'mqtt';
import { WebSocketServer } from 'ws';
import { readingTopic } from '../../shared/wire/topics.ts';
import { Api } from '../support/api.ts';
import { freePort, startMosquitto } from '../support/mosquitto.ts';
import { dataFolderOnDisk, LOOPBACK, type Served, serve } from '../support/serving.ts';
import type { SendOptions, Sent } from './load/client.ts';
import type { Heard, LookOptions } from './load/viewers.ts';
import { heldMB, median, printHead, printRow, raw, share, USUAL_CHANNELS, usedS } from './table.ts';

const ROUNDS = 3;
const SECONDS = 8;
const WARM_UP_S = 3;
const CONNECTIONS = 100;
const VIEWERS = 20;
/** What has not come by then does not come, ms. */
const PATIENCE_MS = 90_000;
/** A row counts only while the client is not what holds things up, share of a core. */
const MOST_OWN_SHARE = 0.8;

const path = (relative: string): string => fileURLToPath(new URL(relative, import.meta.url));
type Child = ChildProcessByStdio<Writable, Readable, null>;
const startChild = (file: string, options: object): Child =>
  spawn(process.execPath, ['--import', 'tsx', path(file), JSON.stringify(options)], {
    stdio: ['pipe', 'pipe', 'inherit'],
  });

/** The next line that a child prints, or an error where none comes in time. */
async function nextLine(lines: Interface): Promise<string> {
  const [line] = (await once(lines, 'line', { signal: AbortSignal.timeout(PATIENCE_MS) })) as [string];
  return line;
}

type Sending = Omit<SendOptions, 'warmUpS' | 'seconds' | 'vessel'> & Partial<SendOptions>;

/** `onCounting` is called when what is counted begins. */
async function send(options: Sending, onCounting: () => void = () => {}): Promise<Sent> {
  const whole: SendOptions = { warmUpS: WARM_UP_S, seconds: SECONDS, vessel: 'v', ...options };
  const child = startChild('load/client.ts', whole);
  child.stdin.end();
  const lines = createInterface({ input: child.stdout });
  await nextLine(lines);
  onCounting();
  return JSON.parse(await nextLine(lines)) as Sent;
}

/** Processes that look on: `hears` resolves when all of them have what has a text in it. */
class Viewers {
  readonly #child: Child;
  readonly #lines: Interface;
  readonly #waiting = new Map<string, (heard: Heard) => void>();

  private constructor(child: Child) {
    this.#child = child;
    this.#lines = createInterface({ input: child.stdout });
    this.#lines.on('line', (line) => {
      if (!line.startsWith('{')) return;
      const heard = JSON.parse(line) as Heard;
      this.#waiting.get(heard.text)?.(heard);
      this.#waiting.delete(heard.text);
    });
  }

  static async start(options: LookOptions): Promise<Viewers> {
    const viewers = new Viewers(startChild('load/viewers.ts', options));
    await nextLine(viewers.#lines);
    return viewers;
  }

  async hears(text: string, run: () => Promise<unknown>): Promise<{ firstMs: number; lastMs: number }> {
    const heard = new Promise<Heard>((resolve) => this.#waiting.set(text, resolve));
    const awaiting = nextLine(this.#lines);
    this.#child.stdin.write(`${JSON.stringify({ text })}\n`);
    await awaiting;
    const from = nowMs();
    await run();
    const late = AbortSignal.timeout(PATIENCE_MS);
    const tooLate = once(late, 'abort').then(() => Promise.reject(new Error(`nobody heard ${text}`)));
    const { firstMs, lastMs } = await Promise.race([heard, tooLate]);
    return { firstMs: firstMs - from, lastMs: lastMs - from };
  }

  /** Gives its processor time, s. */
  async end(): Promise<number> {
    const used = nextLine(this.#lines);
    this.#child.stdin.end();
    const seconds = Number(await used);
    await once(this.#child, 'close');
    return seconds;
  }
}

const nowMs = (): number => Number(process.hrtime.bigint()) / 1e6;

async function withDaemon<T>(run: (daemon: Served) => Promise<T>, broker?: string): Promise<T> {
  const { data, remove } = dataFolderOnDisk();
  const daemon = await serve({ data, ...(broker === undefined ? {} : { broker }) });
  try {
    return await run(daemon);
  } finally {
    daemon.kill('SIGTERM');
    await daemon.ended;
    remove();
  }
}

async function withMosquitto<T>(run: (broker: { port: number; pid: number }) => Promise<T>): Promise<T> {
  const broker = await startMosquitto();
  try {
    return await run(broker);
  } finally {
    await broker.stop();
  }
}

// ---- readings a second ----

interface Measured extends Sent {
  /** Processor time of the broker a reading, µs. */
  costUs: number;
}

async function measured(pid: number, options: Sending): Promise<Measured> {
  let from = 0;
  const sent = await send(options, () => {
    from = usedS(pid);
  });
  return { ...sent, costUs: ((usedS(pid) - from) / sent.acknowledged) * 1e6 };
}

/** The library that the daemon's broker is made of, which acknowledges at once. */
async function libraryAlone(inFlight: number): Promise<Measured> {
  const child = startChild('load/library-alone.ts', {});
  const [port] = (await once(createInterface({ input: child.stdout }), 'line')) as [string];
  const sent = await measured(child.pid!, { port: Number(port), connections: CONNECTIONS, inFlight });
  child.kill();
  await once(child, 'exit');
  return sent;
}

async function throughput(): Promise<void> {
  for (const inFlight of [20, 1]) {
    const [own, bare, alone]: [Measured[], Measured[], Measured[]] = [[], [], []];
    for (let round = 0; round < ROUNDS; round++) {
      const ours = async () =>
        own.push(
          await withDaemon(async ({ pid, httpPort, mqttPort }) => {
            const viewers = await Viewers.start({ count: VIEWERS, httpPort });
            const sent = await measured(pid, { port: mqttPort!, connections: CONNECTIONS, inFlight });
            await viewers.end();
            return sent;
          }),
        );
      const theirs = async () =>
        bare.push(
          await withMosquitto(({ port, pid }) => measured(pid, { port, connections: CONNECTIONS, inFlight })),
        );
      const libraries = async () => alone.push(await libraryAlone(inFlight));
      const runs = [ours, theirs, libraries];
      for (const run of round % 2 === 0 ? runs : runs.reverse()) await run();
    }
    const [ownRate, bareRate] = [own, bare].map((all) => median(all.map(({ perSecond }) => perSecond)));
    const busiest = Math.max(...[...own, ...bare].map(({ ownShare }) => ownShare));
    printRow({
      what: `QoS 1 readings a second, ${CONNECTIONS} connections, ${inFlight} in flight each, ${VIEWERS} viewers`,
      figure: `${ownRate!.toFixed(0)}/s`,
      beside: `${bareRate!.toFixed(0)}/s, Mosquitto that stores nothing`,
      ratio: ownRate! / bareRate!,
      aim: inFlight === 1 ? '0.35' : '0.9',
      raw: `${raw(own.map(({ perSecond }) => perSecond))}; ${raw(bare.map(({ perSecond }) => perSecond))}; client ${(100 * busiest).toFixed(0)} % of a core${busiest > MOST_OWN_SHARE ? ', too much to count' : ''}`,
    });
    const aloneRate = median(alone.map(({ perSecond }) => perSecond));
    printRow({
      what: `QoS 1 readings a second, ${inFlight} in flight each, beside the broker library by itself`,
      figure: `${ownRate!.toFixed(0)}/s`,
      beside: `${aloneRate.toFixed(0)}/s, the library without a store, rules and pages`,
      ratio: ownRate! / aloneRate,
      raw: raw(alone.map(({ perSecond }) => perSecond)),
    });
    const [ownCost, bareCost] = [own, bare].map((all) => median(all.map(({ costUs }) => costUs)));
    printRow({
      what: `processor time a reading, ${inFlight} in flight`,
      figure: `${ownCost!.toFixed(0)} µs`,
      beside: `${bareCost!.toFixed(0)} µs, Mosquitto`,
      ratio: ownCost! / bareCost!,
      aim: 'at most 2.5',
      raw: `${raw(own.map(({ costUs }) => costUs))}; ${raw(bare.map(({ costUs }) => costUs))}`,
    });
  }
}

/** The daemon takes from an outside Mosquitto what the client sends there as fast as that acknowledges. */
const BACKLOG_PER_S = 20_000;
const BACKLOG_S = 10;

/**
 * What a daemon takes from an outside Mosquitto that has kept readings for it: so that neither the sender nor the
 * broker's own work for it is what holds things up.
 */
async function outside(): Promise<void> {
  const rates: number[] = [];
  const own: number[] = [];
  let busiest = 0;
  for (let round = 0; round < ROUNDS; round++) {
    const kept = dataFolderOnDisk();
    mkdirSync(kept.data);
    const mosquitto = await startMosquitto(undefined, kept.data);
    const { data, remove } = dataFolderOnDisk();
    const broker = `mqtt://${LOOPBACK}:${mosquitto.port}`;
    const stop = async (daemon: Served) => {
      daemon.kill('SIGTERM');
      await daemon.ended;
    };
    const first = await serve({ data, broker });
    await new Api(first.httpPort).ready();
    await stop(first);
    const { port } = mosquitto;
    const rate = BACKLOG_PER_S;
    await send({ port, connections: CONNECTIONS, inFlight: 20, rate, seconds: BACKLOG_S, warmUpS: 0 });
    const daemon = await serve({ data, broker });
    const stored = async (): Promise<number> => {
      const metrics = await (await fetch(`http://${LOOPBACK}:${daemon.httpPort}/metrics`)).text();
      return Number(/^esterwatch_readings_stored_total (\d+)/m.exec(metrics)![1]);
    };
    while ((await stored()) === 0) await wait(10);
    await wait(1000);
    const [from, fromMs] = [await stored(), performance.now()];
    await wait(2000);
    rates.push(((await stored()) - from) / ((performance.now() - fromMs) / 1000));
    await stop(daemon);
    await mosquitto.stop();
    remove();
    kept.remove();
    own.push(
      await withDaemon(async ({ mqttPort }) => {
        const sent = await send({ port: mqttPort!, connections: CONNECTIONS, inFlight: 20 });
        busiest = Math.max(busiest, sent.ownShare);
        return sent.perSecond;
      }),
    );
  }
  printRow({
    what: 'QoS 1 readings a second from an outside Mosquitto that has kept them, one connection',
    figure: `${median(rates).toFixed(0)}/s`,
    beside: `${median(own).toFixed(0)}/s, the broker of its own`,
    ratio: median(rates) / median(own),
    aim: '0.5',
    raw: `${raw(rates)}; ${raw(own)}; client ${(100 * busiest).toFixed(0)} % of a core`,
  });
}

// ---- one at a time ----

/** As long as another process takes to commit a row with full sync and to answer over loopback, a hundred times a second. */
async function bareAnswerMs(count: number): Promise<number[]> {
  const { data, remove } = dataFolderOnDisk();
  mkdirSync(data);
  const child = startChild('load/bare-answer.ts', { data });
  const [port] = (await once(createInterface({ input: child.stdout }), 'line')) as [string];
  const socket = connect(Number(port), LOOPBACK).setNoDelay(true);
  await once(socket, 'connect');
  const times: number[] = [];
  for (let i = 0; i < count; i++) {
    await wait(10);
    const from = performance.now();
    socket.write(Buffer.alloc(80));
    await once(socket, 'data');
    times.push(performance.now() - from);
  }
  socket.destroy();
  child.stdin.end();
  await once(child, 'exit');
  remove();
  return times;
}

async function idle(): Promise<void> {
  const [own, bare]: [number[], number[]] = [[], []];
  for (let round = 0; round < ROUNDS; round++) {
    await withDaemon(async ({ mqttPort }) => {
      const { p50 } = await send({ port: mqttPort!, connections: 1, inFlight: 1, rate: 100 });
      own.push(p50);
    });
    bare.push(median(await bareAnswerMs(500)));
  }
  printRow({
    what: 'PUBACK of one reading, 100 a second, p50',
    figure: `${median(own).toFixed(2)} ms`,
    beside: `${median(bare).toFixed(2)} ms, a commit with full sync and an answer, nothing else`,
    ratio: median(own) / median(bare),
    aim: 'at most 3, under 1.5 ms',
    raw: `${raw(own, 2)}; ${raw(bare, 2)}`,
  });
}

// ---- alarms ----

const ALARMS = 200;
const RATE = 1000;
const ALARM_VIEWERS = 200;

/** Readings of so many a second go on while the alarm of one vessel after the other is raised. */
async function alarmTimes(mqttPort: number, viewers: Viewers): Promise<number[]> {
  const sending = send({ port: mqttPort, connections: CONNECTIONS, inFlight: 1, rate: RATE, seconds: 40 });
  await wait(3000);
  const device = await connectAsync(`mqtt://${LOOPBACK}:${mqttPort}`);
  const times: number[] = [];
  for (let i = 0; i < ALARMS; i++) {
    const topic = readingTopic('barn', `hot${i}`, 'liquid-temperature');
    await device.publishAsync(topic, '50', { qos: 1 });
    await wait(60);
    // What a probe that has lost its power says: an alarm at once.
    const { lastMs } = await viewers.hears(`"id":"barn.hot${i}.`, () =>
      device.publishAsync(topic, '-127', { qos: 1 }),
    );
    times.push(lastMs);
  }
  await device.endAsync();
  await sending;
  return times;
}

async function alarms(): Promise<void> {
  const bare = await withMosquitto(async ({ port }) => {
    const sending = send({ port, connections: CONNECTIONS, inFlight: 1, rate: RATE, seconds: 40 });
    const viewers = await Viewers.start({ count: ALARM_VIEWERS, mqttPort: port, filter: 'alarm/+' });
    const device = await connectAsync(`mqtt://${LOOPBACK}:${port}`);
    const times: number[] = [];
    for (let i = 0; i < ALARMS; i++) {
      await wait(60);
      const heard = await viewers.hears(`alarm ${i}.`, () =>
        device.publishAsync(`alarm/${i}`, `alarm ${i}.${' '.repeat(600)}`, { qos: 1 }),
      );
      times.push(heard.lastMs);
    }
    await device.endAsync();
    await viewers.end();
    await sending;
    return times;
  });
  const own = await withDaemon(async ({ httpPort, mqttPort }) => {
    const viewers = await Viewers.start({ count: ALARM_VIEWERS, httpPort });
    const times = await alarmTimes(mqttPort!, viewers);
    await viewers.end();
    return times;
  });
  const through = await withMosquitto(({ port }) =>
    withDaemon(async ({ httpPort }) => {
      const viewers = await Viewers.start({ count: ALARM_VIEWERS, httpPort });
      const times = await alarmTimes(port, viewers);
      await viewers.end();
      return times;
    }, `mqtt://${LOOPBACK}:${port}`),
  );
  const bareP99 = share(bare, 0.99);
  for (const [what, times, aim] of [
    ['', own, 'under 25 ms'],
    [' through an outside Mosquitto', through, 'under 40 ms'],
  ] as const)
    printRow({
      what: `reading published → alarm at the last of ${ALARM_VIEWERS} pages, ${RATE} readings a second${what}, p99 of ${ALARMS}`,
      figure: `${share(times, 0.99).toFixed(1)} ms`,
      beside: `${bareP99.toFixed(1)} ms, Mosquitto to as many subscribers`,
      ratio: share(times, 0.99) / bareP99,
      aim: aim,
      raw: `p50 ${share(times, 0.5).toFixed(1)}, most ${Math.max(...times).toFixed(1)}`,
    });
}

// ---- many viewers ----

async function broadcast(): Promise<void> {
  const count = 500;
  const runs = 40;
  const port = await freePort();
  const plain = new WebSocketServer({ port, host: LOOPBACK, perMessageDeflate: false });
  const bareViewers = await Viewers.start({ count, wsPort: port });
  const bare: number[] = [];
  for (let i = 0; i < runs; i++) {
    await wait(100);
    const message = `{"type":"alarm","text":"alarm ${i}.${' '.repeat(600)}"}`;
    const { firstMs, lastMs } = await bareViewers.hears(`alarm ${i}.`, async () => {
      for (const client of plain.clients) client.send(message);
    });
    bare.push(lastMs - firstMs);
  }
  await bareViewers.end();
  plain.close();
  const own = await withDaemon(async ({ httpPort, mqttPort }) => {
    const viewers = await Viewers.start({ count, httpPort });
    const device = await connectAsync(`mqtt://${LOOPBACK}:${mqttPort}`);
    const times: number[] = [];
    for (let i = 0; i < runs; i++) {
      const topic = readingTopic('barn', `hot${i}`, 'liquid-temperature');
      await device.publishAsync(topic, '50', { qos: 1 });
      await wait(500);
      const { firstMs, lastMs } = await viewers.hears(`"id":"barn.hot${i}.`, () =>
        device.publishAsync(topic, '-127', { qos: 1 }),
      );
      times.push(lastMs - firstMs);
    }
    await device.endAsync();
    await viewers.end();
    return times;
  });
  printRow({
    what: `an alarm to ${count} pages, from the first to the last of them, median`,
    figure: `${median(own).toFixed(1)} ms`,
    beside: `${median(bare).toFixed(1)} ms, ws with a constant text`,
    ratio: median(own) / median(bare),
    aim: 'at most 1.5',
    raw: `p90 ${share(own, 0.9).toFixed(1)}; ${share(bare, 0.9).toFixed(1)}`,
  });
}

// ---- a usual site ----

/** Each vessel's device sends its channels together; `apart`: no two devices at the same moment, as they do. */
async function usualShare(apart: boolean): Promise<number> {
  const vessels = 20;
  // Made to run for years: not what its first minute costs, in which what runs often is compiled.
  const [warmUp, seconds] = [60, 40];
  return await withDaemon(async ({ pid, mqttPort }) => {
    const devices = await connectAsync(`mqtt://${LOOPBACK}:${mqttPort}`);
    let used = 0;
    let fromMs = 0;
    for (let second = 0; second < warmUp + seconds; second++) {
      if (second === warmUp) [used, fromMs] = [usedS(pid), performance.now()];
      const over = wait(1000);
      for (let vessel = 0; vessel < vessels; vessel++) {
        if (apart) await wait(1000 / (vessels + 1));
        for (const [i, channel] of USUAL_CHANNELS.entries()) {
          const value = String(50 + i + second / 16);
          void devices.publishAsync(readingTopic('barn', `v${vessel}`, channel), value, { qos: 1 });
        }
      }
      await over;
    }
    const of = (usedS(pid) - used) / ((performance.now() - fromMs) / 1000);
    await devices.endAsync();
    return of;
  });
}

async function usual(): Promise<void> {
  for (const apart of [true, false])
    printRow({
      what: `processor for 20 vessels × 6 channels at 1 Hz, devices ${apart ? 'spread over the second' : 'all at the same moment'}`,
      figure: `${(100 * (await usualShare(apart))).toFixed(1)} % of a core`,
      aim: 'under 5 %',
    });
}

// ---- how it grows ----

const GROWTH = [
  { devices: 20, perSecond: 120 },
  { devices: 100, perSecond: 120 },
  { devices: 400, perSecond: 120 },
  { devices: 100, perSecond: 600 },
  { devices: 100, perSecond: 3000 },
];

/** What devices and rate cost. What history costs, `store-year.ts` says. */
async function growth(): Promise<void> {
  for (const { devices, perSecond } of GROWTH)
    await withDaemon(async ({ pid, mqttPort }) => {
      const sent = await measured(pid, {
        port: mqttPort!,
        connections: devices,
        inFlight: 1,
        rate: perSecond,
      });
      printRow({
        what: `${devices} devices, ${perSecond} readings a second in all`,
        figure: `${((sent.costUs * sent.perSecond) / 1e4).toFixed(1)} % of a core`,
        raw: `${sent.costUs.toFixed(0)} µs a reading, acknowledged after ${sent.p50.toFixed(1)} ms (p50), ${sent.p99.toFixed(1)} (p99), memory ${heldMB(pid).toFixed(0)} MB`,
      });
    });
}

const PARTS = { throughput, outside, idle, alarms, broadcast, usual, growth };
const wanted = process.argv.slice(2);
printHead();
for (const [name, run] of Object.entries(PARTS))
  if (wanted.length === 0 || wanted.includes(name)) await run();
