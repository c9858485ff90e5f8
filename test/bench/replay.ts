/**
 * How fast `replay` plays a day of six channels at one reading a second, beside a plain loop that only reads,
 * splits and parses the same lines, and how much memory it takes as the days grow. Of the compiled program, as
 * people run it: `npm run build` before. `--rounds N` for more or fewer.
 */
import { spawn } from 'node:child_process';
import { once } from 'node:events';
import { closeSync, createWriteStream, mkdtempSync, openSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { Readable } from 'node:stream';
import { text } from 'node:stream/consumers';
import { pipeline } from 'node:stream/promises';
import { fileURLToPath } from 'node:url';
import { parseArgs } from 'node:util';
import { daysOfBatches, READINGS_A_DAY } from './days.ts';

const MOST_WALL_S = 2;
const LEAST_SPEED = 0.25;
const MORE_DAYS = 3;

const path = (relative: string): string => fileURLToPath(new URL(relative, import.meta.url));
const REPLAY = [path('../../dist/daemon/main.js'), 'replay'];
const PLAIN_LOOP = [path('plain-loop.mjs')];

interface Run {
  wallS: number;
  cpuS: number;
  peakMB: number;
}

/** Runs a program on the lines of a file, start of node and all. */
async function runOn(file: string, program: readonly string[]): Promise<Run> {
  const stdin = openSync(file, 'r');
  const from = performance.now();
  const child = spawn(process.execPath, ['--import', path('usage.mjs'), ...program], {
    stdio: [stdin, 'ignore', 'inherit', 'pipe'],
  });
  const [usage, [exitCode]] = await Promise.all([text(child.stdio[3] as Readable), once(child, 'exit')]);
  const wallS = (performance.now() - from) / 1000;
  closeSync(stdin);
  if (exitCode !== 0) throw new Error(`${program.join(' ')} ended with ${exitCode}`);
  const { userCPUTime, systemCPUTime, maxRSS } = JSON.parse(usage) as NodeJS.ResourceUsage;
  return { wallS, cpuS: (userCPUTime + systemCPUTime) / 1e6, peakMB: maxRSS / 1024 };
}

const best = (values: readonly number[]): number => Math.min(...values);
const median = (values: readonly number[]): number => values.toSorted((a, b) => a - b)[values.length >> 1]!;

/** One row a figure; where it is a time, with the speed against the plain loop's. */
function row(what: string, figure: number, unit: string, loop: number | null, aim: string): string {
  const cells =
    loop === null ? ['', ''] : [`${loop.toFixed(2)} ${unit}, plain loop`, (loop / figure).toFixed(2)];
  return `| ${[what, `${figure.toFixed(unit === 'MB' ? 0 : 2)} ${unit}`, ...cells, aim].join(' | ')} |`;
}

const { values } = parseArgs({ options: { rounds: { type: 'string', default: '5' } } });
const dir = mkdtempSync(join(tmpdir(), 'esterwatch-bench-'));
try {
  const fileOf = async (days: number): Promise<string> => {
    const file = join(dir, `${days}.ndjson`);
    const lines = daysOfBatches(days);
    await pipeline(
      Readable.from(lines).map((line) => `${line}\n`),
      createWriteStream(file),
    );
    return file;
  };
  const day = await fileOf(1);
  const loops: Run[] = [];
  const replays: Run[] = [];
  // In turns, so that whatever else the machine does falls on both.
  for (let round = 0; round < Number(values.rounds); round++) {
    loops.push(await runOn(day, PLAIN_LOOP));
    replays.push(await runOn(day, REPLAY));
  }
  const longer = await runOn(await fileOf(MORE_DAYS), REPLAY);

  const aim = `ratio at least ${LEAST_SPEED}`;
  const times = (of: (run: Run) => number, pick: typeof best): [number, string, number] => [
    pick(replays.map(of)),
    's',
    pick(loops.map(of)),
  ];
  const wallS = ({ wallS }: Run): number => wallS;
  const cpuS = ({ cpuS }: Run): number => cpuS;
  const lines = [
    `${READINGS_A_DAY} readings, ${values.rounds} rounds, node ${process.version}`,
    '| what | figure | compared with | ratio | aim |',
    '| --- | --- | --- | --- | --- |',
    row('replay of a day, wall time, best', ...times(wallS, best), `under ${MOST_WALL_S} s, ${aim}`),
    row('replay of a day, wall time, median', ...times(wallS, median), `under ${MOST_WALL_S} s, ${aim}`),
    row('replay of a day, processor time, best', ...times(cpuS, best), aim),
    row('replay of a day, processor time, median', ...times(cpuS, median), aim),
    row(
      'replay of a day, memory at the most, median',
      median(replays.map(({ peakMB }) => peakMB)),
      'MB',
      null,
      '',
    ),
    row(
      `replay of ${MORE_DAYS} days, one batch a day, memory at the most`,
      longer.peakMB,
      'MB',
      null,
      'as for one day',
    ),
  ];
  process.stdout.write(`${lines.join('\n')}\n`);
} finally {
  rmSync(dir, { recursive: true });
}
