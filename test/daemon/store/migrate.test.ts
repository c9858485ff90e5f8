import { readFileSync } from 'node:fs';
import { join } from 'node:path';
import Database from 'better-sqlite3';
import { expect, onTestFinished, test } from 'vitest';
import { openStore } from '../../../daemon/store/open.ts';
import { photographHash } from '../../../daemon/store/photograph-hash.ts';
import { ReadingRecords } from '../../../daemon/store/reading-records.ts';
import { openReadable } from '../../../daemon/store/sqlite/database.ts';
import { APPLICATION_ID, MIGRATIONS } from '../../../daemon/store/sqlite/schema.ts';
import { isDifference, verifyDatabase } from '../../../daemon/store/sqlite/verify.ts';
import type { NewEntry, Photograph } from '../../../daemon/store/store.ts';
import { action, alarmEvent, reading } from './entries.ts';
import { everyEntryOf, recordsOf, temporaryDir, temporaryStore } from './fixture.ts';

const TABLES = ['site', 'snapshot', 'channel', 'action', 'alarm_event', 'alarm'];

/** Those of the store that is attached, a row each. */
function putReadings(database: Database.Database): void {
  const put = database.prepare('INSERT INTO main.reading VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?)');
  const blocks = database
    .prepare<[], { siteId: number; readings: Buffer }>('SELECT site_id AS siteId, readings FROM newer.block')
    .all();
  for (const { siteId, readings } of blocks) {
    for (const one of recordsOf(new ReadingRecords(readings))) {
      const { channel, atMs, stamped, seq, value, position, arrivedMs, source } = one;
      put.run(channel, atMs, stamped ? 1 : 0, seq ?? '', value, siteId, position, arrivedMs, source);
    }
  }
}

/** A folder with a store of version 1, in which the rows of another store lie. */
function storeOfVersion1(rowsFrom: string): string {
  const dir = temporaryDir();
  const database = new Database(join(dir, 'store.db'));
  database.pragma('journal_mode = WAL');
  database.exec(MIGRATIONS[0] as string);
  database.pragma(`application_id = ${APPLICATION_ID}`);
  database.pragma('user_version = 1');
  database.exec(`ATTACH '${join(rowsFrom, 'store.db')}' AS newer`);
  for (const table of TABLES) {
    const columns = database.prepare<[], { name: string }>(`PRAGMA main.table_info(${table})`).all();
    const names = columns.map(({ name }) => `"${name}"`).join(', ');
    database.exec(`INSERT INTO main.${table} (${names}) SELECT ${names} FROM newer.${table}`);
  }
  putReadings(database);
  // As an alarm was stored before one could explain another or be shelved.
  database.exec(`UPDATE alarm SET state = json_remove(state, '$.explainedBy', '$.shelved')`);
  database.close();
  return dir;
}

test('a store of version 1 gets its chains as it is found, and goes on', async () => {
  const dir = temporaryDir();
  const made = await openStore(dir);
  // More than go into one block of what is chained afterwards.
  for (let i = 0; i < 3; i++) {
    const readings = Array.from({ length: 900 }, (_, j) => reading({ atMs: 1000 * i + j, value: j }));
    await made.write([{ site: 'barn', entries: [...readings, action({ body: { i } })] }]);
  }
  const judged = { position: 3, atMs: 9 };
  await made.write([
    { site: 'shed', entries: [alarmEvent(), reading()], judged, snapshot: { position: 2, state: '{}' } },
  ]);
  const before = await everyEntryOf(made, 'barn');
  await made.close();

  const older = storeOfVersion1(dir);
  expect(() => openReadable(older)).toThrow(expect.objectContaining({ code: 'store-older' }));
  const store = await openStore(older);
  onTestFinished(() => store.close());
  expect(await everyEntryOf(store, 'barn')).toEqual(before);
  expect(await store.sites()).toMatchObject([
    { site: 'barn' },
    { site: 'shed', judged, snapshot: { position: 2 } },
  ]);
  const reader = openReadable(older);
  onTestFinished(() => void reader.close());
  expect(isDifference(verifyDatabase(reader))).toBe(false);
  await store.write([{ site: 'barn', entries: [reading({ atMs: 99_000 })] }]);
  expect(verifyDatabase(reader)).toMatchObject({
    sites: [
      { site: 'barn', entries: 2704 },
      { site: 'shed', entries: 2 },
    ],
  });
});

/** A folder with the store that the program of version 3 wrote, changed by SQL. */
function storeOfVersion3(change = ''): string {
  const dir = temporaryDir();
  const database = new Database(join(dir, 'store.db'));
  database.pragma('journal_mode = WAL');
  database.exec(readFileSync(new URL('./version-3.sql', import.meta.url), 'utf8'));
  database.exec(change);
  database.close();
  return dir;
}

/** What was written into that store. */
function groupsOfVersion3(): NewEntry[][] {
  return Array.from({ length: 9 }, (_, i) => {
    const atMs = 1_750_000_000_000 + 600_000 * i;
    const at = { atMs, arrivedMs: atMs + 40 };
    const acknowledged = { by: 'p1', reason: null };
    return [
      reading({ ...at, value: 20 + i / 16, seq: i % 2 ? i : null }),
      reading({ ...at, channel: 'stirrer-speed', value: 250, stamped: true }),
      reading({ ...at, vessel: 'm1', value: i, source: i % 3 ? 'device' : 'typed' }),
      ...(i % 3 === 0 ? [action({ ...at, body: { note: 'Öl, "warm"\n', i } })] : []),
      ...(i === 4 ? [alarmEvent({ ...at, key: 'k1' }), alarmEvent({ ...at, key: 'k2', id: 'a2' })] : []),
      ...(i === 6 ? [alarmEvent({ ...at, key: 'k3', event: 'acknowledged', body: acknowledged })] : []),
      ...(i === 8 ? [alarmEvent({ ...at, key: 'k4', event: 'cleared' })] : []),
    ];
  });
}

test('a store of version 3 is sealed as it is, and goes on', async () => {
  const same = await temporaryStore();
  for (const site of ['barn', 'shed'])
    for (const entries of groupsOfVersion3()) await same.write([{ site, entries }]);

  const dir = storeOfVersion3();
  const store = await openStore(dir);
  onTestFinished(() => store.close());
  for (const site of ['barn', 'shed']) {
    expect(await everyEntryOf(store, site)).toEqual(await everyEntryOf(same, site));
    const again = groupsOfVersion3()
      .flat()
      .filter(({ kind }) => kind === 'reading');
    const [written] = await store.write([
      { site, entries: again.filter((one) => one.kind === 'reading' && !one.stamped) },
    ]);
    expect(new Set(written!.entries.map(({ result }) => result))).toEqual(new Set(['duplicate']));
  }
  expect(await store.alarms({ limit: 9 })).toEqual(await same.alarms({ limit: 9 }));
  const reader = openReadable(dir);
  onTestFinished(() => void reader.close());
  expect(verifyDatabase(reader)).toMatchObject({ sites: await store.heads() });
  expect((await store.heads()).map(({ entries }) => entries)).toEqual([34, 34]);
});

test.for([
  ['a value', 'UPDATE reading SET value = 60 WHERE site_id = 2 AND position = 5'],
  ['the last commits cut off', 'DELETE FROM block WHERE site_id = 2 AND position > 20'],
  ['how far it is judged', 'UPDATE site SET judged_position = 1 WHERE id = 2'],
  ['the state of the engine', "UPDATE snapshot SET state = '{}' WHERE site_id = 2"],
  ['that state removed', 'DELETE FROM snapshot WHERE site_id = 1'],
  [
    'a reading that belongs to no commit',
    `INSERT INTO reading SELECT channel_id, at_ms + 1, stamped, seq, value, site_id, 9999, arrived_ms, source
     FROM reading LIMIT 1`,
  ],
] as const)('a store of version 3 that was changed is refused, and stays: %s', async ([, change]) => {
  const dir = storeOfVersion3(change);
  const rowsOf = (): unknown => {
    const database = new Database(join(dir, 'store.db'), { readonly: true });
    try {
      expect(database.pragma('user_version', { simple: true })).toBe(3);
      return ['reading', 'block', 'site', 'snapshot'].map((table) =>
        database.prepare(`SELECT * FROM ${table}`).all(),
      );
    } finally {
      database.close();
    }
  };
  const before = rowsOf();
  await expect(openStore(dir)).rejects.toMatchObject({ code: 'store-changed' });
  expect(rowsOf()).toEqual(before);
});

test('a store of version 4 gets room for pictures, and goes on', async () => {
  const dir = temporaryDir();
  const made = await openStore(dir);
  await made.write([{ site: 'barn', entries: [reading(), action()] }]);
  const before = [await everyEntryOf(made, 'barn'), await made.heads()];
  await made.close();
  const database = new Database(join(dir, 'store.db'));
  // All that the versions after it add.
  database.exec(
    'DROP TABLE photograph; DROP TABLE forwarded_photograph; ALTER TABLE site DROP COLUMN came_without; ALTER TABLE site DROP COLUMN deeds',
  );
  database.pragma('user_version = 4');
  database.close();

  expect(() => openReadable(dir)).toThrow(expect.objectContaining({ code: 'store-older' }));
  const store = await openStore(dir);
  onTestFinished(() => store.close());
  expect([await everyEntryOf(store, 'barn'), await store.heads()]).toEqual(before);
  const content = Buffer.from('a picture');
  const photograph: Photograph = { sha256: photographHash(content), type: 'image/png', content };
  const body = { what: { kind: 'photograph', type: photograph.type, sha256: photograph.sha256 } };
  const entries = [action({ action: 'entry', body, photograph })];
  await store.write([{ site: 'barn', entries }]);
  // The same again is kept once.
  await store.write([{ site: 'barn', entries }]);
  expect(await store.photograph(photograph.sha256)).toMatchObject({ type: 'image/png' });
  expect(Buffer.from((await store.photograph(photograph.sha256))!.content)).toEqual(content);
  expect(await store.photograph('none')).toBeNull();
  const reader = openReadable(dir);
  onTestFinished(() => void reader.close());
  expect(verifyDatabase(reader)).toMatchObject({ sites: [{ site: 'barn', entries: 4 }] });
});
