import { openReadable } from '../store/sqlite/database.ts';
import { describeDifference, isDifference, verifyDatabase, type Whole } from '../store/sqlite/verify.ts';
import { DEFAULT_DATA, readOptions } from './options.ts';

const HELP = `esterwatch verify: works the whole history of a store out anew and compares, also beside a running
daemon. Exit 0 where all is as it was written, 1 where it is not: the first place is printed.

  --data DIR  where the store is (${DEFAULT_DATA})
  --help
`;

export async function verify(args: string[]): Promise<void> {
  const given = readOptions(args, { data: { type: 'string' } }, HELP);
  if (given === null) return;
  const database = openReadable(given.data ?? DEFAULT_DATA);
  try {
    const result = verifyDatabase(database);
    process.stdout.write(`${isDifference(result) ? describeDifference(result) : describeWhole(result)}\n`);
    if (isDifference(result)) process.exitCode = 1;
  } finally {
    database.close();
  }
}

/** One line: how much there is, and each site's head, to be written down. */
export function describeWhole({ sites }: Whole): string {
  const entries = sites.reduce((sum, site) => sum + site.entries, 0);
  const heads = sites.map(({ site, entries: last, head }) => `${site} ${last} ${head}`);
  return [`whole: ${entries} entries of ${sites.length} sites`, ...heads].join('; ');
}
