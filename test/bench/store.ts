/**
 * How fast the store takes readings in, each group on the disk before the next, beside a loop that only inserts
 * into a bare table in groups of the same size with the same settings; and how fast it gives an hour back.
 * On the disk that the project lies on. `npm run bench:store -- [ROUNDS]`.
 */
import { join } from 'node:path';
import Database from 'better-sqlite3';
import { openStore } from '../../daemon/store/open.ts';
import type { NewReading, ReadingsQuery, Store } from '../../daemon/store/store.ts';
import { gaussian, seededRandom } from '../../simulator/random.ts';
import { dataFolderOnDisk } from '../support/serving.ts';

const LEAST_RATIO = 0.7;
/** Group sizes, and of how many groups a round is. */
const GROUPS: readonly [size: number, count: number][] = [
  [1, 300],
  [20, 300],
  [500, 60],
];
const START_MS = Date.UTC(2026, 2, 2, 8);
const HOUR_MS = 3_600_000;
const DAY_HOURS = 24;
const MOST_HOUR_MS = 10;
const CHANNELS = [
  'liquid-temperature',
  'liquid-temperature-2',
  'stirrer-speed',
  'stirrer-current',
  'heater',
  'room-vapour',
];

/** Six channels at 1 Hz with jitter, in steps of a probe, from a time on; never the same twice. */
function* readingsFrom(startMs: number): Generator<NewReading> {
  const random = seededRandom(7, 'store bench');
  for (let second = 0; ; second++) {
    for (const channel of CHANNELS) {
      const atMs = Math.round(startMs + 1000 * second + 5 * gaussian(random));
      const value = Math.round(16 * (55 + 0.05 * gaussian(random))) / 16;
      yield {
        kind: 'reading',
        vessel: 'r1',
        channel,
        atMs,
        stamped: false,
        arrivedMs: atMs + 40,
        value,
        seq: second,
        source: 'device',
      };
    }
  }
}

const take = <T>(from: Iterator<T>, count: number): T[] =>
  Array.from({ length: count }, () => from.next().value as T);

async function writeGroups(store: Store, groups: readonly NewReading[][]): Promise<void> {
  for (const entries of groups) await store.write([{ site: 'shed', entries }]);
}

/** What the store is compared with: one table without an index, written in this thread. */
class BareTable {
  readonly #database: Database.Database;
  readonly #insert;

  constructor(path: string) {
    this.#database = new Database(path);
    this.#database.pragma('journal_mode = WAL');
    this.#database.pragma('synchronous = FULL');
    this.#database.exec(
      `CREATE TABLE reading (vessel TEXT, channel TEXT, at_ms INTEGER, seq INTEGER, value REAL,
                             arrived_ms INTEGER, source TEXT)`,
    );
    const insert = this.#database.prepare('INSERT INTO reading VALUES (?, ?, ?, ?, ?, ?, ?)');
    this.#insert = this.#database.transaction((group: readonly NewReading[]) => {
      for (const { vessel, channel, atMs, seq, value, arrivedMs, source } of group)
        insert.run(vessel, channel, atMs, seq, value, arrivedMs, source);
    });
  }

  write(groups: readonly NewReading[][]): void {
    if (this.#database.pragma('synchronous', { simple: true }) !== 2) throw new Error('not synced');
    for (const group of groups) this.#insert(group);
  }

  close(): void {
    this.#database.close();
  }
}

async function seconds(run: () => unknown): Promise<number> {
  const from = performance.now();
  await run();
  return (performance.now() - from) / 1000;
}

const share = (values: readonly number[], of: number): number =>
  values.toSorted((a, b) => a - b)[Math.floor(of * (values.length - 1))]!;
const median = (values: readonly number[]): number => share(values, 0.5);
const row = (...cells: string[]): string => `| ${cells.join(' | ')} |`;

/** Readings a second in groups of a size: the store's, and the bare table's. */
async function intakeRow(rounds: number, size: number, count: number): Promise<string> {
  const { data, remove } = dataFolderOnDisk();
  const store = await openStore(data);
  const bare = new BareTable(join(data, 'bare.db'));
  const readings = readingsFrom(START_MS);
  const [ours, theirs]: [number[], number[]] = [[], []];
  try {
    // In turns, so that whatever else the machine does falls on both; the first, of compilers, counts for neither.
    for (let round = -1; round < rounds; round++) {
      const groups = Array.from({ length: count }, () => take(readings, size));
      const storeS = await seconds(() => writeGroups(store, groups));
      const bareS = await seconds(() => bare.write(groups));
      if (round < 0) continue;
      ours.push((size * count) / storeS);
      theirs.push((size * count) / bareS);
    }
  } finally {
    bare.close();
    await store.close();
    remove();
  }
  const ratio = median(ours.map((rate, round) => rate / theirs[round]!));
  return row(
    `durable intake, groups of ${size}, median`,
    `${Math.round(median(ours))} readings/s`,
    `${Math.round(median(theirs))} readings/s, bare table`,
    ratio.toFixed(2),
    `ratio at least ${LEAST_RATIO}`,
  );
}

/** A raw hour out of a day of six channels, any hour of any channel. */
async function hourRows(): Promise<string[]> {
  const { data, remove } = dataFolderOnDisk();
  const store = await openStore(data);
  try {
    const readings = readingsFrom(START_MS);
    for (let group = 0; group < (DAY_HOURS * 3600 * CHANNELS.length) / 600; group++)
      await writeGroups(store, [take(readings, 600)]);
    const random = seededRandom(8, 'hours');
    const ask = async (read: (query: ReadingsQuery) => Promise<unknown>): Promise<number[]> => {
      const took: number[] = [];
      for (let i = 0; i < 200; i++) {
        const channel = CHANNELS[i % CHANNELS.length]!;
        const fromMs = START_MS + Math.floor((DAY_HOURS - 1) * HOUR_MS * random());
        const query = { site: 'shed', vessel: 'r1', channel, fromMs, toMs: fromMs + HOUR_MS };
        took.push(1000 * (await seconds(() => read(query))));
      }
      return took;
    };
    const ways = {
      'a raw hour at 1 Hz': await ask((query) => store.rawReadings(query)),
      'the same as JSON': await ask((query) => store.readingsJson({ ...query, points: 'raw' })),
    };
    return Object.entries(ways).flatMap(([what, took]) => [
      row(`${what}, median`, `${median(took).toFixed(1)} ms`, '', '', `under ${MOST_HOUR_MS} ms`),
      row('the same, p99', `${share(took, 0.99).toFixed(1)} ms`, '', '', ''),
    ]);
  } finally {
    await store.close();
    remove();
  }
}

const rounds = Number(process.argv[2] ?? 7);
const lines = [
  `${rounds} rounds, node ${process.version}`,
  row('what', 'figure', 'compared with', 'ratio', 'aim'),
  row(...Array<string>(5).fill('---')),
];
for (const [size, count] of GROUPS) lines.push(await intakeRow(rounds, size, count));
lines.push(...(await hourRows()));
process.stdout.write(`${lines.join('\n')}\n`);
