#!/usr/bin/env node
import { demo } from './commands/demo.ts';
import { replay } from './commands/replay.ts';
import { serve } from './commands/serve.ts';
import { simulate } from './commands/simulate.ts';
import { UsageError } from './commands/usage.ts';
import { StoreError } from './store/store.ts';

/** A verb: its one line of help, and what it does with the arguments after it. */
const VERBS: Record<string, { does: string; run: (args: string[]) => Promise<void> }> = {
  serve: { does: 'watches: broker, store, rules and page in one process', run: serve },
  demo: { does: 'the same on a throw-away store, with a simulated batch under way', run: demo },
  simulate: { does: 'publishes a simulated batch to a broker, as devices would', run: simulate },
  replay: { does: 'reads a recorded run (NDJSON) and prints what the rules say', run: replay },
};

const HELP = `esterwatch watches small biodiesel batches and warns. It switches nothing and is no safety interlock.

Use: esterwatch VERB [options]        esterwatch VERB --help

${Object.entries(VERBS)
  .map(([verb, { does }]) => `  ${verb.padEnd(10)} ${does}`)
  .join('\n')}
`;

async function main([verb, ...args]: string[]): Promise<void> {
  if (verb === undefined || verb === '--help' || verb === '-h' || verb === 'help') {
    process.stdout.write(HELP);
    return;
  }
  if (!Object.hasOwn(VERBS, verb)) {
    throw new UsageError(`unknown verb ${verb}; there are ${Object.keys(VERBS).join(', ')}`);
  }
  await VERBS[verb]!.run(args);
}

main(process.argv.slice(2)).catch((error: unknown) => {
  const usage = error instanceof UsageError || error instanceof StoreError || isSystemError(error);
  const message =
    error instanceof Error ? (usage ? error.message : (error.stack ?? error.message)) : String(error);
  process.stderr.write(`esterwatch: ${usage ? message.split('\n')[0] : message}\n`);
  process.exit(usage ? 2 : 1);
});

/** A port in use, a name that does not resolve: the machine's word, not a mistake of ours. */
function isSystemError(error: unknown): boolean {
  return error instanceof Error && 'syscall' in error;
}
