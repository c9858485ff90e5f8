/**
 * A year of a channel at 1 Hz: how fast it is drawn, beside a query over raw rows, given back and exported; how
 * fast a daemon starts on it, beside one on an empty store; and how long the thread that takes readings in is held
 * up while they come, a hundred channels are sealed, the year is drawn and a copy is made.
 * On the disk that the project lies on. `npm run bench:store`, or by itself with DAYS (365) instead of a year.
 */
import { join } from 'node:path';
import { monitorEventLoopDelay } from 'node:perf_hooks';
import Database from 'better-sqlite3';
import { backupInThread, openStore } from '../../daemon/store/open.ts';
import type { CsvPart, CsvPlace, NewReading, SiteProgress, Store } from '../../daemon/store/store.ts';
import { emptySiteState } from '../../shared/engine/state.ts';
import { gaussian, seededRandom } from '../../simulator/random.ts';
import { dataFolderOnDisk, serve } from '../support/serving.ts';
import { JITTER_MS, reading, steady } from './noisy-probe.ts';

const days = Number(process.argv[2] ?? 365);
const START_MS = Date.UTC(2025, 0, 1);
const HOUR_MS = 3_600_000;
const BUCKETS = 2000;
const WIDE_CHANNELS = 100;
const random = seededRandom(12, 'year');
const channel = 'liquid-temperature';
const year = { site: 'barn', vessel: 'r1', channel, fromMs: START_MS, toMs: START_MS + days * 24 * HOUR_MS };

const readingOf = (trueMs: number, name: string): NewReading => ({
  kind: 'reading',
  vessel: 'r1',
  channel: name,
  atMs: trueMs + Math.round(JITTER_MS * gaussian(random)),
  stamped: false,
  arrivedMs: trueMs + 100,
  value: reading(steady(trueMs - START_MS), random),
  seq: null,
  source: 'device',
});

/** The same readings in the store, sealed, and as rows of one table by time. */
async function fill(store: Store, rows: Database.Database): Promise<number> {
  rows.exec(
    'CREATE TABLE reading (channel_id INTEGER, at_ms INTEGER, value REAL, PRIMARY KEY (channel_id, at_ms)) WITHOUT ROWID',
  );
  const insert = rows.prepare('INSERT OR IGNORE INTO reading VALUES (1, ?, ?)');
  const insertAll = rows.transaction((entries: readonly NewReading[]) => {
    for (const { atMs, value } of entries) insert.run(atMs, value);
  });
  let count = 0;
  for (let hourMs = START_MS; hourMs < year.toMs; hourMs += HOUR_MS) {
    const entries = Array.from({ length: 3600 }, (_, s) => readingOf(hourMs + 1000 * s, channel));
    count += entries.length;
    await store.write([{ site: year.site, entries }]);
    insertAll(entries);
    await store.seal(year.site, hourMs + HOUR_MS + 1000);
  }
  // As a daemon that watched all the while leaves it.
  const [{ lastPosition: position }] = (await store.sites()) as [SiteProgress];
  const snapshot = { position, state: JSON.stringify(emptySiteState()) };
  await store.write([{ site: year.site, entries: [], judged: { position, atMs: year.toMs }, snapshot }]);
  return count;
}

async function timesMs(count: number, run: () => unknown): Promise<number[]> {
  const times: number[] = [];
  for (let i = 0; i < count; i++) {
    const from = performance.now();
    await run();
    times.push(performance.now() - from);
  }
  return times.sort((a, b) => a - b);
}
const share = (sorted: readonly number[], of: number): number =>
  sorted[Math.floor(of * (sorted.length - 1))]!;
const ms = (value: number): string => `${value.toFixed(value < 100 ? 1 : 0)} ms`;
const row = (...cells: string[]): string => `| ${cells.join(' | ')} |`;

async function exported(store: Store, count: number): Promise<string> {
  const from = performance.now();
  for (let after: CsvPlace | null = null; ; ) {
    const { endsAt }: CsvPart = await store.readingsCsv({ ...year, after });
    if (endsAt === null) break;
    after = endsAt;
  }
  return `${Math.round(count / ((performance.now() - from) / 1000))} readings/s`;
}

/** From the start of the process to the first answer that it is ready. */
async function startMs(data: string): Promise<number> {
  const times: number[] = [];
  for (let i = 0; i < 5; i++) {
    const from = performance.now();
    const daemon = await serve({ data });
    times.push(performance.now() - from);
    daemon.kill('SIGTERM');
    await daemon.ended;
  }
  return share(
    times.sort((a, b) => a - b),
    0.5,
  );
}

/** While all goes on at once: how late a timer of this thread is, and how long a write takes. */
async function heldUp(store: Store, data: string): Promise<string[]> {
  const wide = 'shed';
  const names = Array.from({ length: WIDE_CHANNELS }, (_, i) => `probe-${i}`);
  for (let s = 0; s < 3600; s += 10) {
    const entries = Array.from({ length: 10 }, (_, i) =>
      names.map((name) => readingOf(year.toMs + 1000 * (s + i), name)),
    );
    await store.write([{ site: wide, entries: entries.flat() }]);
  }
  const delay = monitorEventLoopDelay({ resolution: 1 });
  let isOver = false;
  const acknowledged: number[] = [];
  const intake = (async () => {
    for (let tick = 0; !isOver; tick++) {
      const atMs = year.toMs + 2 * HOUR_MS + 100 * tick;
      const from = performance.now();
      await store.write([{ site: 'mill', entries: names.map((name) => readingOf(atMs, name)) }]);
      acknowledged.push(performance.now() - from);
      await new Promise((resolve) => setTimeout(resolve, 100 - Math.min(99, performance.now() - from)));
    }
  })();
  delay.enable();
  const from = performance.now();
  const sealing = (async () => {
    while (await store.seal(wide, year.toMs + 2 * HOUR_MS));
  })();
  const copying = backupInThread(data, join(data, 'copy.db'));
  const drawing = timesMs(50, () => store.buckets({ ...year, points: BUCKETS }));
  await Promise.all([sealing, copying, drawing]);
  delay.disable();
  isOver = true;
  await intake;
  acknowledged.sort((a, b) => a - b);
  const lasted = `${((performance.now() - from) / 1000).toFixed(1)} s`;
  return [
    row(
      `while ${WIDE_CHANNELS} channels are sealed, ${days} days drawn 50 times and a copy made: intake is held up, p99 over ${lasted}`,
      ms(delay.percentile(99) / 1e6 - 1),
      '',
      '',
      'under 5 ms',
    ),
    row(
      `meanwhile a commit of ${WIDE_CHANNELS}, p50 and p99`,
      `${ms(share(acknowledged, 0.5))}, ${ms(share(acknowledged, 0.99))}`,
      '',
      '',
      '',
    ),
  ];
}

const { data, remove } = dataFolderOnDisk();
let store = await openStore(data);
const rows = new Database(join(data, 'rows.db'));
try {
  rows.pragma('journal_mode = WAL');
  rows.pragma('synchronous = OFF');
  const from = performance.now();
  const count = await fill(store, rows);
  const filledS = (performance.now() - from) / 1000;
  const stepMs = (year.toMs - START_MS) / BUCKETS;
  const grouped = rows.prepare(
    'SELECT (at_ms - ?) / ? AS bucket, min(value), avg(value), max(value) FROM reading WHERE channel_id = 1 AND at_ms BETWEEN ? AND ? GROUP BY bucket',
  );
  const theirs = await timesMs(3, () =>
    grouped.raw().all(BigInt(START_MS), BigInt(Math.round(stepMs)), START_MS, year.toMs),
  );
  const ours = await timesMs(30, () => store.buckets({ ...year, points: BUCKETS }));
  const hours = await timesMs(200, () => {
    const fromMs =
      START_MS + Math.floor(random() * (days - 1) * 24) * HOUR_MS + Math.floor(random() * HOUR_MS);
    return store.rawReadings({ ...year, fromMs, toMs: fromMs + HOUR_MS });
  });
  const lines = [
    `${count} readings of one channel in ${days} days, filled in ${filledS.toFixed(0)} s, node ${process.version}`,
    row('what', 'figure', 'compared with', 'ratio', 'aim'),
    row(...Array<string>(5).fill('---')),
    row(
      `${days} days of a channel at 1 Hz as at most ${BUCKETS} buckets, median`,
      ms(share(ours, 0.5)),
      `${ms(share(theirs, 0.5))}, GROUP BY over raw rows`,
      (share(ours, 0.5) / share(theirs, 0.5)).toFixed(5),
      'a year under 20 ms',
    ),
    row(`any raw hour of ${days} days, median`, ms(share(hours, 0.5)), '', '', 'under 10 ms'),
    row('any raw hour, p99', ms(share(hours, 0.99)), '', '', ''),
    row(
      `export of ${days} days of a channel as CSV`,
      await exported(store, count),
      '',
      '',
      'at least 500,000',
    ),
  ];
  rows.close();
  await store.close();
  const empty = dataFolderOnDisk();
  const onEmpty = await startMs(empty.data);
  empty.remove();
  const onYear = await startMs(data);
  lines.push(
    row(
      `start to ready with ${days} days of history, median`,
      ms(onYear),
      `${ms(onEmpty)}, on an empty store`,
      (onYear / onEmpty).toFixed(2),
      'under 1 s',
    ),
  );
  store = await openStore(data);
  lines.push(...(await heldUp(store, data)));
  await store.close();
  process.stdout.write(`${lines.join('\n')}\n`);
} finally {
  remove();
}
