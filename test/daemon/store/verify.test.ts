import { copyFileSync, readFileSync, writeFileSync } from 'node:fs';
import { join } from 'node:path';
import Database from 'better-sqlite3';
import fc from 'fast-check';
import { afterAll, beforeAll, describe, expect, onTestFinished, test } from 'vitest';
import { openStore } from '../../../daemon/store/open.ts';
import { photographHash } from '../../../daemon/store/photograph-hash.ts';
import { openReadable } from '../../../daemon/store/sqlite/database.ts';
import {
  type Difference,
  isDifference,
  verifyDatabase,
  type Whole,
} from '../../../daemon/store/sqlite/verify.ts';
import type { NewEntry, Photograph } from '../../../daemon/store/store.ts';
import { share } from '../../support/thorough.ts';
import { action, alarmEvent, reading } from './entries.ts';
import { alterBlock, temporaryDir } from './fixture.ts';

const MUTATIONS = share(800);
const TAMPERINGS = share(300);
const FLIPS = share(500);

/** Two sites with something of every kind in every table. */
async function makeStore(dir: string): Promise<void> {
  const store = await openStore(dir);
  for (const site of ['barn', 'shed']) {
    for (let i = 0; i < 12; i++) {
      const at = { atMs: 1000 * i, arrivedMs: 1_750_000_000_000 + 1000 * i };
      const entries: NewEntry[] = [
        reading({ ...at, value: 20 + i / 16, seq: i % 2 ? i : null }),
        reading({ ...at, channel: 'stirrer-speed', value: 250, stamped: true }),
        reading({ ...at, vessel: 'm1', value: i, source: i % 3 ? 'device' : 'typed' }),
      ];
      if (i % 3 === 0)
        entries.push(
          i === 9 ? photographEntry(at, site) : action({ ...at, body: { note: 'Öl, "warm"\n', i } }),
        );
      if (i === 4) entries.push(alarmEvent({ ...at, key: 'k1' }), alarmEvent({ ...at, key: 'k2', id: 'a2' }));
      if (i === 6)
        entries.push(
          alarmEvent({ ...at, key: 'k3', event: 'acknowledged', body: { by: 'p1', reason: null } }),
        );
      if (i === 8) entries.push(alarmEvent({ ...at, key: 'k4', event: 'cleared' }));
      await store.write([{ site, entries, judged: { position: 3 * i, atMs: at.arrivedMs } }]);
    }
    await store.write([{ site, entries: [], snapshot: { position: 12, state: '{"nowMs":1}' } }]);
    // The first third in one seal, the second in another, the rest not.
    for (const until of [4, 8]) expect(await store.seal(site, 1_750_000_000_000 + 1000 * until)).toBe(true);
  }
  // The readings of the first seal of one of them are not kept any more.
  expect(await store.drop('shed', { beforeMs: 3500, kept: [] }, 1_750_000_100_000)).toBe(true);
  await store.close();
}

/** An entry with a picture: of one site a JPEG, of the other a PNG. */
function photographEntry(at: { atMs: number; arrivedMs: number }, site: string): NewEntry {
  const content = Buffer.from(`the picture of ${site}`);
  const type = site === 'barn' ? 'image/jpeg' : 'image/png';
  const sha256 = photographHash(content);
  const what = { kind: 'photograph', text: '', type, bytes: content.length, width: 1, height: 1, sha256 };
  const photograph: Photograph = { sha256, type, content };
  return action({ ...at, action: 'entry', body: { batch: 'b1', what }, photograph });
}

let original: string;
let removeOriginal = () => {};
beforeAll(async () => {
  const dir = temporaryDir((remove) => {
    removeOriginal = remove;
  });
  await makeStore(dir);
  original = join(dir, 'store.db');
});
afterAll(() => removeOriginal());

function copy(): string {
  const path = join(temporaryDir(), 'store.db');
  copyFileSync(original, path);
  return path;
}

function verifyAt(path: string): Whole | Difference {
  const database = new Database(path, { readonly: true });
  try {
    return verifyDatabase(database);
  } finally {
    database.close();
  }
}

function changed(path: string, change: (database: Database.Database) => void): Whole | Difference {
  const database = new Database(path);
  try {
    change(database);
  } finally {
    database.close();
  }
  return verifyAt(path);
}

const found = (result: Whole | Difference): Difference => {
  expect(isDifference(result)).toBe(true);
  return result as Difference;
};

const HEAD = expect.stringMatching(/^[0-9a-f]{64}$/);

describe('a store as it was written', () => {
  test('is whole, and each site has a head', () => {
    const whole = verifyAt(original) as Whole;
    expect(whole.sites).toEqual([
      { site: 'barn', entries: 44, head: HEAD, sealed: { entries: 30, head: HEAD }, dropped: 0 },
      { site: 'shed', entries: 45, head: HEAD, sealed: { entries: 30, head: HEAD }, dropped: 12 },
    ]);
    expect(whole.sites[0]!.head).not.toBe(whole.sites[1]!.head);
  });

  test('is whole while it is written, and its head goes on', async () => {
    const dir = temporaryDir();
    await makeStore(dir);
    const store = await openStore(dir);
    onTestFinished(() => store.close());
    const reader = openReadable(dir);
    onTestFinished(() => void reader.close());
    const before = verifyDatabase(reader) as Whole;
    await store.write([{ site: 'barn', entries: [reading({ atMs: 77_000 })] }]);
    const after = verifyDatabase(reader) as Whole;
    expect(after.sites[0]).toMatchObject({ site: 'barn', entries: 45 });
    expect(after.sites[0]!.head).not.toBe(before.sites[0]!.head);
    expect(after.sites[1]).toEqual(before.sites[1]);
  });

  test('has the same head for the same things, whenever they were written', async () => {
    const dir = temporaryDir();
    await makeStore(dir);
    expect(verifyAt(join(dir, 'store.db'))).toEqual(verifyAt(original));
  });
});

test('any text that is taken in is whole', async () => {
  const dir = temporaryDir();
  const store = await openStore(dir);
  onTestFinished(() => store.close());
  const text = fc.string({ unit: 'binary' });
  await fc.assert(
    fc.asyncProperty(text, text, async (by, note) => {
      await store.write([
        { site: 'barn', entries: [action({ by: `${by}\ud800x`, body: { note: `\udfff${note}` } })] },
      ]);
    }),
    { numRuns: share(50) },
  );
  const reader = openReadable(dir);
  onTestFinished(() => void reader.close());
  expect(isDifference(verifyDatabase(reader))).toBe(false);
});

describe('a change', () => {
  test('is found where it is, by time and channel', () => {
    const difference = found(
      changed(copy(), (database) =>
        alterBlock(database, 2, 39, ([one, ...rest]) => [{ ...one!, value: 21 }, ...rest]),
      ),
    );
    const { site, from, to, fromMs, toMs, channels } = difference;
    expect({ site, from, to }).toEqual({ site: 'shed', from: 39, to: 41 });
    expect([fromMs, toMs]).toEqual([1_750_000_010_000, 1_750_000_010_000]);
    expect(channels).toEqual(['m1/liquid-temperature', 'r1/liquid-temperature', 'r1/stirrer-speed']);
  });

  test('of what is sealed is found by its seal and channel', () => {
    const { site, from, to, channels } = found(
      changed(copy(), (database) =>
        database.exec(
          'UPDATE page SET most = most + 1 WHERE site_id = 1 AND sealed_to = 14 AND channel_id = 1',
        ),
      ),
    );
    expect({ site, from, to }).toEqual({ site: 'barn', from: 1, to: 14 });
    expect(channels).toHaveLength(1);
  });

  test.for([
    [
      'a commit beyond the numbers of JavaScript',
      'INSERT INTO block SELECT site_id, 9223372036854775807, link, readings FROM block LIMIT 1',
    ],
    [
      'one before the first',
      'UPDATE block SET position = -9223372036854775807 WHERE site_id = 1 AND position = 44',
    ],
    [
      'something done beyond them',
      `INSERT INTO action SELECT site_id, 9223372036854775806, 'stage', at_ms, arrived_ms, by, body FROM action LIMIT 1`,
    ],
    [
      'something said that is no JSON',
      `INSERT INTO alarm_event SELECT site_id, 9223372036854775806, 'k', id, vessel, alarm, event, priority, at_ms,
       arrived_ms, 'xx' FROM alarm_event LIMIT 1`,
    ],
    ['nearly all blocks cut out', 'DELETE FROM block WHERE position < 43'],
    ['a trigger', 'CREATE TRIGGER t AFTER UPDATE ON site BEGIN DELETE FROM block; END'],
    [
      'readings left out that were dropped elsewhere only',
      'UPDATE page SET length = 0 WHERE site_id = 1 AND sealed_to = 14',
    ],
    [
      'a drop that nobody ordered',
      `UPDATE action SET body = '{"beforeMs":9000,"kept":[]}' WHERE action = 'readings-dropped'`,
    ],
    ['a drop made unreadable', `UPDATE action SET body = 'x' WHERE action = 'readings-dropped'`],
    ['the number of dropped readings', 'UPDATE page SET count = 9 WHERE site_id = 2 AND sealed_to = 14'],
    ['a page cut out', 'DELETE FROM page WHERE sealed_to = 14 AND channel_id = 1'],
    ['a seal cut off', 'DELETE FROM seal WHERE site_id = 1'],
    [
      'a page moved to another seal',
      'UPDATE page SET sealed_to = 99 WHERE channel_id = 2 AND sealed_to = 14',
    ],
    ['a table more', 'CREATE TABLE extra (x)'],
    ['an index less', 'DROP INDEX alarm_at'],
    ['a commit cut short', 'UPDATE block SET readings = substr(readings, 1, 50) WHERE position = 44'],
    ['the last block cut off', 'DELETE FROM block WHERE site_id = 1 AND position = 44'],
    ['a channel without readings', "INSERT INTO channel (site_id, vessel, name) VALUES (1, 'r1', 'heater')"],
    ['a site without anything', "INSERT INTO site (name) VALUES ('attic')"],
    ['a commit of no site', 'UPDATE block SET site_id = 9 WHERE site_id = 2 AND position = 41'],
    [
      'two channels that change names',
      `UPDATE channel SET name = name || 'x'; UPDATE channel SET vessel = 'r1', name = 'stirrer-speedx' WHERE id = 9`,
    ],
    ['the state of the engine', "UPDATE snapshot SET state = '{}' WHERE site_id = 1"],
    ['an alarm acknowledged', 'UPDATE alarm SET open = 0 WHERE open = 1'],
    ['a photograph taken out', "DELETE FROM photograph WHERE type = 'image/png'"],
    ['a photograph changed', "UPDATE photograph SET content = x'00' WHERE type = 'image/png'"],
    ['the type of a photograph', "UPDATE photograph SET type = 'image/png'"],
    [
      'a photograph of nobody',
      `INSERT INTO photograph VALUES ('e3b0c44298fc1c149afbf4c8996fb92427ae41e4649b934ca495991b7852b855', 'image/png', x'')`,
    ],
    ['a site renamed', "UPDATE site SET name = 'barm' WHERE name = 'barn'"],
  ] as const)('%s is found', ([, sql]) => {
    found(changed(copy(), (database) => database.exec(sql)));
  });
});

/** Tables with their columns, each with what it holds. */
const COLUMNS: Record<string, Record<string, 'integer' | 'real' | 'text' | 'blob'>> = {
  site: {
    id: 'integer',
    name: 'text',
    last_position: 'integer',
    judged_position: 'integer',
    judged_at_ms: 'integer',
    checksum: 'blob',
  },
  snapshot: { site_id: 'integer', position: 'integer', state: 'text' },
  channel: { id: 'integer', site_id: 'integer', vessel: 'text', name: 'text' },
  action: {
    site_id: 'integer',
    position: 'integer',
    action: 'text',
    at_ms: 'integer',
    arrived_ms: 'integer',
    by: 'text',
    body: 'text',
  },
  alarm_event: {
    site_id: 'integer',
    position: 'integer',
    key: 'text',
    id: 'text',
    vessel: 'text',
    alarm: 'text',
    event: 'text',
    priority: 'text',
    at_ms: 'integer',
    arrived_ms: 'integer',
    body: 'text',
  },
  alarm: {
    site_id: 'integer',
    id: 'text',
    position: 'integer',
    vessel: 'text',
    at_ms: 'integer',
    open: 'integer',
    state: 'text',
  },
  block: { site_id: 'integer', position: 'integer', link: 'blob', readings: 'blob' },
  photograph: { sha256: 'text', type: 'text', content: 'blob' },
  seal: {
    site_id: 'integer',
    from_position: 'integer',
    to_position: 'integer',
    head: 'blob',
    link: 'blob',
    content: 'blob',
  },
  page: {
    site_id: 'integer',
    sealed_to: 'integer',
    channel_id: 'integer',
    hour_ms: 'integer',
    from_ms: 'integer',
    to_ms: 'integer',
    from_position: 'integer',
    to_position: 'integer',
    count: 'integer',
    least: 'real',
    sum: 'real',
    most: 'real',
    offset: 'integer',
    length: 'integer',
    coarse: 'blob',
    content_hash: 'blob',
  },
};

const valueFor = {
  integer: fc.oneof(
    fc.integer({ min: -3, max: 60 }),
    fc.maxSafeInteger(),
    fc.bigInt({ min: -(2n ** 63n), max: 2n ** 63n - 1n }),
  ),
  real: fc.double({ noNaN: true, noDefaultInfinity: true }),
  text: fc.oneof(
    fc.string({ maxLength: 5 }),
    fc.constantFrom('barn', 'shed', 'r1', 'm1', '{}', 'raised', 'typed', 'device', 'image/png'),
  ),
  blob: fc.uint8Array({ maxLength: 32 }).map((bytes) => Buffer.from(bytes)),
};

const mutation = fc
  .constantFrom(...Object.keys(COLUMNS))
  .chain((table) =>
    fc.record({
      table: fc.constant(table),
      row: fc.nat(),
      act: fc.constantFrom('change', 'change', 'change', 'remove', 'insert', 'swap'),
      column: fc.constantFrom(...Object.keys(COLUMNS[table]!)),
      seed: fc.nat(),
    }),
  )
  .chain((chosen) =>
    valueFor[COLUMNS[chosen.table]![chosen.column]!].map((value) => ({ ...chosen, value: value as unknown })),
  );

/** All that a database says, table by table. */
function dumpOf(database: Database.Database): string {
  const shown = (value: unknown): unknown =>
    typeof value === 'bigint' ? `${value}n` : Object.is(value, -0) ? '-0' : value;
  return JSON.stringify(
    Object.keys(COLUMNS).map((table) =>
      rowsOf(database, table)
        .map((row) => Object.values(row).map(shown))
        .sort(),
    ),
  );
}

/** Whole numbers as they are, however large. */
const rowsOf = (database: Database.Database, table: string): Record<string, unknown>[] =>
  database.prepare(`SELECT * FROM ${table}`).safeIntegers(true).all() as Record<string, unknown>[];

/** Makes the change; false where the database does not take it or it says the same as before. */
function mutate(
  database: Database.Database,
  {
    table,
    row,
    act,
    column,
    value,
  }: { table: string; row: number; act: string; column: string; value: unknown },
): boolean {
  const before = dumpOf(database);
  const rows = rowsOf(database, table);
  const chosen = rows[row % rows.length]!;
  const columns = Object.keys(COLUMNS[table]!);
  const where = columns.map((name) => `"${name}" IS ?`).join(' AND ');
  const valuesOf = (of: Record<string, unknown>) => columns.map((name) => of[name]);
  const insert = `INSERT INTO ${table} (${columns.map((name) => `"${name}"`)}) VALUES (${columns.map(() => '?')})`;
  try {
    if (act === 'remove') database.prepare(`DELETE FROM ${table} WHERE ${where}`).run(...valuesOf(chosen));
    else if (act === 'insert') database.prepare(insert).run(...valuesOf({ ...chosen, [column]: value }));
    else if (act === 'swap') {
      const other = rows[(row + 1) % rows.length]!;
      database.transaction(() => {
        database.prepare(`DELETE FROM ${table} WHERE ${where}`).run(...valuesOf(chosen));
        database.prepare(`DELETE FROM ${table} WHERE ${where}`).run(...valuesOf(other));
        database.prepare(insert).run(...valuesOf({ ...chosen, [column]: other[column] }));
        database.prepare(insert).run(...valuesOf({ ...other, [column]: chosen[column] }));
      })();
    } else
      database.prepare(`UPDATE ${table} SET "${column}" = ? WHERE ${where}`).run(value, ...valuesOf(chosen));
  } catch (error) {
    if (error instanceof Database.SqliteError) return false;
    throw error;
  }
  return dumpOf(database) !== before;
}

test('any single change by SQL, in any table, is found', { timeout: 120_000 }, () => {
  let made = 0;
  fc.assert(
    fc.property(mutation, (chosen) => {
      const path = copy();
      let isChange = false;
      const result = changed(path, (database) => {
        isChange = mutate(database, chosen);
      });
      if (isChange) made++;
      expect(isDifference(result)).toBe(isChange);
    }),
    { numRuns: MUTATIONS },
  );
  expect(made).toBeGreaterThanOrEqual(MUTATIONS / 2);
});

/** What can be done to the readings of a commit that is not sealed. */
const tampering = fc.record({
  act: fc.constantFrom('set', 'set', 'set', 'remove', 'repeat', 'swap'),
  what: fc.oneof(
    fc.record({ channel: fc.integer({ min: 0, max: 9 }) }),
    fc.record({ position: fc.integer({ min: -1, max: 60 }) }),
    fc.record({ atMs: fc.maxSafeInteger() }),
    fc.record({ arrivedMs: fc.maxSafeInteger() }),
    fc.record({ value: valueFor.real }),
    fc.record({ seq: fc.option(fc.nat(20)) }),
    fc.record({ stamped: fc.boolean() }),
    fc.record({ source: fc.constantFrom('typed' as const, 'device' as const) }),
  ),
});

test('any change of a reading that is not sealed is found', { timeout: 60_000 }, () => {
  let made = 0;
  const place = fc.record({
    siteId: fc.constantFrom(1, 2),
    position: fc.integer({ min: 30, max: 44 }),
    index: fc.nat(2),
  });
  fc.assert(
    fc.property(place, tampering, ({ siteId, position, index }, { act, what }) => {
      const path = copy();
      let isChange = false;
      const result = changed(path, (database) => {
        alterBlock(database, siteId, position, (readings) => {
          const i = index % readings.length;
          const altered = [...readings];
          if (act === 'remove') altered.splice(i, 1);
          else if (act === 'repeat') altered.splice(i, 0, readings[i]!);
          else if (act === 'swap') altered.reverse();
          else altered[i] = { ...readings[i]!, ...what };
          isChange = JSON.stringify(altered) !== JSON.stringify(readings);
          return altered;
        });
      });
      if (isChange) made++;
      expect(isDifference(result)).toBe(isChange);
    }),
    { numRuns: TAMPERINGS },
  );
  expect(made).toBeGreaterThan(TAMPERINGS / 3);
});

test('any byte of the file that is changed is found, or says nothing', { timeout: 120_000 }, () => {
  const bytes = readFileSync(original);
  const said = (path: string): string | null => {
    try {
      const database = new Database(path, { readonly: true });
      try {
        return isDifference(verifyDatabase(database)) ? null : dumpOf(database);
      } finally {
        database.close();
      }
    } catch (error) {
      if (error instanceof Database.SqliteError) return null;
      throw error;
    }
  };
  const whole = said(original);
  let silent = 0;
  fc.assert(
    fc.property(fc.nat({ max: bytes.length - 1 }), fc.integer({ min: 1, max: 255 }), (offset, flip) => {
      const path = join(temporaryDir(), 'store.db');
      const altered = Buffer.from(bytes);
      altered[offset] = altered[offset]! ^ flip;
      writeFileSync(path, altered);
      const now = said(path);
      if (now !== null) silent++;
      expect(now === null || now === whole).toBe(true);
    }),
    { numRuns: FLIPS },
  );
  expect(silent).toBeLessThan(FLIPS);
});
