/**
 * How much room a store takes for days of channels at 1 Hz, all included, beside the entropy of what was
 * drawn to make them and beside a plain row; and how fast a long range is drawn, an hour given back and a range
 * exported. On the disk that the project lies on. `npm run bench:store-size -- [DAYS [CHANNELS [EVERY_S]]]` (30 6 1).
 */
import { statSync } from 'node:fs';
import { join } from 'node:path';
import Database from 'better-sqlite3';
import { openStore } from '../../daemon/store/open.ts';
import type { CsvPlace, NewReading } from '../../daemon/store/store.ts';
import { gaussian, seededRandom } from '../../simulator/random.ts';
import { dataFolderOnDisk } from '../support/serving.ts';
import { JITTER_MS, READING_ENTROPY_BYTES, reading, steady } from './noisy-probe.ts';

const [days = 30, channels = 6, everySeconds = 1] = process.argv.slice(2).map(Number);
const GROUP_SECONDS = 60;
const START_MS = Date.UTC(2026, 0, 1);
const HOUR_MS = 3_600_000;
const site = 'barn';
const channelOf = (i: number): string => (i === 0 ? 'liquid-temperature' : `liquid-temperature-${i + 1}`);

const { data, remove } = dataFolderOnDisk();
const store = await openStore(data);
const plainFile = join(data, 'rows.db');
const plain = new Database(plainFile);
plain.pragma('synchronous = OFF');
plain.exec(
  'CREATE TABLE reading (channel_id INTEGER, at_ms INTEGER, value REAL, PRIMARY KEY (channel_id, at_ms)) WITHOUT ROWID',
);
const insert = plain.prepare('INSERT OR IGNORE INTO reading VALUES (1, ?, ?)');
const insertAll = plain.transaction((entries: readonly NewReading[]) => {
  for (const { channel, atMs, value } of entries) if (channel === channelOf(0)) insert.run(atMs, value);
});
const random = seededRandom(11, 'size');
const startedMs = performance.now();
let readings = 0;
for (let second = 0; second < days * 86_400; second += GROUP_SECONDS) {
  const entries: NewReading[] = [];
  for (let s = second; s < second + GROUP_SECONDS; s += everySeconds) {
    for (let i = 0; i < channels; i++) {
      const trueMs = START_MS + 1000 * s;
      entries.push({
        kind: 'reading',
        vessel: 'r1',
        channel: channelOf(i),
        atMs: trueMs + Math.round(JITTER_MS * gaussian(random)),
        stamped: false,
        arrivedMs: trueMs + 100,
        value: reading(steady(1000 * s), random),
        seq: null,
        source: 'device',
      });
    }
  }
  readings += entries.length;
  insertAll(entries);
  await store.write([{ site, entries }]);
  if ((second + GROUP_SECONDS) % 3600 === 0)
    while (await store.seal(site, START_MS + 1000 * (second + GROUP_SECONDS)));
}
const writtenMs = performance.now() - startedMs;

async function medianMs(run: () => Promise<unknown>): Promise<string> {
  const times: number[] = [];
  for (let i = 0; i < 9; i++) {
    const from = performance.now();
    await run();
    times.push(performance.now() - from);
  }
  return `${times.sort((a, b) => a - b)[4]!.toFixed(1)} ms`;
}
const range = {
  site,
  vessel: 'r1',
  channel: channelOf(0),
  fromMs: START_MS,
  toMs: START_MS + days * 86_400_000,
};
const noon = { ...range, fromMs: START_MS + 12 * HOUR_MS, toMs: START_MS + 13 * HOUR_MS };
const drawn = await medianMs(() => store.buckets({ ...range, points: 2000 }));
const week = { ...range, fromMs: START_MS + HOUR_MS / 3, toMs: START_MS + HOUR_MS / 3 + 7 * 86_400_000 };
const drawnWeek = await medianMs(() => store.buckets({ ...week, points: 500 }));
const hour = await medianMs(() => store.readingsJson({ ...noon, points: 'raw' }));
const exportFrom = performance.now();
let exported = 0;
for (let after: CsvPlace | null = null; ; ) {
  const { csv, endsAt }: Awaited<ReturnType<typeof store.readingsCsv>> = await store.readingsCsv({
    ...range,
    after,
  });
  exported += csv.length;
  if (endsAt === null) break;
  after = endsAt;
}
const exportS = (performance.now() - exportFrom) / 1000;
await store.close();
plain.close();
const plainRowBytes = (statSync(plainFile).size / readings) * channels;

const file = join(data, 'store.db');
const grownBytes = statSync(file).size;
const database = new Database(file);
database.exec('VACUUM');
database.close();
const bytes = statSync(file).size;
remove();

const perReading = (total: number): string => `${(total / readings).toFixed(3)} bytes a reading`;
const times = (total: number, of: number): string => `${(total / readings / of).toFixed(2)}`;
process.stdout.write(
  [
    `${readings} readings, ${days} days, written and sealed in ${(writtenMs / 1000).toFixed(0)} s, node ${process.version}`,
    '| what | figure | compared with | ratio | aim |',
    '| --- | --- | --- | --- | --- |',
    `| disk, ${days} days × ${channels} channels, as the file lies there, all included | ${perReading(grownBytes)} | ${READING_ENTROPY_BYTES.toFixed(3)}, entropy of the readings | ${times(grownBytes, READING_ENTROPY_BYTES)} | at most 1.25 |`,
    `| the same file | ${perReading(grownBytes)} | ${plainRowBytes.toFixed(1)}, rows of a plain table | ${times(grownBytes, plainRowBytes)} |  |`,
    `| the same file, compacted (VACUUM, which the daemon does not do) | ${perReading(bytes)} | entropy | ${times(bytes, READING_ENTROPY_BYTES)} |  |`,
    `| ${days} days of a channel as at most 2,000 buckets | ${drawn} |  |  |  |`,
    `| a week of a channel as at most 500 buckets | ${drawnWeek} |  |  |  |`,
    `| an hour of a channel, raw, as JSON | ${hour} |  |  | under 10 ms |`,
    `| export of a channel as CSV | ${(readings / channels / exportS).toFixed(0)} readings/s, ${(exported / 1e6).toFixed(0)} MB |  |  | 500,000/s |`,
    '',
  ].join('\n'),
);
