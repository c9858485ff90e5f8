import { join } from 'node:path';
import Database from 'better-sqlite3';
import { expect, onTestFinished, test } from 'vitest';
import { openStore } from '../../../daemon/store/open.ts';
import { openReadable } from '../../../daemon/store/sqlite/database.ts';
import { APPLICATION_ID, MIGRATIONS } from '../../../daemon/store/sqlite/schema.ts';
import { isDifference, verifyDatabase } from '../../../daemon/store/sqlite/verify.ts';
import { action, alarmEvent, reading } from './entries.ts';
import { everyEntryOf, temporaryDir } from './fixture.ts';

const TABLES = ['site', 'snapshot', 'channel', 'reading', 'action', 'alarm_event', 'alarm'];

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
