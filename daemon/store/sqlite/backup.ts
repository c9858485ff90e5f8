import { randomUUID } from 'node:crypto';
import { closeSync, existsSync, fsyncSync, linkSync, openSync, renameSync, rmSync } from 'node:fs';
import { dirname } from 'node:path';
import type Database from 'better-sqlite3';
import { StoreError } from '../store.ts';
import {
  createPrivate,
  databasePath,
  finishCopy,
  lockFolder,
  openReadable,
  openReadableFile,
} from './database.ts';
import { type Difference, describeDifference, isDifference, verifyDatabase, type Whole } from './verify.ts';

/**
 * Copies the store of a folder into a file, as of one moment, also while a daemon writes it, and verifies
 * the copy. Rejects with a `StoreError`: those of `openReadable`, `store-exists` where the file is there
 * already, `store-write-failed`, `store-changed` where the history is not as it was written: then the copy is
 * not kept.
 */
export async function backupStore(dir: string, file: string): Promise<Whole> {
  const database = openReadable(dir);
  try {
    return await copyVerified(database, file);
  } finally {
    database.close();
  }
}

/**
 * Puts a copy back, as the store of a folder that has none, brings it up to date and verifies it. Rejects as
 * `backupStore` does, and with what keeps the folder from being written.
 */
export async function restoreStore(file: string, dir: string): Promise<Whole> {
  const database = openReadableFile(file, file, { olderToo: true });
  try {
    const freeFolder = lockFolder(dir);
    try {
      return await copyVerified(database, databasePath(dir));
    } finally {
      freeFolder();
    }
  } finally {
    database.close();
  }
}

/** Copies the store of a folder; for a thread of its own. */
export class StoreCopier {
  readonly #dir: string;

  constructor(dir: string) {
    this.#dir = dir;
  }

  copyTo(file: string): Promise<Whole> {
    return backupStore(this.#dir, file);
  }

  close(): void {}
}

/** Ends the name of a copy that is not known to be good yet. */
const COPYING = '.copying';
/** A database and what SQLite puts beside it. */
const COMPANIONS = ['', '-wal', '-shm', '-journal'];

async function copyVerified(database: Database.Database, file: string): Promise<Whole> {
  for (const end of COMPANIONS) {
    // A log of another database would be laid over the copy.
    if (existsSync(`${file}${end}`)) throw new StoreError('store-exists', `${file}${end}: is there already`);
  }
  const path = `${file}.${randomUUID().slice(0, 8)}${COPYING}`;
  try {
    createPrivate(path);
    // All in one step: in several, a writer at work would make it begin again and again.
    await database.backup(path, { progress: () => Number.MAX_SAFE_INTEGER });
    finishCopy(path);
    const copy = openReadableFile(path, file);
    let result: Whole | Difference;
    try {
      result = verifyDatabase(copy);
    } finally {
      copy.close();
    }
    if (isDifference(result)) {
      throw new StoreError('store-changed', describeDifference(result));
    }
    sync(path);
    putInPlace(path, file);
    sync(dirname(file));
    return result;
  } catch (error) {
    for (const end of COMPANIONS) rmSync(`${path}${end}`, { force: true });
    if (error instanceof StoreError) throw error;
    throw new StoreError(
      'store-write-failed',
      `${file}: not written (${error instanceof Error ? error.message : String(error)})`,
    );
  }
}

/** Gives a copy its name, unless somebody else has taken that meanwhile. */
function putInPlace(path: string, file: string): void {
  try {
    linkSync(path, file);
    rmSync(path);
  } catch (error) {
    // Memory sticks have file systems without links.
    if ((error as NodeJS.ErrnoException).code === 'EEXIST' || existsSync(file)) throw error;
    renameSync(path, file);
  }
}

function sync(path: string): void {
  const descriptor = openSync(path, 'r');
  try {
    fsyncSync(descriptor);
  } finally {
    closeSync(descriptor);
  }
}
