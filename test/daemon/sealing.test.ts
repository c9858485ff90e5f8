import { join } from 'node:path';
import Database from 'better-sqlite3';
import { expect, test } from 'vitest';
import { openReadable } from '../../daemon/store/sqlite/database.ts';
import { isDifference, verifyDatabase } from '../../daemon/store/sqlite/verify.ts';
import { ManualClock } from '../support/manual-clock.ts';
import { patiently } from '../support/patiently.ts';
import { runDaemon } from './running-daemon.ts';
import { alterBlock, temporaryDir, unsealedOf } from './store/fixture.ts';

const START_MS = Date.UTC(2026, 2, 2, 10);
const HOUR_MS = 3_600_000;

/** How many readings of a store are sealed, and how many are not; null where it is not whole. */
function counts(data: string): { sealed: number; unsealed: number } | null {
  const database = openReadable(data);
  try {
    if (isDifference(verifyDatabase(database))) return null;
    return {
      sealed: database.prepare<[], number>('SELECT total(count) FROM page').pluck().get()!,
      unsealed: unsealedOf(database).length,
    };
  } finally {
    database.close();
  }
}

test('an hour is sealed once it is closed; what is asked over it stays as it was', async () => {
  const data = join(temporaryDir(), 'data');
  const clock = new ManualClock(START_MS);
  const daemon = await runDaemon({ clock, data });
  const topic = 'esterwatch/v1/reading/barn/r1/liquid-temperature';
  for (const hour of [0, 1]) {
    const readings = Array.from({ length: 60 }, (_, i) => ({
      value: 50 + i / 16,
      at: clock.wallMs() - 60_000 + 1000 * i,
    }));
    await daemon.publish(topic, JSON.stringify(readings));
    if (hour === 0) clock.advance(HOUR_MS);
  }
  const asked = '/api/v1/vessels/r1/readings?channel=liquid-temperature&points=raw&from=0';
  const before = (await daemon.get(asked)).json;
  expect(before.t).toHaveLength(120);
  expect(counts(data)).toEqual({ sealed: 0, unsealed: 120 });
  clock.advance(5 * 60_000);
  // A look that is under way when the next is due stands for both: it may have begun before the hour was closed.
  await patiently(() => {
    if (counts(data)?.sealed === 0) clock.advance(60_000);
    expect(counts(data)).toEqual({ sealed: 60, unsealed: 60 });
  });
  expect((await daemon.get(asked)).json).toEqual(before);
  expect(daemon.errors).toEqual([]);
});

test('what was changed is not sealed over', async () => {
  const data = join(temporaryDir(), 'data');
  const clock = new ManualClock(START_MS);
  const daemon = await runDaemon({ clock, data });
  await daemon.read('barn/r1/liquid-temperature', 50, 51);
  await daemon.stop();
  const database = new Database(join(data, 'store.db'));
  alterBlock(database, 1, 1, (readings) => readings.map((one) => ({ ...one, value: 60 })));
  database.close();
  clock.advance(2 * HOUR_MS);
  const again = await runDaemon({ clock, data });
  await again.read('barn/r1/liquid-temperature', 52);
  await patiently(() => expect(counts(data)).toBeNull());
  const reader = openReadable(data);
  expect(reader.prepare('SELECT count(*) FROM seal').pluck().get()).toBe(0);
  reader.close();
});
