import { spawn } from 'node:child_process';
import { once } from 'node:events';
import { mkdirSync, mkdtempSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { setTimeout as wait } from 'node:timers/promises';
import { fileURLToPath } from 'node:url';
import pino from 'pino';
import { machineClock } from '../../daemon/clock.ts';
import { type Daemon, type DaemonOptions, startDaemon } from '../../daemon/daemon.ts';
import { endWithTests } from './children.ts';

const MAIN = fileURLToPath(new URL('../../dist/daemon/main.js', import.meta.url));
const OUTPUT = fileURLToPath(new URL('../../.test-output/', import.meta.url));
/** A loaded machine needs long to start Node.js and its workers, ms. */
const START_WITHIN_MS = 30_000;

export const LOOPBACK = '127.0.0.1';

/** A fresh folder for a store, with how to remove it. */
export function dataFolder(): { data: string; remove: () => void } {
  return freshFolder(tmpdir());
}

/** The same on the disk that the project lies on: a folder for temporary files may be memory only. */
export function dataFolderOnDisk(): { data: string; remove: () => void } {
  mkdirSync(OUTPUT, { recursive: true });
  return freshFolder(OUTPUT);
}

function freshFolder(parent: string): { data: string; remove: () => void } {
  const folder = mkdtempSync(join(parent, 'esterwatch-'));
  return { data: join(folder, 'data'), remove: () => rmSync(folder, { recursive: true, force: true }) };
}

/** The daemon in this process, on free ports, silent; with a broker of its own if none is given. */
export function startHere(options: Pick<DaemonOptions, 'data'> & Partial<DaemonOptions>): Promise<Daemon> {
  return startDaemon({
    http: { host: LOOPBACK, port: 0 },
    mqtt: { host: LOOPBACK, port: 0 },
    topics: [],
    clock: machineClock(),
    log: pino({ level: 'silent' }),
    ...options,
  });
}

export interface Served {
  pid: number;
  httpPort: number;
  /** Null with an outside broker. */
  mqttPort: number | null;
  /** Where it can be looked into; null where that was not asked for. */
  inspectUrl: string | null;
  kill(signal: NodeJS.Signals): void;
  /** Resolves when it has ended. */
  ended: Promise<Ending>;
}

export interface Ending {
  code: number | null;
  signal: NodeJS.Signals | null;
  stderr: string;
}

export interface ServeOptions {
  data: string;
  broker?: string | undefined;
  httpPort?: number;
  mqttPort?: number;
  /** A configuration file. */
  config?: string;
  /** A command that runs what follows it in its own place, such as a tracer. */
  under?: readonly string[];
  /** Another build's entry file. */
  main?: string;
  /** Whether it is to be looked into (`heldBy`). */
  inspected?: boolean;
}

/** `esterwatch serve` as built, a process of its own; resolves once it listens. */
export async function serve({
  data,
  broker,
  httpPort = 0,
  mqttPort = 0,
  config,
  under = [],
  main = MAIN,
  inspected = false,
}: ServeOptions): Promise<Served> {
  const mqtt = broker === undefined ? ['--mqtt', `${LOOPBACK}:${mqttPort}`] : ['--broker', broker];
  const args = ['serve', '--data', data, '--http', `${LOOPBACK}:${httpPort}`, ...mqtt];
  if (config !== undefined) args.push('--config', config);
  const inspect = inspected ? [`--inspect=${LOOPBACK}:0`] : [];
  const launched = launch([...under, process.execPath, ...inspect, main, ...args]);
  const ports: { http?: number; mqtt?: number } = {};
  let inspectUrl: string | null = null;
  const listening = new Promise<void>((resolve) => {
    launched.onLine = (line) => {
      inspectUrl ??= /^Debugger listening on (ws:\S+)$/.exec(line)?.[1] ?? null;
      const address = /(page|readings): \w+:\/\/[^:]+:(\d+)/.exec(line);
      if (address !== null) ports[address[1] === 'page' ? 'http' : 'mqtt'] = Number(address[2]);
      if (ports.http !== undefined && (broker !== undefined || ports.mqtt !== undefined)) resolve();
    };
  });
  const late = new AbortController();
  try {
    await Promise.race([
      listening,
      launched.ended.then(({ code, stderr }) => {
        throw new Error(`serve ended with ${code}: ${stderr}`);
      }),
      wait(START_WITHIN_MS, undefined, { signal: late.signal }).then(() => {
        launched.kill('SIGKILL');
        throw new Error('serve does not listen');
      }),
    ]);
  } finally {
    late.abort();
  }
  const { pid, kill, ended } = launched;
  return { pid, kill, ended, httpPort: ports.http!, mqttPort: ports.mqtt ?? null, inspectUrl };
}

/** Starts `esterwatch serve` as built and kills it after so many ms, however far it is then. */
export async function serveCutShort(data: string, afterMs: number): Promise<void> {
  const listen = `${LOOPBACK}:0`;
  const launched = launch([
    process.execPath,
    MAIN,
    'serve',
    '--data',
    data,
    '--http',
    listen,
    '--mqtt',
    listen,
  ]);
  await wait(afterMs);
  launched.kill('SIGKILL');
  await launched.ended;
}

/** `esterwatch` as built, with any arguments, until it ends. */
export const esterwatch = (args: readonly string[]): Promise<Ending> =>
  launch([process.execPath, MAIN, ...args]).ended;

function launch([program, ...args]: readonly string[]) {
  const child = endWithTests(spawn(program!, args, { stdio: ['ignore', 'ignore', 'pipe'] }));
  let stderr = '';
  let unfinished = '';
  const launched = {
    pid: child.pid!,
    onLine: (_line: string): void => {},
    kill: (signal: NodeJS.Signals): void => {
      child.kill(signal);
    },
    ended: once(child, 'close').then(([code, signal]): Ending => ({ code, signal, stderr })),
  };
  child.stderr.setEncoding('utf8').on('data', (text: string) => {
    stderr += text;
    const lines = (unfinished + text).split('\n');
    unfinished = lines.pop()!;
    for (const line of lines) launched.onLine(line);
  });
  return launched;
}
