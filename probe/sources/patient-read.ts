import { type ChildProcess, execFile } from 'node:child_process';
import { readFile } from 'node:fs/promises';

/** A read that takes longer is given up, ms: a 1-Wire thermometer takes 750 ms, and may wait for three others. */
export const ANSWER_WITHIN_MS = 5000;
/** Reads of one kind under way at once. Node.js has four threads for files: two are left for what is kept. */
const AT_ONCE = 2;
/** What `cat` says in the C locale (strerror(3)), and its code. */
const CODES: readonly (readonly [string, string])[] = [
  ['No such file or directory', 'ENOENT'],
  ['No such device or address', 'ENXIO'],
  ['No such device', 'ENODEV'],
  ['Permission denied', 'EACCES'],
  ['Operation not permitted', 'EPERM'],
  ['Input/output error', 'EIO'],
  ['Connection timed out', 'ETIMEDOUT'],
  ['Resource temporarily unavailable', 'EAGAIN'],
  ['Is a directory', 'EISDIR'],
];

/** The code of the error of a read that was given up. */
export const LATE = 'LATE';

/** So many at once, the others behind them in their order. */
class Lane {
  #free = AT_ONCE;
  #stuck = 0;
  #waiting: ((mayGo: boolean) => void)[] = [];

  /** Resolves when it is one's turn; with false where no turn will come, since all that are on it hang. */
  enter(): Promise<boolean> {
    if (this.#stuck === AT_ONCE) return Promise.resolve(false);
    if (this.#free > 0) {
      this.#free--;
      return Promise.resolve(true);
    }
    return new Promise((resolve) => this.#waiting.push(resolve));
  }

  leave(): void {
    const next = this.#waiting.shift();
    if (next === undefined) this.#free++;
    else next(true);
  }

  /** One that is on it hangs. Returns what to call when it is over, which is its leaving, too. */
  getStuck(): () => void {
    if (++this.#stuck === AT_ONCE) this.sendAway();
    return () => {
      this.#stuck--;
      this.leave();
    };
  }

  /** Those that wait are not to go. */
  sendAway(): void {
    for (const sent of this.#waiting.splice(0)) sent(false);
  }
}

const threads = new Lane();
const firsts = new Lane();
const lates = new Lane();
/** Files that answered when they were last read. */
const answered = new Set<string>();
/** Files that did not. */
const late = new Set<string>();
/** Those of them whose read has not come back yet. */
const hanging = new Set<string>();
const children = new Set<ChildProcess>();

const failure = (code: string, message: string): NodeJS.ErrnoException =>
  Object.assign(new Error(message), { code });

/**
 * The text of a file whose driver may hang. A read in this process cannot be ended, and each takes one of the few
 * threads for files, and keeps the process from ending. So a file is read here only where it has answered before, two
 * at once; else, and where two of these hang, a `cat` reads it, which can be ended. Files that hung before have two of
 * those for themselves, so that nothing waits for them.
 * @throws a system error; one with code `LATE` after 5 s, and at once while the read before still hangs
 */
export async function readPatiently(file: string): Promise<string> {
  if (hanging.has(file)) throw failure(LATE, 'it hangs');
  try {
    const text =
      answered.has(file) && (await threads.enter())
        ? await inThread(file)
        : await inChild(file, late.has(file) ? lates : firsts);
    tellAnswered(file);
    return text;
  } catch (error) {
    // That it is not there is an answer, too.
    if ((error as NodeJS.ErrnoException).code !== LATE) tellAnswered(file);
    throw error;
  }
}

/** Ends the reads that can be ended, and those that wait for their turn: at a stop nobody wants them any more. */
export function endReads(): void {
  firsts.sendAway();
  lates.sendAway();
  for (const child of children) child.kill('SIGKILL');
}

function tellAnswered(file: string): void {
  answered.add(file);
  late.delete(file);
}

function tellLate(file: string): NodeJS.ErrnoException {
  answered.delete(file);
  late.add(file);
  hanging.add(file);
  return failure(LATE, 'it does not answer');
}

/** To be called by who is on the lane of threads. */
function inThread(file: string): Promise<string> {
  let over = () => threads.leave();
  return new Promise((resolve, reject) => {
    const timer = setTimeout(() => {
      over = threads.getStuck();
      reject(tellLate(file));
    }, ANSWER_WITHIN_MS);
    readFile(file, 'utf8')
      .then(resolve, reject)
      .finally(() => {
        clearTimeout(timer);
        hanging.delete(file);
        over();
      });
  });
}

async function inChild(file: string, lane: Lane): Promise<string> {
  if (!(await lane.enter())) throw failure(LATE, 'it is not read any more');
  try {
    return await cat(file);
  } finally {
    lane.leave();
  }
}

function cat(file: string): Promise<string> {
  return new Promise((resolve, reject) => {
    const env = { ...process.env, LC_ALL: 'C' };
    const child = execFile('cat', ['--', file], { env }, (error, text, said) => {
      clearTimeout(timer);
      children.delete(child);
      hanging.delete(file);
      if (error === null) return resolve(text);
      // Without coreutils there is no better way than the thread.
      if (error.code === 'ENOENT') return readFile(file, 'utf8').then(resolve, reject);
      if (error.signal) return reject(failure(LATE, 'it does not answer'));
      const [, code] = CODES.find(([words]) => said.includes(words)) ?? ['', 'EIO'];
      reject(failure(code, said.trim() || error.message));
    });
    children.add(child);
    const timer = setTimeout(() => {
      reject(tellLate(file));
      child.kill('SIGKILL');
    }, ANSWER_WITHIN_MS);
  });
}
