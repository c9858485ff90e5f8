import { openReadable } from '../store/sqlite/database.ts';
import {
  describeDifference,
  type FoundHead,
  isDifference,
  verifyDatabase,
  type Whole,
} from '../store/sqlite/verify.ts';
import { DEFAULT_DATA, readOptions } from './options.ts';
import { UsageError } from './usage.ts';

const HELP = `esterwatch verify: works the whole history of a store out anew and compares, also beside a running
daemon. Exit 0 where all is as it was written, 1 where it is not: the first place is printed.

  --data DIR   where the store is (${DEFAULT_DATA})
  --head HEAD  also look up a head that was written down or published earlier: exit 1 where the history does not
               lead to it
  --help
`;

export async function verify(args: string[]): Promise<void> {
  const given = readOptions(args, { data: { type: 'string' }, head: { type: 'string' } }, HELP);
  if (given === null) return;
  const head = given.head?.toLowerCase();
  if (head !== undefined && !/^[0-9a-f]{64}$/.test(head))
    throw new UsageError('--head wants the 64 digits (0-9 and a-f) of a head');
  const database = openReadable(given.data ?? DEFAULT_DATA);
  try {
    const result = verifyDatabase(database, head);
    process.stdout.write(`${isDifference(result) ? describeDifference(result) : describeWhole(result)}\n`);
    if (isDifference(result)) process.exitCode = 1;
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
    return dropped === 0 ? head : `${head} (${dropped} readings dropped)`;
  });
  const looked = found === undefined ? [] : [`found ${describeHead(found)}`];
  return [`whole: ${entries} entries of ${sites.length} sites`, ...heads, ...looked].join('; ');
}

const describeHead = ({ site, entries, head }: FoundHead): string => `${site} ${entries} ${head}`;
