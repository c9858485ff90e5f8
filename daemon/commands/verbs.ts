import { StoreError } from '../store/store.ts';
import { UsageError } from './usage.ts';

/** A verb: its one line of help, and what it does with the arguments after it. */
interface Verb {
  does: string;
  run: (args: string[]) => Promise<void>;
}

/** Each verb's code is loaded when it is asked for: `plan` needs no broker and no database. */
const VERBS: Record<string, Verb> = {
  serve: {
    does: 'watches: broker, store, rules and page in one process',
    run: async (args) => (await import('./serve.ts')).serve(args),
  },
  unit: {
    does: 'prints a systemd unit that runs the daemon for years',
    run: async (args) => (await import('./unit.ts')).unit(args),
  },
  guard: {
    does: 'on a second machine: tells somebody when a daemon is gone',
    run: async (args) => (await import('./guard.ts')).guard(args),
  },
  demo: {
    does: 'the same on a throw-away store, with a simulated batch under way',
    run: async (args) => (await import('./demo.ts')).demo(args),
  },
  simulate: {
    does: 'publishes a simulated batch to a broker, as devices would',
    run: async (args) => (await import('./simulate.ts')).simulate(args),
  },
  probe: {
    does: "makes this machine's own sensors a device that publishes",
    run: async (args) => (await import('./probe.ts')).probe(args),
  },
  plan: {
    does: 'computes a batch: reads a plan request (JSON) and prints the plan',
    run: async (args) => (await import('./plan.ts')).plan(args),
  },
  replay: {
    does: 'reads a recorded run (NDJSON) and prints what the rules say',
    run: async (args) => (await import('./replay.ts')).replay(args),
  },
  verify: {
    does: 'checks that the whole history in a store is as it was written',
    run: async (args) => (await import('./verify.ts')).verify(args),
  },
  person: {
    does: 'says who may sign in: add NAME, list, remove NAME',
    run: async (args) => (await import('./person.ts')).person(args),
  },
  device: {
    does: 'says what may publish: add NAME, list, remove NAME',
    run: async (args) => (await import('./device.ts')).device(args),
  },
  forwarder: {
    does: 'says what other daemon may forward its sites: add NAME, list, remove NAME',
    run: async (args) => (await import('./forwarder.ts')).forwarder(args),
  },
  export: {
    does: 'writes a batch out of a store: its record, or every reading',
    run: async (args) => (await import('./export.ts')).exportBatch(args),
  },
  backup: {
    does: 'copies a store into a file, also while it is written',
    run: async (args) => (await import('./backup.ts')).backup(args),
  },
  restore: {
    does: 'puts such a copy back as a store',
    run: async (args) => (await import('./backup.ts')).restore(args),
  },
};

const HELP = `esterwatch watches small biodiesel batches and warns. It switches nothing and is no safety interlock.

Use: esterwatch VERB [options]        esterwatch VERB --help

${Object.entries(VERBS)
  .map(([verb, { does }]) => `  ${verb.padEnd(10)} ${does}`)
  .join('\n')}
`;

/**
 * Does what the arguments after the program's name ask for.
 * @throws what `endOf` says in a line.
 */
export async function runVerb([verb, ...args]: readonly string[]): Promise<void> {
  if (verb === undefined || verb === '--help' || verb === '-h' || verb === 'help') {
    process.stdout.write(HELP);
    return;
  }
  if (!Object.hasOwn(VERBS, verb)) {
    throw new UsageError(`unknown verb ${verb}; there are ${Object.keys(VERBS).join(', ')}`);
  }
  await VERBS[verb]!.run(args);
}

/** How the program ends with what a verb threw: what it says on stderr, and its exit code. */
export function endOf(error: unknown): { says: string; code: number } {
  const usage = error instanceof UsageError || error instanceof StoreError || isSystemError(error);
  const message =
    error instanceof Error ? (usage ? said(error) : (error.stack ?? error.message)) : String(error);
  return { says: `esterwatch: ${usage ? message.split('\n')[0] : message}\n`, code: usage ? 2 : 1 };
}

/** Where the machine's word says nothing of what to do, that too. */
function said(error: Error & { code?: string; address?: string; port?: number }): string {
  return error.code === 'EADDRINUSE'
    ? `${error.address}:${error.port} is taken, another daemon or broker listens there: end it, or take another (--http or --mqtt HOST:PORT)`
    : error.message;
}

/** A port in use, a name that does not resolve: the machine's word, not a mistake of ours. */
function isSystemError(error: unknown): boolean {
  return error instanceof Error && 'syscall' in error;
}
