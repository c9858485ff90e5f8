/**
 * How small pages of readings become and how fast they are packed and unpacked: beside the entropy of what
 * was drawn to make them, beside brotli on the differences, and beside JSON of the same rows.
 * `--rounds N` for more or fewer.
 */
import { parseArgs } from 'node:util';
import { brotliCompressSync, constants } from 'node:zlib';
import { decodePage, encodePage, type PageReadings } from '../../daemon/store/sqlite/page-codec.ts';
import { gaussian, seededRandom } from '../../simulator/random.ts';
import { JITTER_MS, READING_ENTROPY_BYTES, reading, STEP_C, steady } from './noisy-probe.ts';

const CHANNELS = 6;
const DELAY_MS = 12;
const HOUR_MS = 3_600_000;
const START_MS = Date.UTC(2026, 2, 2, 8);

interface Case {
  name: string;
  intervalMs: number;
  /** °C after a time, without noise. */
  truth: (atMs: number) => number;
  /** Share of readings that never came. */
  lost?: number;
  numbered?: boolean;
}

const heating = (atMs: number): number => 20 + (1.5 * atMs) / 60_000;

const CASES: readonly Case[] = [
  { name: '1 Hz, held', intervalMs: 1000, truth: steady },
  { name: '1 Hz, held, numbered', intervalMs: 1000, truth: steady, numbered: true },
  { name: '1 Hz, heated 1.5 °C/min', intervalMs: 1000, truth: heating },
  { name: '1 Hz, 1 % lost', intervalMs: 1000, truth: steady, lost: 0.01 },
  { name: '10 Hz, held', intervalMs: 100, truth: steady },
  { name: 'one a minute', intervalMs: 60_000, truth: steady },
];

function hourOf({ intervalMs, truth, lost = 0, numbered = false }: Case, seed: number): PageReadings {
  const random = seededRandom(seed, 'page');
  const taken = Array.from({ length: HOUR_MS / intervalMs }, (_, i) => i).filter(() => random() >= lost);
  const atMs = taken.map((i) => START_MS + i * intervalMs + Math.round(JITTER_MS * gaussian(random)));
  return {
    atMs,
    position: taken.map((i) => 1 + seed + i * CHANNELS),
    arrivedMs: atMs.map((at) => at + DELAY_MS),
    value: taken.map((i) => reading(truth(i * intervalMs), random)),
    seq: taken.map((i) => (numbered ? 1000 + i : null)),
    stamped: taken.map(() => false),
    source: taken.map(() => 'device' as const),
  };
}

/** Of what was drawn, with all that is regular known beforehand: no codec can do better. */
function entropyBytes({ lost = 0 }: Case): number {
  const lostBits = lost === 0 ? 0 : -(lost * Math.log2(lost) + (1 - lost) * Math.log2(1 - lost)) / (1 - lost);
  return READING_ENTROPY_BYTES + lostBits / 8;
}

/** Differences of each column as numbers of variable length, then brotli at its best. */
function brotliBytes(page: PageReadings): number {
  const delays = Array.from(page.arrivedMs, (arrived, i) => arrived - page.atMs[i]!);
  const steps = Array.from(page.value, (value) => value / STEP_C);
  const columns = [page.atMs, page.position, delays, steps, Array.from(page.seq, (seq) => seq ?? 0)];
  const bytes = Buffer.from(columns.flatMap(differencesAsBytes));
  return brotliCompressSync(bytes, {
    params: { [constants.BROTLI_PARAM_QUALITY]: 11, [constants.BROTLI_PARAM_SIZE_HINT]: bytes.length },
  }).length;
}

function differencesAsBytes(column: ArrayLike<number>): number[] {
  const bytes: number[] = [];
  for (let i = 0; i < column.length; i++) {
    const difference = column[i]! - (i === 0 ? 0 : column[i - 1]!);
    let rest = difference < 0 ? -2 * difference - 1 : 2 * difference;
    for (; rest >= 128; rest = Math.floor(rest / 128)) bytes.push((rest % 128) + 128);
    bytes.push(rest);
  }
  return bytes;
}

const rowsOf = (page: PageReadings): unknown[] =>
  Array.from(page.atMs, (atMs, i) => ({
    atMs,
    position: page.position[i],
    arrivedMs: page.arrivedMs[i],
    value: page.value[i],
    seq: page.seq[i],
    stamped: page.stamped[i],
    source: page.source[i],
  }));

/** Each of several jobs in turns, so that whatever else the machine does falls on all; the median in ms. */
function medianMs(rounds: number, jobs: readonly (() => unknown)[]): number[] {
  const times = jobs.map((): number[] => []);
  for (let round = 0; round < rounds; round++) {
    jobs.forEach((job, i) => {
      const from = performance.now();
      job();
      times[i]!.push(performance.now() - from);
    });
  }
  return times.map((of) => of.toSorted((a, b) => a - b)[of.length >> 1]!);
}

const WARM_ROUNDS = 20;
const SEEDS = 8;

function rowOf(of: Case, rounds: number): string {
  const pages = Array.from({ length: SEEDS }, (_, seed) => hourOf(of, seed));
  const readings = pages.reduce((sum, page) => sum + page.atMs.length, 0);
  const bytesEach = (sizeOf: (page: PageReadings) => number): number =>
    pages.reduce((sum, page) => sum + sizeOf(page), 0) / readings;
  const packed = bytesEach((page) => encodePage(page).length);
  const entropy = entropyBytes(of);

  const page = pages[0]!;
  const bytes = encodePage(page);
  const rows = rowsOf(page);
  const json = JSON.stringify(rows);
  const jobs = [
    () => encodePage(page),
    () => JSON.stringify(rows),
    () => decodePage(bytes),
    () => JSON.parse(json),
  ];
  medianMs(WARM_ROUNDS, jobs);
  const [encode, stringify, decode, parse] = medianMs(rounds, jobs) as [number, number, number, number];
  const cells = [
    of.name,
    `${page.atMs.length}`,
    packed.toFixed(4),
    entropy.toFixed(4),
    (packed / entropy).toFixed(3),
    bytesEach(brotliBytes).toFixed(4),
    `${encode.toFixed(2)} ms`,
    (stringify / encode).toFixed(2),
    `${decode.toFixed(3)} ms`,
    (parse / decode).toFixed(2),
    `${(page.atMs.length / decode / 1000).toFixed(1)} M/s`,
  ];
  return `| ${cells.join(' | ')} |`;
}

const { values } = parseArgs({ options: { rounds: { type: 'string', default: '60' } } });
const heads = [
  'an hour of one channel',
  'readings',
  'bytes a reading',
  'entropy',
  'of entropy',
  'brotli of differences',
  'encode',
  'speed of JSON.stringify = 1',
  'decode',
  'speed of JSON.parse = 1',
  'decoded',
];
const lines = [
  `| ${heads.join(' | ')} |`,
  `|${heads.map(() => '---|').join('')}`,
  ...CASES.map((of) => rowOf(of, Number(values.rounds))),
];
process.stdout.write(`${lines.join('\n')}\n`);
