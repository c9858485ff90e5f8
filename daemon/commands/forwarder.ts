import { isName } from '../../shared/wire/names.ts';
import { AccessRefused } from '../access/access.ts';
import { openAccess } from './open-access.ts';
import { DEFAULT_DATA, readOptions, takeWords } from './options.ts';
import { OWNER } from './person.ts';
import { UsageError } from './usage.ts';

const HELP = `esterwatch forwarder: what other daemons may forward the sites that they watch to this one.

  forwarder add NAME --sites SITE,SITE
                      lets a daemon forward these sites, or gives it another token, which is printed once
  forwarder list
  forwarder remove NAME
                      what came of its sites stays

  --sites SITE,SITE  the sites that it may forward (as they were); each goes by one daemon only
  --data DIR         where everything is kept (${DEFAULT_DATA})
  --help
`;

export async function forwarder(args: string[]): Promise<void> {
  const { words, rest } = takeWords(args, 2);
  const given = readOptions(rest, { sites: { type: 'string' }, data: { type: 'string' } }, HELP);
  if (given === null) return;
  const access = openAccess(given.data ?? DEFAULT_DATA);
  const [does, name] = words;
  if (does === 'list' && name === undefined) {
    for (const one of access.forwarders()) process.stdout.write(`${one.name}  ${one.sites.join(',')}\n`);
    return;
  }
  if ((does !== 'add' && does !== 'remove') || name === undefined)
    throw new UsageError(`forwarder wants add NAME, list, or remove NAME, not "${words.join(' ')}"`);
  const sites = given.sites?.split(',');
  for (const one of [name, ...(sites ?? [])]) {
    if (!isName(one))
      throw new UsageError(`${one} is no name: small letters, digits and hyphens, at most 40`);
  }
  try {
    if (does === 'remove') {
      access.removeForwarder(name, OWNER);
      process.stdout.write(`${name} may not forward any more\n`);
      return;
    }
    const secret = access.setForwarder(name, sites, OWNER);
    const known = access.forwarders().find((one) => one.name === name)!;
    process.stdout.write(`${name} may forward ${known.sites.join(', ')}. Its token, shown this once:\n`);
    process.stdout.write(`${secret}\n`);
  } catch (error) {
    if (error instanceof AccessRefused) throw new UsageError(error.message);
    throw error;
  }
}
