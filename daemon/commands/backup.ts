import { backupStore, restoreStore } from '../store/sqlite/backup.ts';
import { StoreError } from '../store/store.ts';
import { DEFAULT_DATA, readOptions } from './options.ts';
import { UsageError } from './usage.ts';
import { describeWhole } from './verify.ts';

const BACKUP_HELP = `esterwatch backup: copies a store into a file, also while a daemon writes it, and verifies the copy.

  --data DIR  where the store is (${DEFAULT_DATA})
  --to FILE   the copy; it must not be there yet
  --help
`;

const RESTORE_HELP = `esterwatch restore: puts a copy back as the store of a folder that has none, and verifies it.

  --from FILE  the copy
  --data DIR   where the store is to be (${DEFAULT_DATA})
  --help
`;

export async function backup(args: string[]): Promise<void> {
  const given = readOptions(args, { data: { type: 'string' }, to: { type: 'string' } }, BACKUP_HELP);
  if (given === null) return;
  const { data = DEFAULT_DATA, to } = given;
  if (to === undefined) throw new UsageError('backup wants --to FILE');
  await tell(backupStore(data, to));
}

export async function restore(args: string[]): Promise<void> {
  const given = readOptions(args, { from: { type: 'string' }, data: { type: 'string' } }, RESTORE_HELP);
  if (given === null) return;
  const { from, data = DEFAULT_DATA } = given;
  if (from === undefined) throw new UsageError('restore wants --from FILE');
  await tell(restoreStore(from, data));
}

/** Prints what was copied; a history that is not as it was written is no wrong use. */
async function tell(copying: ReturnType<typeof backupStore>): Promise<void> {
  try {
    process.stdout.write(`${describeWhole(await copying)}\n`);
  } catch (error) {
    if (!(error instanceof StoreError && error.code === 'store-changed')) throw error;
    process.stdout.write(`${error.message}\n`);
    process.exitCode = 1;
  }
}
