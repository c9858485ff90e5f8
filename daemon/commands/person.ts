import { createInterface } from 'node:readline';
import { Writable } from 'node:stream';
import { rightsSchema } from '../../shared/wire/access.ts';
import { person as personName } from '../../shared/wire/parts.ts';
import { RIGHTS, type Right } from '../../shared/wire/session.ts';
import { AccessRefused } from '../access/access.ts';
import { openAccess } from './open-access.ts';
import { DEFAULT_DATA, readOptions, takeWords } from './options.ts';
import { UsageError } from './usage.ts';

const HELP = `esterwatch person: who may sign in. As soon as there is one, everybody has to.

  person add NAME     sets a person up, or gives them another passphrase or other rights
  person list
  person remove NAME

  --rights look,work,keep  what they may: see everything; note what is done and acknowledge; set up limits, people
                           and devices (look)
  --data DIR               where everything is kept (${DEFAULT_DATA})
  --help

The passphrase is asked for; without a terminal it is the first line of what comes in, or ESTERWATCH_PASSPHRASE.
`;

export async function person(args: string[]): Promise<void> {
  const { words, rest } = takeWords(args, 2);
  const given = readOptions(rest, { rights: { type: 'string' }, data: { type: 'string' } }, HELP);
  if (given === null) return;
  const access = openAccess(given.data ?? DEFAULT_DATA);
  const [does, name] = words;
  if (does === 'list' && name === undefined) {
    for (const one of access.people()) process.stdout.write(`${one.name}  ${one.rights.join(',')}\n`);
    return;
  }
  if ((does !== 'add' && does !== 'remove') || name === undefined)
    throw new UsageError(`person wants add NAME, list, or remove NAME, not "${words.join(' ')}"`);
  const own = personName.safeParse(name);
  if (!own.success) throw new UsageError(`${name} is no name of a person: ${own.error.issues[0]!.message}`);
  try {
    if (does === 'remove') {
      access.removePerson(own.data, OWNER);
      const isLast = access.people().length === 0;
      process.stdout.write(`${own.data} may not sign in any more\n`);
      if (isLast)
        process.stderr.write(
          'Nobody is left: everybody on this machine may do everything again. Beyond it nobody gets in.\n',
        );
      return;
    }
    const rights = rightsOf(given.rights);
    const passphrase = await askPassphrase(own.data);
    const { rights: set } = await access.setPerson(own.data, { rights, passphrase }, OWNER);
    process.stdout.write(`${own.data} may sign in: ${set.join(',')}\n`);
  } catch (error) {
    if (error instanceof AccessRefused) throw new UsageError(error.message);
    throw error;
  }
}

/** Who changes it: whoever may run commands on the machine. */
export const OWNER = 'the machine’s owner';

function rightsOf(text: string | undefined): Right[] | undefined {
  if (text === undefined) return undefined;
  const parsed = rightsSchema.safeParse(text.split(',').map((right) => right.trim()));
  if (!parsed.success) throw new UsageError(`--rights wants some of ${RIGHTS.join(',')}, not ${text}`);
  return parsed.data;
}

async function askPassphrase(name: string): Promise<string> {
  const { ESTERWATCH_PASSPHRASE: given } = process.env;
  if (given !== undefined && given !== '') return given;
  if (!process.stdin.isTTY) return firstLine();
  const first = await asked(`Passphrase for ${name}: `);
  if ((await asked('Once more: ')) !== first) throw new UsageError('the two are not the same');
  return first;
}

async function firstLine(): Promise<string> {
  const lines = createInterface({ input: process.stdin });
  try {
    for await (const line of lines) return line;
  } finally {
    lines.close();
  }
  throw new UsageError('no passphrase: the first line of what comes in, or ESTERWATCH_PASSPHRASE');
}

/** Asks on the terminal, without showing what is typed. */
async function asked(question: string): Promise<string> {
  process.stderr.write(question);
  const nothing = new Writable({ write: (_chunk, _encoding, done) => done() });
  const lines = createInterface({ input: process.stdin, output: nothing, terminal: true });
  try {
    return await new Promise<string>((resolve, reject) => {
      lines.once('line', resolve);
      lines.once('SIGINT', () => reject(new UsageError('nothing was changed')));
      lines.once('close', () => reject(new UsageError('nothing was changed')));
    });
  } finally {
    lines.close();
    process.stderr.write('\n');
  }
}
