import { chmodSync, closeSync, existsSync, mkdirSync, openSync, statSync } from 'node:fs';
import { dirname, join } from 'node:path';
import Database from 'better-sqlite3';
import { StoreError } from '../store.ts';
import { APPLICATION_ID, MIGRATIONS } from './schema.ts';

/** How long a connection waits for a lock that another program (a backup, say) holds for a moment, ms. */
const BUSY_TIMEOUT_MS = 5000;

/** What a connection keeps of the file, KiB: its own way would be 16 MB each, and the system keeps it, too. */
const CACHE_KIB = 2000;

/** `PRAGMA synchronous`: each commit waits until the write-ahead log is on the disk. */
const SYNCHRONOUS_FULL = 2;

/**
 * The driver is built on a part of Node.js (`node::ObjectWrap`) that aborts the whole process from 24 on whenever a
 * statement is tidied up outside of a call: seen with 24.21 and better-sqlite3 12.11. Its next version does not run on 20.
 */
const NEWEST_NODE = 22;

export function refuseUnfitNode(version: string): void {
  if (Number.parseInt(version, 10) > NEWEST_NODE)
    throw new StoreError(
      'node-unfit',
      `Node.js ${version} would end this daemon at any moment, by its database driver: run it with Node.js 20 or 22`,
    );
}

export const databasePath = (dir: string): string => join(dir, 'store.db');

/** The one connection that may write, and the lock that keeps it the only one. */
export interface WritableDatabase {
  database: Database.Database;
  close(): void;
}

/**
 * Opens the store in a folder for writing; makes the folder and the database where there is none.
 * Throws a `StoreError`: `store-unwritable`, `store-in-use`, `store-not-ours` (or damaged), `store-newer`,
 * `store-write-failed`, `node-unfit`.
 */
export function openWritable(dir: string): WritableDatabase {
  let lock: Database.Database | undefined;
  let database: Database.Database | undefined;
  const close = (): void => {
    database?.close();
    lock?.close();
  };
  try {
    refuseUnfitNode(process.versions.node);
    makeFolder(dir);
    lock = takeLock(join(dir, 'lock'));
    const path = databasePath(dir);
    refuseOrphanedLog(path);
    createPrivate(path);
    database = new Database(path, { timeout: BUSY_TIMEOUT_MS });
    checkOurs(database, path);
    makePrivate(path);
    database.pragma(`cache_size = ${-CACHE_KIB}`);
    database.pragma('journal_mode = WAL');
    database.pragma(`synchronous = ${SYNCHRONOUS_FULL}`);
    const version = schemaVersion(database);
    if (version > 0 && version < MIGRATIONS.length && !hasOurSchema(database))
      throw new StoreError('store-changed', `${path}: its tables are not those of its version`);
    migrate(database);
    // Read only now: without the setting, this build of SQLite goes to NORMAL with the first statement
    // in WAL mode, and a power cut could then take readings that were acknowledged.
    if (database.pragma('synchronous', { simple: true }) !== SYNCHRONOUS_FULL) {
      throw new StoreError('store-write-failed', `${path}: commits cannot be made to wait for the disk`);
    }
    return { database, close };
  } catch (error) {
    close();
    throw error instanceof StoreError ? error : openError(error, dir, 'store-unwritable');
  }
}

/** A log beside no database, or an empty one, holds commits that would be thrown away. */
function refuseOrphanedLog(path: string): void {
  const sizeOf = (file: string): number => (existsSync(file) ? statSync(file).size : 0);
  if (sizeOf(path) === 0 && sizeOf(`${path}-wal`) > 0)
    throw new StoreError('store-not-ours', `${path}: empty or gone, but its log is there`);
}

/**
 * Opens the store in a folder for queries only, beside a writer or without one; takes no lock.
 * Throws a `StoreError`: `store-missing`, `store-not-ours` (or damaged), `store-older`, `store-newer`,
 * `store-unreadable`.
 */
export const openReadable = (dir: string): Database.Database => openReadableFile(databasePath(dir), dir);

/** The same for a database file, wherever it lies; `name` is what it is called in an error. */
export function openReadableFile(path: string, name: string, { olderToo = false } = {}): Database.Database {
  let database: Database.Database | undefined;
  try {
    if (!existsSync(path)) throw new StoreError('store-missing', `${name}: there is no store`);
    database = new Database(path, { readonly: true, fileMustExist: true, timeout: BUSY_TIMEOUT_MS });
    database.pragma(`cache_size = ${-CACHE_KIB}`);
    checkOurs(database, path);
    if (schemaVersion(database) < 1)
      throw new StoreError(olderToo ? 'store-not-ours' : 'store-missing', `${path}: an empty database`);
    if (!olderToo && schemaVersion(database) < MIGRATIONS.length) {
      throw new StoreError('store-older', `${path}: of an older version; \`serve\` brings it up to date`);
    }
    return database;
  } catch (error) {
    database?.close();
    throw error instanceof StoreError ? error : openError(error, name, 'store-unreadable');
  }
}

/** Brings a copy that nobody else has open up to date, with nothing beside it that belongs to it. */
export function finishCopy(path: string): void {
  const database = new Database(path);
  try {
    // Triggers of somebody else's would act in what follows.
    if (!hasOurSchema(database))
      throw new StoreError('store-not-ours', 'its tables are not those of this program');
    database.pragma('journal_mode = DELETE');
    if (schemaVersion(database) < MIGRATIONS.length) migrate(database);
  } finally {
    database.close();
  }
}

/**
 * Makes a folder, if it is not there, and keeps every writer of a store out of it until what this gives is
 * called. Throws a `StoreError`: `store-unwritable`, `store-in-use`.
 */
export function lockFolder(dir: string): () => void {
  try {
    makeFolder(dir);
    const lock = takeLock(join(dir, 'lock'));
    return () => lock.close();
  } catch (error) {
    throw error instanceof StoreError ? error : openError(error, dir, 'store-unwritable');
  }
}

/** Step by step: Node's own recursive way never ends where the system makes no folders (below `/proc`). */
function makeFolder(dir: string): void {
  if (existsSync(dir)) return;
  makeFolder(dirname(dir));
  mkdirSync(dir, { mode: 0o700 });
}

/**
 * Locks a file for as long as the connection is open. The system frees it when the process ends, however
 * it ends.
 */
function takeLock(path: string): Database.Database {
  createPrivate(path);
  makePrivate(path);
  const lock = new Database(path, { timeout: 0 });
  try {
    lock.pragma('journal_mode = MEMORY'); // nothing beside the lock to be left behind
    lock.exec('BEGIN EXCLUSIVE');
    return lock;
  } catch (error) {
    lock.close();
    if (errorCode(error) === 'SQLITE_BUSY') {
      throw new StoreError('store-in-use', `${path}: another process has this store open`);
    }
    throw error;
  }
}

/**
 * Makes an empty file that its owner alone can read; SQLite gives its companions (`-wal`, `-shm`) the same
 * mode. A file that is there is not opened: closing it would drop the locks that this process has on it.
 */
export function createPrivate(path: string): void {
  if (!existsSync(path)) closeSync(openSync(path, 'a', 0o600));
}

function makePrivate(path: string): void {
  for (const file of [path, `${path}-wal`, `${path}-shm`]) if (existsSync(file)) chmodSync(file, 0o600);
}

function checkOurs(database: Database.Database, path: string): void {
  const id = database.pragma('application_id', { simple: true });
  const isEmpty = database.prepare('SELECT count(*) FROM sqlite_schema').pluck().get() === 0;
  if (id !== APPLICATION_ID && !(id === 0 && isEmpty)) {
    throw new StoreError('store-not-ours', `${path}: a database of another program`);
  }
  if (schemaVersion(database) > MIGRATIONS.length) {
    throw new StoreError(
      'store-newer',
      `${path}: written by a newer version of this program; run that one, or restore a copy from before it`,
    );
  }
}

const schemaVersion = (database: Database.Database): number =>
  database.pragma('user_version', { simple: true }) as number;

/** Whether a database has the tables of its version, and nothing else that could act. */
export function hasOurSchema(database: Database.Database): boolean {
  const fresh = new Database(':memory:');
  try {
    migrate(fresh, schemaVersion(database));
    const [ours, its] = [fresh, database].map((one) =>
      JSON.stringify(
        one.prepare('SELECT type, name, tbl_name, sql FROM sqlite_schema ORDER BY type, name').all(),
      ),
    );
    return ours === its;
  } finally {
    fresh.close();
  }
}

/** Brings the schema up to date. Always writes, so that the settings of the connection have taken hold. */
function migrate(database: Database.Database, to = MIGRATIONS.length): void {
  database
    .transaction(() => {
      for (const migration of MIGRATIONS.slice(schemaVersion(database), to)) {
        if (typeof migration === 'string') database.exec(migration);
        else migration(database);
      }
      database.pragma(`application_id = ${APPLICATION_ID}`);
      database.pragma(`user_version = ${to}`);
    })
    .immediate();
}

function openError(
  error: unknown,
  dir: string,
  otherwise: 'store-unwritable' | 'store-unreadable',
): StoreError {
  const message = error instanceof Error ? error.message : String(error);
  if (/^SQLITE_(NOTADB|CORRUPT)/.test(errorCode(error))) {
    return new StoreError(
      'store-not-ours',
      `${dir}: no database of this program, or a damaged one (${message})`,
    );
  }
  const cannot = otherwise === 'store-unreadable' ? 'cannot be read' : 'cannot be written';
  return new StoreError(otherwise, `${dir}: ${cannot} (${message})`);
}

const errorCode = (error: unknown): string =>
  error instanceof Error && 'code' in error ? String(error.code) : '';
