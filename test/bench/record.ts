/**
 * The record of a batch of two days at 1 Hz, temperature and stirrer: how long it takes to make in each form, how
 * large it is, and whether its counts are those of what was stored. `npm run bench:record`, after `npm run build`: each
 * is made in a thread of its own of the program as built, which is started for it, as the daemon does.
 */
import { machineClock } from '../../daemon/clock.ts';
import { Records } from '../../daemon/record/records.ts';
import { openStore } from '../../daemon/store/open.ts';
import type { NewAction, NewEntry } from '../../daemon/store/store.ts';
import { computePlan } from '../../shared/plan/compute.ts';
import type { Stage } from '../../shared/wire/names.ts';
import { seededRandom } from '../../simulator/random.ts';
import { dataFolderOnDisk } from '../support/serving.ts';
import { reading, steady } from './noisy-probe.ts';

const DAYS = 2;
const RUNS = 5;
const START_MS = Date.UTC(2026, 2, 2, 8);
const MINUTE_MS = 60_000;
const SITE = 'barn';
const MOST_S = 2;
const MOST_BYTES = 1_000_000;
const random = seededRandom(4, 'record');

const { workings: _, ...computed } = computePlan({ site: { altitudeM: 340 } });
const action = (name: string, minute: number, body: Record<string, unknown>): NewAction => {
  const atMs = START_MS + minute * MINUTE_MS;
  return { kind: 'action', action: name, atMs, arrivedMs: atMs, by: 'Ada Brook', body };
};
const stage = (minute: number, name: Stage): NewAction =>
  action('stage', minute, { batch: 'b1', vessel: 'r1', stage: name, deviation: null });
const ACTIONS = [
  action('vessel-added', 0, { vessel: 'r1', role: 'reactor' }),
  action('batch-opened', 1, {
    id: 'b1',
    name: 'Autumn oil',
    vessel: 'r1',
    request: { site: { altitudeM: 340 } },
    computed,
    site: { altitudeM: 340 },
  }),
  stage(2, 'warm'),
  stage(60, 'dose'),
  stage(75, 'react'),
  stage(140, 'settle'),
  stage(1640, 'drain'),
  stage(1700, 'wash'),
  stage(2500, 'dry-fuel'),
  stage(2 * 24 * 60 - 1, 'finished'),
];

async function fill(dir: string): Promise<number> {
  const store = await openStore(dir);
  let [count, position, acted] = [0, 0, 0];
  for (let minute = 0; minute < DAYS * 24 * 60; minute++) {
    const entries: NewEntry[] = [];
    while (acted < ACTIONS.length && ACTIONS[acted]!.atMs <= START_MS + minute * MINUTE_MS)
      entries.push(ACTIONS[acted++]!);
    for (let second = 0; second < 60; second++) {
      const atMs = START_MS + minute * MINUTE_MS + second * 1000;
      const base = { kind: 'reading', vessel: 'r1', atMs, arrivedMs: atMs + 40, source: 'device' } as const;
      const seq = minute * 60 + second;
      const value = reading(steady(atMs - START_MS), random);
      const speed = minute > 2 && minute < 140 ? 300 + Math.round(20 * random()) : 0;
      entries.push({ ...base, channel: 'liquid-temperature', value, seq, stamped: false });
      entries.push({ ...base, channel: 'stirrer-speed', value: speed, seq, stamped: false });
      count += 2;
    }
    position += entries.length;
    const nowMs = START_MS + (minute + 1) * MINUTE_MS;
    await store.write([{ site: SITE, entries, judged: { position, atMs: nowMs } }]);
    if (minute % 60 === 0) await store.seal(SITE, nowMs);
  }
  await store.close();
  return count;
}

const { data, remove } = dataFolderOnDisk();
try {
  const stored = await fill(data);
  const records = new Records(data, machineClock());
  const rows: string[] = [];
  for (const format of ['json', 'html', 'pdf'] as const) {
    const ms: number[] = [];
    let bytes = 0;
    for (let i = 0; i < RUNS; i++) {
      const startMs = performance.now();
      bytes = (await records.make('b1', format, 'a4', START_MS + 3 * 24 * 60 * MINUTE_MS))!.length;
      ms.push(performance.now() - startMs);
    }
    const seconds = ms.sort((a, b) => a - b).map((one) => (one / 1000).toFixed(2));
    const aim = format === 'pdf' ? `, under ${MOST_BYTES / 1e6} MB` : '';
    rows.push(
      `| ${format}, median (least to most) of ${RUNS} | ${seconds[Math.floor(RUNS / 2)]} s (${seconds[0]} to ${seconds.at(-1)}), ${(bytes / 1000).toFixed(0)} kB | under ${MOST_S} s${aim} |`,
    );
  }
  const [record] = await records.figures(['b1'], START_MS);
  let lines = -1;
  for await (const part of records.csv('b1')) lines += String(part).split('\n').length - 1;
  const told = record!.channels.reduce((sum, { readings }) => sum + readings, 0);
  process.stdout.write(
    [
      `${stored} readings stored, ${told} told of in the record, ${lines} in its CSV, node ${process.version}`,
      '| what | figure | aim |',
      '| --- | --- | --- |',
      ...rows,
      '',
    ].join('\n'),
  );
} finally {
  remove();
}
