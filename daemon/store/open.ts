import { packUnits, unpackResults } from './packed-units.ts';
import type { StoreCopier } from './sqlite/backup.ts';
import type { SqliteReader } from './sqlite/reader.ts';
import type { Whole } from './sqlite/verify.ts';
import type { SqliteWriter } from './sqlite/writer.ts';
import { type History, type Store, StoreError } from './store.ts';
import { type Started, StoreThread, type ThreadData } from './thread.ts';

/**
 * Opens the store in a folder, made where it is not there, and keeps every other writer out until it is
 * closed. One thread writes and one queries, so that neither holds up the caller or the other.
 * Rejects with a `StoreError`: `store-unwritable`, `store-in-use`, `store-not-ours`, `store-newer`,
 * `store-write-failed`.
 */
export async function openStore(dir: string, start?: (data: ThreadData) => Started): Promise<Store> {
  const writer = await StoreThread.start<SqliteWriter>({ role: 'writer', dir }, start);
  const reader = await StoreThread.start<SqliteReader>({ role: 'reader', dir }, start).catch(
    async (error) => {
      await writer.close();
      throw error;
    },
  );
  return {
    write: async (units) => unpackResults(await writer.call('write', packUnits(units))),
    seal: async (site, beforeMs) => {
      const made = await reader.call('makeSeal', site, beforeMs);
      return made !== null && (await writer.call('putSeal', site, made));
    },
    sealAfter: (site, position) => reader.call('sealAfter', site, position),
    takeSeal: async (site, bytes) => {
      const checked = await reader.call('checkSeal', site, bytes);
      if ('taken' in checked) return checked;
      const code = await writer.call('putForwarded', site, checked);
      if (code !== null) return { taken: false, code, because: BECAUSE[code] };
      return {
        taken: true,
        to: checked.to,
        actions: checked.actions.map(({ body, ...row }) => ({
          kind: 'action',
          ...row,
          body: JSON.parse(body) as unknown,
        })),
        channels: checked.pages.map(({ vessel, channel }) => ({ vessel, channel })),
      };
    },
    awaitPhotograph: (site, photograph) => writer.call('awaitPhotograph', site, photograph),
    drop: (site, wanted, nowMs) => writer.call('drop', site, wanted, nowMs),
    sites: () => reader.call('sites'),
    heads: () => reader.call('heads'),
    entriesAfter: (site, position, limit) => reader.call('entriesAfter', site, position, limit),
    actions: (site) => reader.call('actions', site),
    channels: (site) => reader.call('channels', site),
    rawReadings: (query) => reader.call('rawReadings', query),
    buckets: (query) => reader.call('buckets', query),
    readingsJson: (query) => reader.call('readingsJson', query),
    readingsCsv: (query) => reader.call('readingsCsv', query),
    died: Promise.race([writer.died, reader.died]),
    photograph: (sha256) => reader.call('photograph', sha256),
    alarms: (query) => reader.call('alarms', query),
    alarm: (site, id) => reader.call('alarm', site, id),
    alarmsDuring: (query) => reader.call('alarmsDuring', query),
    alarmHistory: (range) => reader.call('alarmHistory', range),
    // The reader first: the last connection to close clears the write-ahead log away.
    close: () => writer.close(reader.close()),
  };
}

const BECAUSE = { own: 'the site is watched here', 'not-next': 'another came meanwhile' } as const;

/** Copies a store as `backupStore` does, without holding up the caller. */
export async function backupInThread(dir: string, file: string): Promise<Whole> {
  const copier = await StoreThread.start<StoreCopier>({ role: 'copier', dir });
  try {
    return await copier.call('copyTo', file);
  } finally {
    await copier.close();
  }
}

/**
 * Opens the history of a store to be read, also while a daemon writes it; takes no lock. Rejects with a
 * `StoreError`: `store-missing`, `store-unreadable`, `store-not-ours`, `store-older`, `store-newer`.
 */
export async function openHistory(dir: string): Promise<History & { close(): Promise<void> }> {
  const reader = await StoreThread.start<SqliteReader>({ role: 'reader', dir });
  return {
    sites: () => reader.call('sites'),
    entriesAfter: (site, position, limit) => reader.call('entriesAfter', site, position, limit),
    actions: (site) => reader.call('actions', site),
    close: () => reader.close(),
  };
}

/**
 * Where the store of a folder is not what was written, as an error that says so; null where it is whole. Reads all of
 * it: for when it cannot be gone on from.
 */
export async function damageIn(dir: string): Promise<StoreError | null> {
  const { openReadable } = await import('./sqlite/database.ts');
  const { describeDifference, isDifference, verifyDatabase } = await import('./sqlite/verify.ts');
  const database = openReadable(dir);
  try {
    const result = verifyDatabase(database);
    return isDifference(result)
      ? new StoreError('store-changed', `${dir}: ${describeDifference(result)}`)
      : null;
  } finally {
    database.close();
  }
}
