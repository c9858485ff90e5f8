import { existsSync } from 'node:fs';
import { resolve } from 'node:path';
import { isName } from '../../shared/wire/names.ts';
import { AccessRefused } from '../access/access.ts';
import { databasePath } from '../store/sqlite/database.ts';
import { openAccess } from './open-access.ts';
import { DEFAULT_DATA, readOptions, takeWords } from './options.ts';
import { OWNER } from './person.ts';
import { UsageError } from './usage.ts';

const HELP = `esterwatch device: what may publish. As soon as there is one, nothing else may connect to the daemon’s broker.

  device add NAME     sets a device up, or gives it another secret, which is printed once: as MQTT user name it has
                      NAME, as password the secret
  device list
  device remove NAME

  --site SITE  the one that it may publish for (as it was; any for a new one)
  --data DIR   where everything is kept (${DEFAULT_DATA})
  --help
`;

export async function device(args: string[]): Promise<void> {
  const { words, rest } = takeWords(args, 2);
  const given = readOptions(rest, { site: { type: 'string' }, data: { type: 'string' } }, HELP);
  if (given === null) return;
  const data = given.data ?? DEFAULT_DATA;
  const access = openAccess(data);
  const [does, name] = words;
  if (does === 'list' && name === undefined) {
    for (const one of access.publishers()) process.stdout.write(`${one.name}  ${one.site ?? 'any site'}\n`);
    return;
  }
  if ((does !== 'add' && does !== 'remove') || name === undefined)
    throw new UsageError(`device wants add NAME, list, or remove NAME, not "${words.join(' ')}"`);
  for (const one of [name, given.site ?? name]) {
    if (!isName(one))
      throw new UsageError(`${one} is no name: small letters, digits and hyphens, at most 40`);
  }
  try {
    if (does === 'remove') {
      access.removePublisher(name, OWNER);
      const isLast = access.publishers().length === 0;
      process.stdout.write(`${name} may not publish any more\n`);
      if (isLast)
        process.stderr.write(
          'No device is left: on this machine everything may connect again. Beyond it nothing is let in.\n',
        );
      return;
    }
    const secret = access.setPublisher(name, given.site, OWNER);
    const { site } = access.publishers().find((one) => one.name === name)!;
    process.stdout.write(`${name} may publish for ${site ?? 'any site'}. Its password, shown this once:\n`);
    if (!existsSync(databasePath(data)))
      process.stderr.write(
        `No daemon has kept anything in ${resolve(data)} yet: where it does, say --data as for serve.\n`,
      );
    process.stdout.write(`${secret}\n`);
  } catch (error) {
    if (error instanceof AccessRefused) throw new UsageError(error.message);
    throw error;
  }
}
