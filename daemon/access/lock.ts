import { randomBytes } from 'node:crypto';
import {
  closeSync,
  linkSync,
  openSync,
  readFileSync,
  renameSync,
  rmSync,
  statSync,
  unlinkSync,
  writeSync,
} from 'node:fs';
import { uptime } from 'node:os';

/** It is looked at again after so long, ms. */
const STEP_MS = 10;
/** One that does not say whose it is, is written within this, ms; or whoever made it died over it. */
const UNSAID_MS = 10_000;

/** Another process has the lock. */
export class LockHeld extends Error {}

/**
 * Runs while no other process runs under the same lock, a file that says whose it is: `PID MARK`. One that a process
 * left behind when it died is removed. It holds up the whole process, so that `withinMs` must be short in a daemon.
 * @throws LockHeld where a living process has it for longer.
 */
export function alone(lock: string, withinMs: number, run: () => void): void {
  const own = `${process.pid} ${randomBytes(8).toString('hex')}`;
  for (let waitedMs = 0; !take(lock, own); waitedMs += STEP_MS) {
    const held = lookAt(lock);
    if (held === null) continue;
    if (isLeft(held)) remove(lock, held);
    else if (waitedMs >= withinMs) throw new LockHeld(`${lock} is held by process ${held.text || 'unknown'}`);
    else Atomics.wait(new Int32Array(new SharedArrayBuffer(4)), 0, 0, STEP_MS);
  }
  try {
    run();
  } finally {
    if (lookAt(lock)?.text === own) rmSync(lock, { force: true });
  }
}

function take(lock: string, own: string): boolean {
  let handle: number;
  try {
    // Anybody may read it: root's is looked at by a daemon that is not.
    handle = openSync(lock, 'wx', 0o644);
  } catch (error) {
    if ((error as NodeJS.ErrnoException).code === 'EEXIST') return false;
    throw error;
  }
  try {
    writeSync(handle, own);
  } catch (error) {
    unlinkSync(lock);
    throw error;
  } finally {
    closeSync(handle);
  }
  return true;
}

interface Held {
  /** Empty where it cannot be read, or is not written yet. */
  text: string;
  /** Another one of the same text has another. */
  stamp: string;
  madeMs: number;
}

/** Null where there is none any more. */
function lookAt(lock: string): Held | null {
  const stats = statSync(lock, { bigint: true, throwIfNoEntry: false });
  if (stats === undefined) return null;
  let text = '';
  try {
    text = readFileSync(lock, 'utf8');
  } catch (error) {
    if ((error as NodeJS.ErrnoException).code === 'ENOENT') return null;
  }
  return { text, stamp: `${stats.ino} ${stats.mtimeNs} ${text}`, madeMs: Number(stats.mtimeMs) };
}

/** Whether whoever made it has died. */
function isLeft({ text, madeMs }: Held): boolean {
  // By the machine's clock, which the times of files are of.
  const now = Date.now();
  const [, pid] = /^(\d+) /.exec(text) ?? [];
  if (pid === undefined) return now - madeMs > UNSAID_MS;
  // Numbers come again after a restart of the machine; and in a container this process may have had the same before:
  // nothing of its own is under way here.
  if (madeMs < now - 1000 * uptime() || Number(pid) === process.pid) return true;
  try {
    process.kill(Number(pid), 0);
    return false;
  } catch (error) {
    return (error as NodeJS.ErrnoException).code === 'ESRCH';
  }
}

/** Removes one that was left, but not one that somebody else has put in its place meanwhile. */
function remove(lock: string, left: Held): void {
  const aside = `${lock}.${randomBytes(6).toString('hex')}`;
  try {
    renameSync(lock, aside);
  } catch (error) {
    if ((error as NodeJS.ErrnoException).code === 'ENOENT') return;
    throw error;
  }
  try {
    if (lookAt(aside)?.stamp !== left.stamp) linkSync(aside, lock);
  } catch (error) {
    if ((error as NodeJS.ErrnoException).code !== 'EEXIST') throw error;
  } finally {
    rmSync(aside, { force: true });
  }
}
