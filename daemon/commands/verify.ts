import { openReadable, openReadableFile } from '../store/sqlite/database.ts';
import {
  type Difference,
  describeDifference,
  type FoundHead,
  isDifference,
  verifyDatabase,
  type Whole,
} from '../store/sqlite/verify.ts';
import { StoreError } from '../store/store.ts';
import { DEFAULT_DATA, readOptions } from './options.ts';
import { UsageError } from './usage.ts';

const HELP = `esterwatch verify: works the whole history of a store out anew and compares, also beside a running
daemon. Exit 0 where all is as it was written, 1 where it is not: the first place is printed.

  --data DIR   where the store is (${DEFAULT_DATA})
  --from FILE  a copy instead, wherever it lies
  --head HEAD  also look up a head that was written down or published earlier: exit 1 where the history does not
               lead to it
  --help
`;

export async function verify(args: string[]): Promise<void> {
  const given = readOptions(
    args,
    { data: { type: 'string' }, from: { type: 'string' }, head: { type: 'string' } },
    HELP,
  );
  if (given === null) return;
  const head = given.head?.toLowerCase();
  if (head !== undefined && !/^[0-9a-f]{64}$/.test(head))
    throw new UsageError('--head wants the 64 digits (0-9 and a-f) of a head');
  if (given.from !== undefined && given.data !== undefined)
    throw new UsageError(
      '--data and --from exclude each other: a folder with a store, or the file of a copy',
    );
  const result = verifyAt(given, head);
  if (typeof result !== 'string' && !isDifference(result)) {
    process.stdout.write(`${describeWhole(result)}\n`);
    return;
  }
  process.stdout.write(`${typeof result === 'string' ? result : describeDifference(result)}\n`);
  process.exitCode = 1;
}

/** What verifying gives, or in words that there is a file that is none of a store. */
function verifyAt(
  { data = DEFAULT_DATA, from }: { data?: string; from?: string },
  head: string | undefined,
): Whole | Difference | string {
  let database: ReturnType<typeof openReadable>;
  try {
    database = from === undefined ? openReadable(data) : openReadableFile(from, from);
  } catch (error) {
    if (error instanceof StoreError && error.code === 'store-not-ours')
      return `not as written: ${error.message}`;
    throw error;
  }
  try {
    return verifyDatabase(database, head);
  } finally {
    database.close();
  }
}

/**
 * One line: how much there is, and of each site a head to be written down: of what is sealed, since that can be
 * looked up later.
 */
export function describeWhole({ sites, found }: Whole): string {
  const entries = sites.reduce((sum, site) => sum + site.entries, 0);
  const heads = sites.map(({ site, sealed, dropped, ...newest }) => {
    const head = describeHead({ site, ...(sealed ?? newest) });
    if (sealed === null) return `${head} (not sealed yet: not found any more once it is)`;
    return dropped === 0 ? head : `${head} (${dropped} readings dropped)`;
  });
  const looked = found === undefined ? [] : [`found ${describeHead(found)}`];
  const count = `${sites.length} ${sites.length === 1 ? 'site' : 'sites'}`;
  return [`whole: ${entries} entries of ${count}`, ...heads, ...looked].join('; ');
}

const describeHead = ({ site, entries, head }: FoundHead): string => `${site} ${entries} ${head}`;
