import { once } from 'node:events';
import { createInterface } from 'node:readline';
import { Replay } from '../../shared/engine/replay.ts';
import { readOptions } from './options.ts';

const HELP = `esterwatch replay: reads a recorded run from stdin, one JSON object a line, and prints
what the rules say to it: alarms as they happen, refused lines, at the end a summary a vessel.

  --help
`;

/** Plays stdin through the rules, as fast as it can be read. */
export async function replay(args: string[]): Promise<void> {
  if (readOptions(args, {}, HELP) === null) return;
  process.stdout.on('error', (error: NodeJS.ErrnoException) => {
    // Whoever reads has seen enough (`| head`).
    if (error.code === 'EPIPE') process.exit(0);
    throw error;
  });
  const run = new Replay();
  const print = async (lines: object[]) => {
    if (lines.length === 0) return;
    const text = `${lines.map((line) => JSON.stringify(line)).join('\n')}\n`;
    if (!process.stdout.write(text)) await once(process.stdout, 'drain');
  };
  for await (const line of createInterface({ input: process.stdin, crlfDelay: Number.POSITIVE_INFINITY })) {
    await print(run.push(line));
  }
  await print(run.end());
}
