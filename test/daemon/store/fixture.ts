import { mkdtempSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import type Database from 'better-sqlite3';
import { onTestFinished } from 'vitest';
import { openStore } from '../../../daemon/store/open.ts';
import { type ReadingRecord, ReadingRecords } from '../../../daemon/store/reading-records.ts';
import type { ReadingsQuery, Store, StoredEntry } from '../../../daemon/store/store.ts';

/** A folder of its own, removed when the test (or the hook) is over. */
export function temporaryDir(remove: (cleanUp: () => void) => void = onTestFinished): string {
  const dir = mkdtempSync(join(tmpdir(), 'esterwatch-store-'));
  remove(() => rmSync(dir, { recursive: true, force: true }));
  return dir;
}

/** An open store for one test. */
export async function temporaryStore(): Promise<Store> {
  const store = await openStore(join(temporaryDir(), 'data'));
  onTestFinished(() => store.close());
  return store;
}

export const everyReadingOf = (site: string, vessel = 'r1'): ReadingsQuery => ({
  site,
  vessel,
  channel: 'liquid-temperature',
  fromMs: 0,
  toMs: 8.64e15,
});

/** Everything of a site, fetched page by page. */
export async function everyEntryOf(store: Store, site: string, page = 1000): Promise<StoredEntry[]> {
  const entries: StoredEntry[] = [];
  for (;;) {
    const next = await store.entriesAfter(site, entries.at(-1)?.position ?? 0, page);
    if (next.length === 0) return entries;
    entries.push(...next);
  }
}

/** The readings of a database that are not sealed. */
export function unsealedOf(database: Database.Database): ReadingRecord[] {
  const blocks = database
    .prepare<[], Buffer>('SELECT readings FROM block ORDER BY site_id, position')
    .pluck()
    .all();
  return blocks.flatMap((bytes) => recordsOf(new ReadingRecords(bytes)));
}

export const recordsOf = (records: ReadingRecords): ReadingRecord[] =>
  Array.from({ length: records.length }, (_, i) => ({
    channel: records.channel(i),
    position: records.position(i),
    atMs: records.atMs(i),
    arrivedMs: records.arrivedMs(i),
    value: records.value(i),
    seq: records.seq(i),
    stamped: records.stamped(i),
    source: records.source(i),
  }));

/** Puts others in the place of the readings of the block that has a position, as somebody who can write the file could. */
export function alterBlock(
  database: Database.Database,
  siteId: number,
  position: number,
  alter: (readings: ReadingRecord[]) => ReadingRecord[],
): void {
  const block = database
    .prepare<[number, number], { position: number; readings: Buffer }>(
      'SELECT position, readings FROM block WHERE site_id = ? AND position >= ? ORDER BY position LIMIT 1',
    )
    .get(siteId, position)!;
  const altered = alter(recordsOf(new ReadingRecords(block.readings)));
  const records = ReadingRecords.ofLength(altered.length);
  for (const [i, record] of altered.entries()) records.set(i, record);
  database
    .prepare('UPDATE block SET readings = ? WHERE site_id = ? AND position = ?')
    .run(records.bytes, siteId, block.position);
}
