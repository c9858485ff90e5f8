#!/usr/bin/env node
import { endOf, runVerb } from './commands/verbs.ts';
import { keepHeapSmall } from './small-heap.ts';

process.stdout.on('error', (error: NodeJS.ErrnoException) => {
  // Whoever reads has seen enough (`| head`); a full disk is said in one line.
  if (error.code === 'EPIPE') process.exit(0);
  process.stderr.write(`esterwatch: ${error.message}\n`);
  process.exit(1);
});

const args = process.argv.slice(2);
// Before anything of it is loaded.
if (args[0] === 'serve') keepHeapSmall();
runVerb(args).catch((error: unknown) => {
  const { says, code } = endOf(error);
  process.stderr.write(says);
  process.exit(code);
});
