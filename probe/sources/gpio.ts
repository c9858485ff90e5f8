import { type ChildProcess, execFile, spawn } from 'node:child_process';
import { promisify } from 'node:util';
import type { ProbeClock } from '../clock.ts';
import { PulseRate } from './pulse-rate.ts';
import { type Source, SourceTrouble } from './source.ts';

const run = promisify(execFile);

export interface GpioPlace {
  /** `gpiochip0`. */
  chip: string;
  line: number;
  pulsesPerUnit: number;
}

const LINE_FEED = 0x0a;

/**
 * Rising edges of an input pin as so many a minute. Node.js cannot wait for an edge (the kernel's files for it want a
 * `poll` that it has no call for), and looking at the level again and again would miss some: `gpiomon` of libgpiod
 * waits, and prints a line an edge. Where the kernel counts by itself (`counter`), that is better.
 */
export function gpio({ chip, line, pulsesPerUnit }: GpioPlace, clock: ProbeClock): Source {
  let rate = new PulseRate(clock, pulsesPerUnit);
  let child: ChildProcess | null = null;
  let starting: Promise<void> | null = null;
  let count = 0;
  let last = '';
  let isClosed = false;

  const start = async () => {
    const args = argumentsFor(await majorVersion(), chip, line);
    if (isClosed) return;
    const started = spawn('gpiomon', args, { stdio: ['ignore', 'pipe', 'pipe'] });
    child = started;
    count = 0;
    rate = new PulseRate(clock, pulsesPerUnit);
    started.stdout.on('data', (chunk: Buffer) => {
      for (const byte of chunk) if (byte === LINE_FEED) count++;
    });
    started.stderr.on('data', (chunk: Buffer) => {
      last = chunk.toString().trim().split('\n').at(-1)!;
    });
    const ended = () => {
      if (child === started) child = null;
    };
    started.once('error', ended).once('close', ended);
  };

  return {
    place: `gpio ${chip} ${line}`,
    unit: 'a minute',
    read: async () => {
      if (child !== null) {
        last = '';
        return rate.look(count, undefined);
      }
      const why = last;
      last = '';
      starting ??= start().finally(() => {
        starting = null;
      });
      await starting;
      if (why !== '')
        throw new SourceTrouble(
          `gpiomon for ${chip} ${line} ended (${why}): look whether the line is there, nothing else has it, and this user may read /dev/${chip}`,
          'gpiomon-ended',
        );
      return null;
    },
    close: () => {
      isClosed = true;
      child?.kill();
    },
  };
}

async function majorVersion(): Promise<number> {
  try {
    const { stdout } = await run('gpiomon', ['--version'], { timeout: 5000 });
    return Number(/v(\d+)\./.exec(stdout)?.[1] ?? 2);
  } catch (error) {
    if ((error as NodeJS.ErrnoException).code === 'ENOENT')
      throw new SourceTrouble(
        'gpiomon is not there, which waits for pulses: install it (Debian: apt install gpiod)',
      );
    throw new SourceTrouble(`gpiomon does not work: ${(error as Error).message.split('\n')[0]}`);
  }
}

/** Hall and pulse outputs are open collectors mostly, so the pin's own pull-up is asked for. */
const argumentsFor = (major: number, chip: string, line: number): string[] =>
  major < 2
    ? ['--line-buffered', '--rising-edge', '--bias=pull-up', '--format=%o', chip, String(line)]
    : ['--chip', chip, '--edges', 'rising', '--bias', 'pull-up', '--format', '%o', String(line)];
