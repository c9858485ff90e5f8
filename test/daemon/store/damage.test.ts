import { readFileSync, writeFileSync } from 'node:fs';
import { join } from 'node:path';
import Database from 'better-sqlite3';
import { expect, onTestFinished, test } from 'vitest';
import { openStore } from '../../../daemon/store/open.ts';
import { openReadable } from '../../../daemon/store/sqlite/database.ts';
import { isDifference, verifyDatabase } from '../../../daemon/store/sqlite/verify.ts';
import type { Store } from '../../../daemon/store/store.ts';
import { serve, startHere } from '../../support/serving.ts';
import { expectProblem } from '../http/problem.ts';
import { type RunningDaemon, runDaemon } from '../running-daemon.ts';
import { action, alarmEvent, reading } from './entries.ts';
import { everyReadingOf, temporaryDir } from './fixture.ts';

/** The folder of a store with something sealed and something not, that somebody or something has changed. */
async function changedStore(change: (database: Database.Database) => void): Promise<string> {
  const dir = join(temporaryDir(), 'data');
  const store = await openStore(dir);
  const judged = { position: 5, atMs: 5000 };
  const readings = [0, 1, 2].map((i) => reading({ atMs: 1000 * i, value: 20 + i, seq: i }));
  await store.write([{ site: 'barn', entries: [action(), ...readings, alarmEvent()], judged }]);
  expect(await store.seal('barn', Date.now())).toBe(true);
  const later = reading({ atMs: 9000, value: 30, seq: 9 });
  await store.write([{ site: 'barn', entries: [later], snapshot: { position: 5, state: '{"nowMs":1}' } }]);
  await store.close();
  changeIn(dir, change);
  return dir;
}

function changeIn(dir: string, change: (database: Database.Database) => void): void {
  const database = new Database(join(dir, 'store.db'));
  change(database);
  database.close();
}

const run = (sql: string) => (database: Database.Database) => {
  expect(database.prepare(sql).run().changes).toBe(1);
};

async function opened(dir: string): Promise<Store> {
  const store = await openStore(dir);
  onTestFinished(() => store.close());
  return store;
}

test.for([
  { what: 'the state of the engine', sql: `UPDATE snapshot SET state = '{"nowMs":2}'` },
  { what: 'that state removed', sql: 'DELETE FROM snapshot' },
  { what: 'how far the site is', sql: 'UPDATE site SET last_position = 4611686018427387904' },
  { what: 'how far it is judged', sql: 'UPDATE site SET judged_at_ms = judged_at_ms + 1' },
])('$what changed: no daemon goes on from it, and verify finds it still', async ({ sql }) => {
  const dir = await changedStore(run(sql));
  await expect(startHere({ data: dir })).rejects.toMatchObject({ code: 'store-changed' });
  const database = openReadable(dir);
  onTestFinished(() => {
    database.close();
  });
  expect(isDifference(verifyDatabase(database))).toBe(true);
});

test('whoever only reads what happened still can', async () => {
  const dir = await changedStore(run(`UPDATE snapshot SET state = '{"nowMs":2}'`));
  const store = await opened(dir);
  expect(await store.sites()).toMatchObject([{ site: 'barn', isAsWritten: false }]);
  expect(await store.actions('barn')).toHaveLength(1);
});

test.for([
  { what: 'no JSON', body: '{"altitudeM":34' },
  { what: 'other JSON', body: 'null' },
])('a daemon says that a deed is damaged that is $what', async ({ body }) => {
  const dir = await changedStore(run(`UPDATE action SET body = '${body}'`));
  await expect(startHere({ data: dir })).rejects.toMatchObject({ code: 'store-changed' });
});

async function openBatch(daemon: RunningDaemon): Promise<void> {
  await daemon.send('PUT', '/api/v1/vessels/barn:r1', { role: 'reactor' });
  await daemon.send('PUT', '/api/v1/sites/barn', { altitudeM: 340 });
  expect((await daemon.send('POST', '/api/v1/batches', { vessel: 'barn:r1' })).status).toBe(201);
}

test.for([
  { what: 'of another form', sql: "UPDATE action SET body = '{}' WHERE action = 'batch-opened'" },
  {
    what: 'of its form, and says other things',
    sql: "UPDATE action SET body = replace(body, '340', '341') WHERE action = 'site-stated'",
  },
  { what: 'somebody else’s', sql: "UPDATE action SET by = 'p2' WHERE action = 'site-stated'" },
  { what: 'gone', sql: "DELETE FROM action WHERE action = 'batch-opened'" },
])('no daemon goes on from a deed that is $what, and verify finds it still', async ({ sql }) => {
  const data = join(temporaryDir(), 'data');
  const before = await runDaemon({ data });
  await openBatch(before);
  await before.stop();
  changeIn(data, run(sql));
  await expect(serve({ data })).rejects.toThrow(/^serve ended with 2: .*barn.*verify/s);
  const database = openReadable(data);
  onTestFinished(() => void database.close());
  expect(isDifference(verifyDatabase(database))).toBe(true);
});

test('a deed that is changed while a daemon runs is no mistake of the daemon’s', async () => {
  const data = join(temporaryDir(), 'data');
  const daemon = await runDaemon({ data });
  await openBatch(daemon);
  expect((await daemon.get('/api/v1/vessels/barn:r1/timeline')).status).toBe(200);
  changeIn(data, run("UPDATE action SET body = '{}' WHERE action = 'batch-opened'"));
  expectProblem(await daemon.get('/api/v1/vessels/barn:r1/timeline'), 503, 'store-failing');
  expect(daemon.errors).toEqual([]);
});

test('an alarm that is no JSON', async () => {
  const dir = await changedStore(run(`UPDATE alarm SET state = '{"alarm":'`));
  await expect((await opened(dir)).alarms({ limit: 10 })).rejects.toMatchObject({ code: 'store-changed' });
});

test('an alarm that is other JSON is no mistake of the daemon’s', async () => {
  const data = join(temporaryDir(), 'data');
  const before = await runDaemon({ data });
  await before.read('barn/r1/liquid-temperature', 20, -127);
  await expect.poll(async () => (await before.get('/api/v1/alarms')).json.alarms).toHaveLength(1);
  await before.stop();
  changeIn(data, run(`UPDATE alarm SET state = replace(state, '"standing"', '"stamding"')`));
  const daemon = await runDaemon({ data });
  expectProblem(await daemon.get('/api/v1/alarms'), 503, 'store-failing');
  expect(daemon.errors).toEqual([]);
});

const MEASURES = '/api/v1/alarms/measures';
const TIMELINE = '/api/v1/vessels/barn:r1/timeline';
test.for([
  { sql: "UPDATE alarm_event SET body = 'x'", paths: [MEASURES] },
  { sql: "UPDATE alarm_event SET body = '{}'", paths: [MEASURES] },
  { sql: "UPDATE alarm_event SET priority = 'grave'", paths: [MEASURES] },
  { sql: "UPDATE alarm_event SET vessel = ''", paths: [MEASURES] },
  { sql: "UPDATE alarm SET state = 'x'", paths: [MEASURES, TIMELINE] },
  { sql: "UPDATE alarm SET state = '{}'", paths: [MEASURES, TIMELINE] },
  { sql: "UPDATE alarm SET vessel = ''", paths: [MEASURES] },
  { sql: 'UPDATE alarm SET at_ms = -8e15', paths: [MEASURES] },
  { sql: `UPDATE alarm SET state = json_set(state, '$.clearedAtMs', 'late')`, paths: [MEASURES, TIMELINE] },
])('what was said of alarms is damaged: $sql', async ({ sql, paths }) => {
  const data = join(temporaryDir(), 'data');
  const daemon = await runDaemon({ data });
  await daemon.read('barn/r1/liquid-temperature', 20, -127);
  await expect.poll(async () => (await daemon.get('/api/v1/alarms')).json.alarms).toHaveLength(1);
  for (const path of paths) expect((await daemon.get(path)).status).toBe(200);
  changeIn(data, run(sql));
  for (const path of paths) expectProblem(await daemon.get(path), 503, 'store-failing');
  expect(daemon.errors).toEqual([]);
});

test.for(['zeroblob(length(content))', "x'ff'"])('sealed readings become %s', async (content) => {
  const dir = await changedStore(run(`UPDATE seal SET content = ${content}`));
  const store = await opened(dir);
  await expect(store.rawReadings(everyReadingOf('barn'))).rejects.toMatchObject({ code: 'store-changed' });
});

test('a page of the file is none', async () => {
  let page = 0;
  let bytes = 0;
  const dir = await changedStore((database) => {
    page = database
      .prepare<[], number>("SELECT rootpage FROM sqlite_schema WHERE name = 'action'")
      .pluck()
      .get()!;
    bytes = database.pragma('page_size', { simple: true }) as number;
  });
  const file = join(dir, 'store.db');
  const content = readFileSync(file);
  writeFileSync(file, content.fill(0xff, (page - 1) * bytes, page * bytes));
  await expect((await opened(dir)).actions('barn')).rejects.toMatchObject({ code: 'store-changed' });
});

test('a table that is another', async () => {
  const dir = await changedStore((database) =>
    database.exec('ALTER TABLE page RENAME COLUMN least TO lowest'),
  );
  await expect(openStore(dir)).rejects.toMatchObject({ code: 'store-changed' });
});
