import { randomBytes } from 'node:crypto';
import {
  closeSync,
  fchownSync,
  fstatSync,
  fsyncSync,
  lstatSync,
  mkdirSync,
  openSync,
  readFileSync,
  renameSync,
  statSync,
  unlinkSync,
  writeFileSync,
} from 'node:fs';
import { dirname } from 'node:path';
import type { z } from 'zod';
import { StoreError } from './store/store.ts';

/**
 * A JSON file that only the daemon's user can read; null where there is none. Nothing of its content is in an error.
 * @throws StoreError `store-not-ours` where it is none of the schema.
 */
export function readPrivate<Schema extends z.ZodType>(file: string, schema: Schema): z.infer<Schema> | null {
  let text: string;
  try {
    text = readFileSync(file, 'utf8');
  } catch (error) {
    if ((error as NodeJS.ErrnoException).code === 'ENOENT') return null;
    throw error;
  }
  try {
    return schema.parse(JSON.parse(text));
  } catch (error) {
    const issues = (error as { issues?: { path: PropertyKey[] }[] }).issues ?? [];
    const where = issues[0]?.path.map(String).join('.') ?? '';
    throw new StoreError(
      'store-not-ours',
      `${file} cannot be understood${where === '' ? '' : ` at ${where}`}`,
    );
  }
}

/**
 * Writes JSON, the whole new content or none of it, for the daemon's user alone, whoever runs this; on the disk when
 * this returns.
 */
export const writePrivate = (file: string, content: unknown): void =>
  writePrivateText(file, `${JSON.stringify(content, null, 2)}\n`);

/** The same with a text as it is. */
export function writePrivateText(file: string, text: string): void {
  mkdirSync(dirname(file), { recursive: true, mode: 0o700 });
  const fresh = `${file}.${randomBytes(6).toString('hex')}`;
  const handle = openSync(fresh, 'wx', 0o600);
  try {
    // Unlike one call of write, this goes on until all is written, or fails.
    writeFileSync(handle, text);
    giveToOwner(handle, file);
    fsyncSync(handle);
    renameSync(fresh, file);
  } catch (error) {
    unlinkSync(fresh);
    throw error;
  } finally {
    closeSync(handle);
  }
  const folder = openSync(dirname(file), 'r');
  try {
    fsyncSync(folder);
  } finally {
    closeSync(folder);
  }
}

/**
 * Gives an open file to whoever has the one that it replaces, or the folder where there is none: a command may run as
 * root beside a daemon that does not, which could not read it otherwise.
 */
function giveToOwner(handle: number, file: string): void {
  const { uid, gid } = lstatSync(file, { throwIfNoEntry: false }) ?? statSync(dirname(file));
  const own = fstatSync(handle);
  if (own.uid === uid && own.gid === gid) return;
  try {
    fchownSync(handle, uid, gid);
  } catch (error) {
    // Only root may give a file away; for anybody else it stays their own.
    if ((error as NodeJS.ErrnoException).code !== 'EPERM') throw error;
  }
}
