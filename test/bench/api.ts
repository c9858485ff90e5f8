/**
 * How many times a second the daemon answers with all vessels and with a day of readings as a thousand points, beside
 * Fastify that serialises the same objects, ready-made. `npm run bench`, or by itself after `npm run build`.
 */
import { spawn } from 'node:child_process';
import { once } from 'node:events';
import { createInterface } from 'node:readline';
import { fileURLToPath } from 'node:url';
import { connectAsync } from 'mqtt';
import { openStore } from '../../daemon/store/open.ts';
import type { NewReading } from '../../daemon/store/store.ts';
import { readingTopic } from '../../shared/wire/topics.ts';
import { gaussian, seededRandom } from '../../simulator/random.ts';
import { dataFolderOnDisk, LOOPBACK, serve } from '../support/serving.ts';
import type { Answered, AskOptions } from './load/http-client.ts';
import { JITTER_MS, reading, steady } from './noisy-probe.ts';
import { median, printHead, printRow, raw, USUAL_CHANNELS, usedS } from './table.ts';

const ROUNDS = 3;
const VESSELS = 20;
const DAY_S = 86_400;
const HOUR_S = 3600;
const POINTS = 1000;

const startChild = (file: string, options: object) =>
  spawn(
    process.execPath,
    ['--import', 'tsx', fileURLToPath(new URL(file, import.meta.url)), JSON.stringify(options)],
    { stdio: ['pipe', 'pipe', 'inherit'] },
  );
const lineOf = async (child: ReturnType<typeof startChild>): Promise<string> =>
  ((await once(createInterface({ input: child.stdout }), 'line')) as [string])[0];

interface Asked extends Answered {
  /** Processor time of the server an answer, µs. */
  costUs: number;
}

const ask = async (port: number, pid: number, path: string): Promise<Asked> => {
  const options: AskOptions = { port, path, connections: 8, seconds: 4, warmUpS: 2 };
  const from = usedS(pid);
  const answered = JSON.parse(await lineOf(startChild('load/http-client.ts', options))) as Answered;
  return { ...answered, costUs: ((usedS(pid) - from) / answered.inAll) * 1e6 };
};

/** A day at 1 Hz, each hour sealed as a daemon leaves it. */
async function fill(data: string, nowMs: number): Promise<void> {
  const random = seededRandom(13, 'api');
  const store = await openStore(data);
  const fromMs = nowMs - DAY_S * 1000;
  for (let second = 0; second < DAY_S; second += HOUR_S) {
    const hourMs = fromMs + second * 1000;
    const entries = Array.from({ length: HOUR_S }, (_, i): NewReading => {
      const trueMs = hourMs + i * 1000;
      return {
        kind: 'reading',
        vessel: 'v0',
        channel: USUAL_CHANNELS[0]!,
        atMs: trueMs + Math.round(JITTER_MS * gaussian(random)),
        arrivedMs: trueMs + 100,
        stamped: false,
        value: reading(steady(trueMs - fromMs), random),
        seq: null,
        source: 'device',
      };
    });
    await store.write([{ site: 'barn', entries }]);
    await store.seal('barn', hourMs);
  }
  await store.close();
}

const { data, remove } = dataFolderOnDisk();
const nowMs = Date.now();
await fill(data, nowMs);
const daemon = await serve({ data });
try {
  const device = await connectAsync(`mqtt://${LOOPBACK}:${daemon.mqttPort}`);
  for (let vessel = 0; vessel < VESSELS; vessel++)
    for (const channel of USUAL_CHANNELS)
      await device.publishAsync(readingTopic('barn', `v${vessel}`, channel), '50', { qos: 1 });
  await device.endAsync();

  const time = (ms: number): string => new Date(ms).toISOString();
  const range = `from=${time(nowMs - DAY_S * 1000)}&to=${time(nowMs)}`;
  const readings = `/api/v1/vessels/v0/readings?channel=${USUAL_CHANNELS[0]}&${range}&points=${POINTS}`;
  const paths = ['/api/v1/vessels', readings];
  const plain = startChild('load/plain-api.ts', { from: daemon.httpPort, paths });
  const plainPort = Number(await lineOf(plain));
  printHead();
  for (const path of paths) {
    const [own, bare]: [Asked[], Asked[]] = [[], []];
    for (let round = 0; round < ROUNDS; round++) {
      const ours = async () => own.push(await ask(daemon.httpPort, daemon.pid, path));
      const theirs = async () => bare.push(await ask(plainPort, plain.pid!, path));
      for (const run of round % 2 === 0 ? [ours, theirs] : [theirs, ours]) await run();
    }
    const [ownRates, bareRates] = [own, bare].map((all) => all.map(({ perSecond }) => perSecond));
    const busiest = Math.max(...[...own, ...bare].map(({ ownShare }) => ownShare));
    const what = path === readings ? `a day of readings as ${POINTS} points` : `${VESSELS} vessels`;
    printRow({
      what: `API: ${what}, ${(own[0]!.bytes / 1000).toFixed(0)} kB`,
      figure: `${median(ownRates!).toFixed(0)}/s`,
      beside: `${median(bareRates!).toFixed(0)}/s, Fastify with the same object ready-made`,
      ratio: median(ownRates!) / median(bareRates!),
      aim: '0.5',
      raw: `${raw(ownRates!)}; ${raw(bareRates!)}; processor time an answer ${raw(own.map(({ costUs }) => costUs))} and ${raw(bare.map(({ costUs }) => costUs))} µs; client ${(100 * busiest).toFixed(0)} % of a core`,
    });
  }
  plain.kill();
} finally {
  daemon.kill('SIGTERM');
  await daemon.ended;
  remove();
}
