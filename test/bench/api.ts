/**
 * How many times a second the daemon answers with all vessels and with a day of readings as a thousand points, beside
 * Fastify that serialises the same objects, ready-made. `npm run bench`, or by itself after `npm run build`.
 */
import { spawn } from 'node:child_process';
import { once } from 'node:events';
import { createInterface } from 'node:readline';
import { fileURLToPath } from 'node:url';
import { connectAsync } from 'mqtt';
import { readingTopic } from '../../shared/wire/topics.ts';
import { dataFolderOnDisk, LOOPBACK, serve } from '../support/serving.ts';
import type { Answered, AskOptions } from './load/http-client.ts';
import { median, printHead, printRow, raw } from './table.ts';

const ROUNDS = 3;
const VESSELS = 20;
const CHANNELS = [
  'liquid-temperature',
  'liquid-temperature-2',
  'wall-temperature',
  'stirrer-speed',
  'stirrer-current',
  'ambient-temperature',
];
const DAY_S = 86_400;
/** Readings of a message. */
const AT_ONCE = 3600;
const POINTS = 1000;

const startChild = (file: string, options: object) =>
  spawn(
    process.execPath,
    ['--import', 'tsx', fileURLToPath(new URL(file, import.meta.url)), JSON.stringify(options)],
    { stdio: ['pipe', 'pipe', 'inherit'] },
  );
const lineOf = async (child: ReturnType<typeof startChild>): Promise<string> =>
  ((await once(createInterface({ input: child.stdout }), 'line')) as [string])[0];

const ask = async (port: number, path: string): Promise<Answered> => {
  const options: AskOptions = { port, path, connections: 8, seconds: 4, warmUpS: 2 };
  return JSON.parse(await lineOf(startChild('load/http-client.ts', options))) as Answered;
};

const { data, remove } = dataFolderOnDisk();
const daemon = await serve({ data });
try {
  const device = await connectAsync(`mqtt://${LOOPBACK}:${daemon.mqttPort}`);
  const nowMs = Date.now();
  for (let vessel = 0; vessel < VESSELS; vessel++)
    for (const channel of CHANNELS)
      await device.publishAsync(readingTopic('barn', `v${vessel}`, channel), '50', { qos: 1 });
  for (let second = 0; second < DAY_S; second += AT_ONCE) {
    const readings = Array.from({ length: AT_ONCE }, (_, i) => ({
      value: 55 + ((second + i) % 64) / 16,
      at: nowMs - (DAY_S - second - i) * 1000,
    }));
    await device.publishAsync(readingTopic('barn', 'v0', CHANNELS[0]!), JSON.stringify(readings), { qos: 1 });
  }
  await device.endAsync();

  const time = (ms: number): string => new Date(ms).toISOString();
  const range = `from=${time(nowMs - DAY_S * 1000)}&to=${time(nowMs)}`;
  const readings = `/api/v1/vessels/v0/readings?channel=${CHANNELS[0]}&${range}&points=${POINTS}`;
  const paths = ['/api/v1/vessels', readings];
  const plain = startChild('load/plain-api.ts', { from: daemon.httpPort, paths });
  const plainPort = Number(await lineOf(plain));
  printHead();
  for (const path of paths) {
    const [own, bare]: [Answered[], Answered[]] = [[], []];
    for (let round = 0; round < ROUNDS; round++) {
      const ours = async () => own.push(await ask(daemon.httpPort, path));
      const theirs = async () => bare.push(await ask(plainPort, path));
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
      raw: `${raw(ownRates!)}; ${raw(bareRates!)}; client ${(100 * busiest).toFixed(0)} % of a core`,
    });
  }
  plain.kill();
} finally {
  daemon.kill('SIGTERM');
  await daemon.ended;
  remove();
}
