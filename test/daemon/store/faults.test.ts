import { copyFileSync, mkdirSync, readFileSync, writeFileSync } from 'node:fs';
import { join } from 'node:path';
import fc from 'fast-check';
import { describe, expect, onTestFinished, test } from 'vitest';
import { openStore } from '../../../daemon/store/open.ts';
import { packUnits, unpackResults } from '../../../daemon/store/packed-units.ts';
import { backupStore } from '../../../daemon/store/sqlite/backup.ts';
import { openReadable, openReadableFile, openWritable } from '../../../daemon/store/sqlite/database.ts';
import {
  type Difference,
  isDifference,
  verifyDatabase,
  type Whole,
} from '../../../daemon/store/sqlite/verify.ts';
import { SqliteWriter } from '../../../daemon/store/sqlite/writer.ts';
import { type EntryResult, StoreError } from '../../../daemon/store/store.ts';
import { withReadOnlySwitch } from '../../support/read-only-folder.ts';
import { share } from '../../support/thorough.ts';
import { reading } from './entries.ts';
import { temporaryDir, unsealedOf } from './fixture.ts';

const GROUP = 25;
const GROUPS = 60;
const SITES = ['barn', 'mill', 'shed'];

/** What arrived together as number `group`, each reading with a value of its own. */
const groupOf = (group: number) =>
  Array.from({ length: GROUP }, (_, i) => {
    const seq = group * GROUP + i;
    return reading({ atMs: 1000 * seq, value: seq / 64, seq, channel: `probe-${seq % 3}` });
  });

function writeGroup(writer: SqliteWriter, group: number): readonly EntryResult[] {
  const units = [{ site: SITES[group % SITES.length]!, entries: groupOf(group) }];
  return unpackResults(writer.write(packUnits(units)))[0]!.entries;
}

/** Both files as they lay there at one moment, which is what a process that is killed then leaves. */
interface Left {
  database: Buffer;
  log: Buffer;
  /** Commits in the log before the first group. */
  before: number;
}

/**
 * Of a store that was killed after the last group; `takenOver`: its log was emptied halfway, and the rest had
 * been copied into the database when it was killed.
 */
function killedStore({ takenOver }: { takenOver: boolean }): Left {
  const dir = join(temporaryDir(), 'data');
  const opened = openWritable(dir);
  const read = (name: string) => readFileSync(join(dir, name));
  const checkpoint = (how: string) =>
    expect(opened.database.pragma(`wal_checkpoint(${how})`)).toMatchObject([{ busy: 0 }]);
  try {
    const before = commitEnds(read('store.db-wal')).length;
    const writer = new SqliteWriter(opened);
    for (let group = 0; group < GROUPS; group++) {
      if (takenOver && group === GROUPS / 2) checkpoint('TRUNCATE');
      writeGroup(writer, group);
    }
    if (takenOver) checkpoint('PASSIVE');
    return { database: read('store.db'), log: read('store.db-wal'), before };
  } finally {
    opened.close();
  }
}

/** Where each commit in a write-ahead log ends (SQLite's file format, 4.1). */
function commitEnds(log: Buffer): number[] {
  const HEADER = 32;
  const FRAME_HEADER = 24;
  const frame = FRAME_HEADER + (log.length < HEADER ? 0 : log.readUInt32BE(8));
  const ends: number[] = [];
  for (let at = HEADER; at + frame <= log.length; at += frame) {
    if (!log.subarray(at + 8, at + 16).equals(log.subarray(16, 24))) break; // of the log before this one
    if (log.readUInt32BE(at + 4) > 0) ends.push(at + frame);
  }
  return ends;
}

function lay({ database, log }: Pick<Left, 'database' | 'log'>): string {
  const dir = temporaryDir();
  writeFileSync(join(dir, 'store.db'), database);
  writeFileSync(join(dir, 'store.db-wal'), log);
  return dir;
}

function verified(dir: string): Whole | Difference {
  const database = openReadable(dir);
  try {
    return verifyDatabase(database);
  } finally {
    database.close();
  }
}

/** How many groups there are, whole and from the first on. */
function groupsIn(dir: string): number {
  const database = openReadable(dir);
  try {
    const values = unsealedOf(database)
      .map(({ value }) => value)
      .sort((a, b) => a - b);
    expect(values).toEqual(Array.from(values, (_, seq) => seq / 64));
    expect(values.length % GROUP).toBe(0);
    return values.length / GROUP;
  } finally {
    database.close();
  }
}

describe('a write-ahead log that was cut short', () => {
  test('costs no commit that ends before the cut, and the store goes on', { timeout: 120_000 }, () => {
    const left = killedStore({ takenOver: false });
    const ends = commitEnds(left.log);
    expect(ends.length - left.before).toBe(GROUPS);
    // What lies behind the cut: nothing, or what a card makes of sectors it did not come to write.
    const behind = fc.constantFrom<(length: number) => Buffer>(
      () => Buffer.alloc(0),
      (length) => Buffer.alloc(length),
      (length) => Buffer.alloc(length, 0xa5),
    );
    fc.assert(
      fc.property(fc.nat({ max: left.log.length }), behind, (cut, rest) => {
        const log = Buffer.concat([left.log.subarray(0, cut), rest(left.log.length - cut)]);
        const dir = lay({ database: left.database, log });
        const opened = openWritable(dir);
        try {
          // Its own end may have been what lies behind the cut anyway.
          const isThere = (end: number) => log.subarray(0, end).equals(left.log.subarray(0, end));
          const kept = Math.max(0, ends.filter(isThere).length - left.before);
          expect(groupsIn(dir)).toBe(kept);
          expect(isDifference(verified(dir))).toBe(false);
          // Devices that send everything again fill it up.
          const writer = new SqliteWriter(opened);
          for (let group = Math.max(0, kept - 1); group < GROUPS; group++) {
            const result = group < kept ? 'duplicate' : 'stored';
            expect(writeGroup(writer, group)).toMatchObject(Array(GROUP).fill({ result }));
          }
          expect(groupsIn(dir)).toBe(GROUPS);
          const entries = (GROUPS / SITES.length) * GROUP;
          expect(verified(dir)).toMatchObject({ sites: SITES.map((site) => ({ site, entries })) });
        } finally {
          opened.close();
        }
      }),
      { numRuns: share(60) },
    );
  });

  test('after it was taken over into the database: either whole groups from the first on, or said to be damaged', {
    timeout: 120_000,
  }, () => {
    const left = killedStore({ takenOver: true });
    const ends = commitEnds(left.log);
    let damaged = 0;
    fc.assert(
      fc.property(fc.nat({ max: left.log.length }), (cut) => {
        const groups = wholeGroupsIn(lay({ database: left.database, log: left.log.subarray(0, cut) }));
        if (groups === null) {
          damaged++;
          return;
        }
        // A log without a commit says nothing, and the database has everything.
        const commits = ends.filter((end) => end <= cut).length;
        expect(groups).toBe(commits === 0 ? GROUPS : GROUPS / 2 + commits);
      }),
      { numRuns: 100, examples: [[0], [ends[0]!], [left.log.length]] },
    );
    expect(damaged).toBeGreaterThan(0);
  });
});

/** Null where the store is said to be damaged. */
function wholeGroupsIn(dir: string): number | null {
  try {
    openWritable(dir).close();
    if (isDifference(verified(dir))) return null;
  } catch (error) {
    expect(error).toMatchObject({ code: 'store-not-ours' }); // or a damaged one, as its message says
    return null;
  }
  return groupsIn(dir);
}

/** What is said of a database file by itself. */
function saidOf(path: string): 'whole' | 'damaged' | StoreError['code'] {
  try {
    const database = openReadableFile(path, path);
    try {
      return isDifference(verifyDatabase(database)) ? 'damaged' : 'whole';
    } finally {
      database.close();
    }
  } catch (error) {
    if (error instanceof StoreError) return error.code;
    throw error;
  }
}

describe('a database file', () => {
  const wholeFile = async (): Promise<Buffer> => {
    const dir = join(temporaryDir(), 'data');
    const opened = openWritable(dir);
    const writer = new SqliteWriter(opened);
    for (let group = 0; group < 10; group++) writeGroup(writer, group);
    opened.close();
    const copy = join(temporaryDir(), 'copy.db');
    await backupStore(dir, copy);
    expect(saidOf(copy)).toBe('whole');
    return readFileSync(copy);
  };

  test('that was cut short is refused or found damaged', { timeout: 60_000 }, async () => {
    const file = await wholeFile();
    fc.assert(
      fc.property(fc.integer({ min: 2, max: file.length - 1 }), (cut) => {
        const path = join(temporaryDir(), 'store.db');
        writeFileSync(path, file.subarray(0, cut));
        // Zeros at the very end are read as if they were there.
        if (saidOf(path) === 'whole') expect(file.subarray(cut).every((byte) => byte === 0)).toBe(true);
        else expect(['damaged', 'store-not-ours', 'store-unreadable']).toContain(saidOf(path));
      }),
      { numRuns: share(100), examples: [[2], [99], [4096], [file.length - 4096]] },
    );
  });

  test('with garbage where pages were is refused or found damaged', { timeout: 60_000 }, async () => {
    const file = await wholeFile();
    const PAGE = 4096;
    const garbage = fc.uint8Array({ minLength: 64, maxLength: PAGE });
    fc.assert(
      fc.property(fc.nat({ max: file.length / PAGE - 1 }), garbage, (page, bytes) => {
        const path = join(temporaryDir(), 'store.db');
        const altered = Buffer.from(file);
        altered.fill(bytes, page * PAGE, (page + 1) * PAGE);
        writeFileSync(path, altered);
        expect(['damaged', 'store-not-ours', 'store-unreadable']).toContain(saidOf(path));
      }),
      { numRuns: share(100) },
    );
  });
});

test('a folder that is read-only: refused to a writer, in a copy readable, and unharmed', async ({
  skip,
}) => {
  const folder = temporaryDir();
  const place = withReadOnlySwitch(folder);
  if (place === undefined) return skip('there is no way here to make a folder read-only');
  onTestFinished(place.remove);
  const data = join(folder, 'data');
  const writer = new SqliteWriter(openWritable(data));
  for (let group = 0; group < GROUPS; group++) writeGroup(writer, group);
  // One that was closed, one that was killed, one not begun, and a copy.
  const killed = join(folder, 'killed');
  mkdirSync(killed);
  for (const name of ['store.db', 'store.db-wal']) copyFileSync(join(data, name), join(killed, name));
  writer.close();
  const empty = join(folder, 'empty');
  mkdirSync(empty);
  const copy = join(folder, 'copy.db');
  await backupStore(data, copy);
  place.makeReadOnly();

  for (const dir of [data, killed, empty, join(folder, 'new')]) {
    await expect(openStore(dir)).rejects.toMatchObject({ code: 'store-unwritable' });
  }
  expect(saidOf(copy)).toBe('whole');
  // With a log, SQLite wants to write beside the database even to read it.
  for (const dir of [data, killed])
    expect(['whole', 'store-unreadable']).toContain(saidOf(join(dir, 'store.db')));

  const elsewhere = temporaryDir();
  for (const name of ['store.db', 'store.db-wal']) copyFileSync(join(killed, name), join(elsewhere, name));
  const closed = temporaryDir();
  copyFileSync(join(data, 'store.db'), join(closed, 'store.db'));
  for (const dir of [elsewhere, closed]) {
    expect(groupsIn(dir)).toBe(GROUPS);
    expect(isDifference(verified(dir))).toBe(false);
  }
});
