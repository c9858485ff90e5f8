import { type ChildProcess, spawn } from 'node:child_process';
import { once } from 'node:events';
import { join } from 'node:path';
import { Readable } from 'node:stream';
import { fileURLToPath } from 'node:url';
import { onTestFinished, vi } from 'vitest';
import { endOf, runVerb } from '../../daemon/commands/verbs.ts';

const ROOT = fileURLToPath(new URL('../../', import.meta.url));
const MAIN = join(ROOT, 'dist/daemon/main.js');

export interface Run {
  child: ChildProcess;
  out(): string;
  err(): string;
  ended: Promise<number | null>;
  /** Until what it writes on stderr matches. */
  says(wanted: RegExp): Promise<void>;
}

/** Starts a command in a folder; it is ended with the test at the latest. */
export function startCommand(folder: string, args: string[], input?: string): Run {
  const child = spawn(process.execPath, [MAIN, ...args], { cwd: folder });
  const texts = { out: '', err: '' };
  let look: () => void = () => {};
  child.stdout.on('data', (chunk) => {
    texts.out += chunk;
  });
  child.stderr.on('data', (chunk) => {
    texts.err += chunk;
    look();
  });
  // A command that has ended does not read on.
  child.stdin.on('error', () => {});
  child.stdin.end(input);
  const ended = once(child, 'close').then(([code]) => code as number | null);
  onTestFinished(() => {
    if (child.exitCode === null) child.kill('SIGKILL');
  });
  return {
    child,
    ended,
    out: () => texts.out,
    err: () => texts.err,
    says: (wanted) =>
      Promise.race([
        new Promise<void>((resolve) => {
          look = () => wanted.test(texts.err) && resolve();
          look();
        }),
        ended.then((code) => {
          if (!wanted.test(texts.err)) throw new Error(`ended with ${code}: ${texts.err}`);
        }),
      ]),
  };
}

export async function runCommand(
  folder: string,
  args: string[],
  input?: string,
): Promise<{ code: number | null; out: string; err: string }> {
  const { ended, out, err } = startCommand(folder, args, input);
  const code = await ended;
  return { code, out: out(), err: err() };
}

/**
 * A command from source, in this process: for what it refuses, or says of itself, before it begins, at a hundredth of
 * what a process costs. Not for one that goes on.
 */
export async function runHere(
  folder: string,
  args: string[],
  input: string | Buffer = '',
): Promise<{ code: number | null; out: string; err: string }> {
  let out = '';
  const writing = vi.spyOn(process.stdout, 'write').mockImplementation((text) => {
    out += text;
    return true;
  });
  const reading = vi
    .spyOn(process, 'stdin', 'get')
    .mockReturnValue(Readable.from([Buffer.from(input)]) as typeof process.stdin);
  const before = process.cwd();
  process.chdir(folder);
  try {
    await runVerb(args);
    return { code: 0, out, err: '' };
  } catch (error) {
    const { says, code } = endOf(error);
    return { code, out, err: says };
  } finally {
    process.chdir(before);
    reading.mockRestore();
    writing.mockRestore();
  }
}
