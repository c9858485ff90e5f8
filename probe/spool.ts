import { mkdirSync, readdirSync, type Stats, statSync } from 'node:fs';
import { type FileHandle, open, readFile, rename, unlink } from 'node:fs/promises';
import { join } from 'node:path';
import { syncFolder } from './numbers.ts';
import type { Log, Reading } from './reading.ts';

export interface SpoolBounds {
  /** All that lies on the disk, bytes. */
  mostBytes: number;
  /** One file of it: what is let go of, and what is dropped where there is no room, at once. */
  segmentBytes: number;
  /** Readings that wait in memory while the disk takes nothing. */
  mostWaiting: number;
}

/**
 * A reading takes about 60 bytes, so that this holds a million: twelve days of one channel, two of six, once a second.
 * Without a bound a daemon that never comes back would fill the card.
 */
export const DEFAULT_BOUNDS: SpoolBounds = {
  mostBytes: 64 * 1024 * 1024,
  segmentBytes: 256 * 1024,
  mostWaiting: 20_000,
};

/** About what a reading takes on the disk, bytes: for files that nobody has counted. */
const BYTES_A_READING = 60;

const NAME = /^(\d{10})\.(kept|unreadable)$/;
const nameOf = (number: number, ending = 'kept'): string => `${String(number).padStart(10, '0')}.${ending}`;

/** The machine has too little of something for the moment, which says nothing of a file. */
const PASSING: ReadonlySet<string | undefined> = new Set(['EMFILE', 'ENFILE', 'ENOMEM', 'EAGAIN', 'EINTR']);

/** Some of the oldest readings kept, and how to let go of them once they are acknowledged. */
export interface Oldest {
  readings: Reading[];
  letGo(): Promise<void>;
}

/** Readings that nobody has acknowledged. */
export interface Unsent {
  /** On the disk; estimated by its size where a file of an earlier process is among it. */
  kept: number;
  isCounted: boolean;
  /** In memory alone, since the disk took nothing: lost with the process. */
  lost: number;
}

interface Segment {
  number: number;
  bytes: number;
  /** Readings in it: counted where this process wrote or read them, estimated in a file of an earlier one. */
  count: number;
  isCounted: boolean;
}

/**
 * Readings kept on the disk, oldest first: files that are only ever added to, a line a reading, each addition synced.
 * A start adds to a new file, since the last line of the old one may be torn; a line that cannot be read is passed
 * over. Where there is no room the oldest file goes, and where the disk takes nothing they wait in memory. A file that
 * cannot be read is set aside as `*.unreadable`, or left and skipped where not even that can be done, so that it stops
 * nothing behind it.
 */
export class Spool {
  readonly #folder: string;
  readonly #log: Log;
  readonly #bounds: SpoolBounds;
  readonly #segments: Segment[] = [];
  /** Set aside; they go first where there is no room. */
  readonly #unreadable: Segment[] = [];
  #next = 1;
  /** Open for adding: always the last one. */
  #open: { segment: Segment; handle: FileHandle } | null = null;
  /** Not on the disk yet. */
  #waiting: Reading[] = [];
  #beingWritten: readonly Reading[] = [];
  /** What is under way on the disk: one thing at a time, so that nothing is added to a file that goes. */
  #turn: Promise<unknown> = Promise.resolve();
  #isWriteTroubled = false;
  /** Lines of the first segment that are let go of. */
  #letGoLines = 0;
  /** The first segment as it was read, so that it is not read again for each part of it. */
  #read: { number: number; bytes: number; readings: (Reading | null)[] } | null = null;
  #dropped = 0;
  #toldOfDisk = '';

  private constructor(folder: string, log: Log, bounds: SpoolBounds) {
    this.#folder = folder;
    this.#log = log;
    this.#bounds = bounds;
  }

  /** @throws a system error where the folder cannot be made or read. */
  static open(folder: string, log: Log, bounds: SpoolBounds = DEFAULT_BOUNDS): Spool {
    mkdirSync(folder, { recursive: true, mode: 0o700 });
    const spool = new Spool(folder, log, bounds);
    for (const name of readdirSync(folder).sort()) spool.#find(name);
    return spool;
  }

  /** A file that an earlier process left. */
  #find(name: string): void {
    const [, digits, ending] = NAME.exec(name) ?? [];
    if (digits === undefined) return;
    const number = Number(digits);
    this.#next = Math.max(this.#next, number + 1);
    let found: Stats | undefined;
    try {
      found = statSync(join(this.#folder, name));
    } catch {
      // Found out again, and told, when it is to be read.
    }
    const bytes = found?.size ?? 0;
    const segment = { number, bytes, count: Math.round(bytes / BYTES_A_READING), isCounted: false };
    if (ending === 'unreadable') this.#unreadable.push(segment);
    // A named pipe would never be read to its end.
    else if (found !== undefined && !found.isFile())
      void this.#inTurn(() => this.#setAside(segment, 'it is no file'));
    else this.#segments.push(segment);
  }

  get isEmpty(): boolean {
    return this.#segments.length + this.#waiting.length + this.#beingWritten.length === 0;
  }

  /** Readings dropped because there was no room, since the start. */
  get dropped(): number {
    return this.#dropped;
  }

  get unsent(): Unsent {
    const inFiles = this.#segments.reduce((sum, { count }) => sum + count, 0);
    return {
      kept: Math.max(0, inFiles - this.#letGoLines),
      isCounted: this.#segments.every(({ isCounted }) => isCounted),
      lost: this.#waiting.length + this.#beingWritten.length,
    };
  }

  /** Takes readings in; they are on the disk when this resolves, unless the disk takes nothing. */
  keep(readings: readonly Reading[]): Promise<void> {
    this.#waiting.push(...readings);
    const tooMany = this.#waiting.length - this.#bounds.mostWaiting;
    if (tooMany > 0) {
      this.#waiting.splice(0, tooMany);
      this.#tellDropped(tooMany);
    }
    // What comes while a write is under way shares the next one.
    return this.#inTurn(() => this.#write());
  }

  /** At most so many of the oldest; none where nothing is kept. One caller at a time. */
  oldest(most: number): Promise<Oldest> {
    return this.#inTurn(async () => {
      for (let first = this.#segments[0]; first !== undefined; first = this.#segments[0]) {
        const all = await this.#readFirst(first);
        if (all !== null) return this.#partOf(first, all, most);
      }
      // The disk took nothing: what waits goes out from memory.
      const readings = this.#waiting.slice(0, most);
      const gone = new Set(readings);
      const letGo = async () => {
        this.#waiting = this.#waiting.filter((one) => !gone.has(one));
      };
      return { readings, letGo };
    });
  }

  #partOf(first: Segment, all: readonly (Reading | null)[], most: number): Oldest {
    const from = this.#letGoLines;
    const lines = all.slice(from, from + most);
    const letGo = () =>
      this.#inTurn(async () => {
        // It was dropped meanwhile.
        if (this.#segments[0] !== first) return;
        this.#letGoLines = from + lines.length;
        const now = await this.#readFirst(first);
        if (now?.length === this.#letGoLines) await this.#removeFirst();
      });
    return { readings: lines.filter((one) => one !== null), letGo };
  }

  async close(): Promise<void> {
    await this.#inTurn(() => this.#shut());
  }

  #inTurn<T>(work: () => Promise<T>): Promise<T> {
    const turn = this.#turn.then(work);
    this.#turn = turn.catch(() => {});
    return turn;
  }

  async #write(): Promise<void> {
    if (this.#waiting.length === 0) return;
    const readings = this.#waiting;
    this.#beingWritten = readings;
    this.#waiting = [];
    const text = Buffer.from(readings.map(lineOf).join(''));
    try {
      const { segment, handle } = await this.#toAddTo();
      await handle.appendFile(text);
      await handle.datasync();
      segment.bytes += text.length;
      segment.count += readings.length;
      if (this.#isWriteTroubled) this.#log.info('the disk takes readings again');
      this.#isWriteTroubled = false;
    } catch (error) {
      this.#waiting = [...readings, ...this.#waiting];
      await this.#undoAddition();
      if (!this.#isWriteTroubled)
        this.#log.warn(
          `readings cannot be kept in ${this.#folder} (${(error as Error).message}): they wait in memory, and are lost with the power; make room there, or make it writable`,
        );
      this.#isWriteTroubled = true;
    } finally {
      this.#beingWritten = [];
    }
    await this.#makeRoom().catch((error: Error) => this.#tellOfDisk(error));
  }

  async #toAddTo(): Promise<{ segment: Segment; handle: FileHandle }> {
    // Somebody may have removed it: what is added then is in no folder.
    if (this.#open !== null && (await this.#open.handle.stat()).nlink === 0)
      await this.#forget(this.#open.segment);
    if (this.#open !== null && this.#open.segment.bytes < this.#bounds.segmentBytes) return this.#open;
    await this.#shut();
    const number = this.#next++;
    const handle = await open(join(this.#folder, nameOf(number)), 'ax', 0o600);
    const segment = { number, bytes: 0, count: 0, isCounted: true };
    this.#open = { segment, handle };
    this.#segments.push(segment);
    syncFolder(this.#folder);
    return this.#open;
  }

  /**
   * Cuts off what a failed addition may have left, or puts that file aside where not even this can be done. Without it a
   * full disk would get another empty file at each try.
   */
  async #undoAddition(): Promise<void> {
    try {
      await this.#open?.handle.truncate(this.#open.segment.bytes);
    } catch {
      // What is there twice then, the daemon stores once.
      await this.#shut();
    }
  }

  async #shut(): Promise<void> {
    const { handle } = this.#open ?? {};
    this.#open = null;
    await handle?.close().catch(() => {});
  }

  /** Reads nothing: it has to do its work also where a disk gives nothing back. */
  async #makeRoom(): Promise<void> {
    const bytes = () => [...this.#unreadable, ...this.#segments].reduce((sum, one) => sum + one.bytes, 0);
    while (bytes() > this.#bounds.mostBytes && this.#unreadable.length > 0)
      await this.#remove(nameOf(this.#unreadable.shift()!.number, 'unreadable'));
    while (bytes() > this.#bounds.mostBytes && this.#segments.length > 1) {
      const count = Math.max(0, this.#segments[0]!.count - this.#letGoLines);
      await this.#removeFirst();
      this.#tellDropped(count);
    }
  }

  #tellDropped(count: number): void {
    if (this.#dropped === 0)
      this.#log.warn('there is no room for more readings: the oldest ones are dropped from here on');
    this.#dropped += count;
  }

  /**
   * Every line of the first segment, null for one that cannot be read; null for all of it where the file cannot be read:
   * it is the first no more.
   */
  async #readFirst(first: Segment): Promise<(Reading | null)[] | null> {
    const { number, bytes } = first;
    if (this.#read?.number === number && this.#read.bytes === bytes) return this.#read.readings;
    let text: string;
    try {
      text = await readFile(join(this.#folder, nameOf(number)), 'utf8');
    } catch (error) {
      const { code, message } = error as NodeJS.ErrnoException;
      if (PASSING.has(code)) throw error;
      if (code === 'ENOENT') await this.#forget(first);
      else await this.#setAside(first, message);
      return null;
    }
    const lines = text.split('\n');
    const torn = lines.pop()!;
    const readings = [...lines, ...(torn === '' ? [] : [torn])].map(readingIn);
    const unread = readings.filter((one) => one === null).length;
    if (unread > 0) this.#log.warn(`${unread} line(s) of ${nameOf(number)} are torn, and passed over`);
    this.#read = { number, bytes, readings };
    first.count = readings.length;
    first.isCounted = true;
    return readings;
  }

  async #removeFirst(): Promise<void> {
    const segment = this.#segments[0]!;
    await this.#takeOut(segment);
    await this.#remove(nameOf(segment.number));
  }

  /** One that stays comes again at the next start, and a daemon knows what it has. */
  async #remove(name: string): Promise<void> {
    await unlink(join(this.#folder, name)).catch((error: Error) => this.#tellOfDisk(error));
  }

  /** From here on it is neither read nor added to. */
  async #takeOut(segment: Segment): Promise<void> {
    if (this.#open?.segment === segment) await this.#shut();
    const at = this.#segments.indexOf(segment);
    if (at === -1) return;
    this.#segments.splice(at, 1);
    if (at > 0) return;
    this.#letGoLines = 0;
    this.#read = null;
  }

  /** It is not there any more. */
  async #forget(segment: Segment): Promise<void> {
    await this.#takeOut(segment);
    this.#log.warn(
      `${join(this.#folder, nameOf(segment.number))} is gone, with ${sizeOf(segment)}: nobody else may remove anything there`,
    );
  }

  async #setAside(segment: Segment, why: string): Promise<void> {
    await this.#takeOut(segment);
    const from = nameOf(segment.number);
    const to = nameOf(segment.number, 'unreadable');
    let where = `set aside as ${to}`;
    try {
      await rename(join(this.#folder, from), join(this.#folder, to));
      this.#unreadable.push(segment);
    } catch (error) {
      where = `left where it is until the next start (${(error as Error).message})`;
    }
    this.#log.warn(
      `${join(this.#folder, from)} cannot be read (${why}): ${sizeOf(segment)}, ${where}; the rest goes on; look at the disk, and at whose the file is`,
    );
  }

  #tellOfDisk({ message }: Error): void {
    if (this.#toldOfDisk === message) return;
    this.#toldOfDisk = message;
    this.#log.warn(`${this.#folder}: ${message}; look at the disk`);
  }
}

const sizeOf = ({ bytes, count }: Segment): string => `${bytes} bytes, about ${count} readings`;

const lineOf = ({ to, value, atMs, seq }: Reading): string => `${JSON.stringify([to, value, atMs, seq])}\n`;

/** A reading in a line; null for what a power cut left of one. */
function readingIn(line: string): Reading | null {
  let json: unknown;
  try {
    json = JSON.parse(line);
  } catch {
    return null;
  }
  if (!Array.isArray(json) || json.length !== 4) return null;
  const [to, value, atMs, seq] = json;
  const isOne = typeof to === 'string' && [value, atMs, seq].every((one) => typeof one === 'number');
  return isOne ? { to, value, atMs, seq } : null;
}
