/**
 * All that is said of speed, in one table: each bench a fresh process, one after the other, best on a machine that does
 * nothing else. `npm run bench`, after `npm run build`; a quarter of an hour and more. With parts' names only those.
 */
import { spawn } from 'node:child_process';
import { once } from 'node:events';
import { cpus, loadavg } from 'node:os';
import { createInterface } from 'node:readline';
import { setTimeout as wait } from 'node:timers/promises';
import { fileURLToPath } from 'node:url';
import { HEAD, printHead, tableLine } from './table.ts';

const PARTS: Record<string, readonly string[]> = {
  throughput: ['load.ts', 'throughput'],
  outside: ['load.ts', 'outside'],
  idle: ['load.ts', 'idle'],
  alarms: ['load.ts', 'alarms'],
  broadcast: ['load.ts', 'broadcast'],
  usual: ['load.ts', 'usual'],
  growth: ['load.ts', 'growth'],
  memory: ['memory.ts'],
  api: ['api.ts'],
  replay: ['replay.ts'],
  size: ['store-size.ts', '10'],
  year: ['store-year.ts'],
};
/** What a bench leaves behind (a file system that still writes, say) is not to be the next one's, ms. */
const REST_MS = 5000;

async function rowsOf([file, ...args]: readonly string[]): Promise<string[][]> {
  const path = fileURLToPath(new URL(file!, import.meta.url));
  const child = spawn(process.execPath, ['--import', 'tsx', path, ...args], {
    stdio: ['ignore', 'pipe', 'inherit'],
  });
  const ended = once(child, 'exit') as Promise<[number | null]>;
  const rows: string[][] = [];
  for await (const line of createInterface({ input: child.stdout })) {
    process.stderr.write(`${line}\n`);
    if (!line.startsWith('| ') || line.startsWith('| ---') || line.startsWith('| what')) continue;
    const cells = line.slice(2, -2).split(' | ');
    rows.push(HEAD.map((_, i) => cells[i] ?? ''));
  }
  const [code] = await ended;
  if (code !== 0) throw new Error(`${file} ended with ${code}`);
  return rows;
}

const load = (): string =>
  loadavg()
    .map((one) => one.toFixed(1))
    .join(', ');
const wanted = process.argv.slice(2);
const before = load();
const rows: string[][] = [];
for (const [name, part] of Object.entries(PARTS)) {
  if (wanted.length > 0 && !wanted.includes(name)) continue;
  rows.push(...(await rowsOf(part)));
  await wait(REST_MS);
}
const [cpu] = cpus();
process.stdout.write(
  `\n${cpus().length} × ${cpu!.model}, node ${process.version}; load before ${before}, after ${load()}\n\n`,
);
printHead();
for (const row of rows) process.stdout.write(tableLine(row));
