import { mkdirSync, readdirSync, statSync } from 'node:fs';
import { type FileHandle, open, readFile, unlink } from 'node:fs/promises';
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

const NAME = /^(\d{10})\.kept$/;
const nameOf = (number: number): string => `${String(number).padStart(10, '0')}.kept`;

/** Some of the oldest readings kept, and how to let go of them once they are acknowledged. */
export interface Oldest {
  readings: Reading[];
  letGo(): Promise<void>;
}

interface Segment {
  number: number;
  bytes: number;
}

/**
 * Readings kept on the disk, oldest first: files that are only ever added to, a line a reading, each addition synced.
 * A start adds to a new file, since the last line of the old one may be torn; a line that cannot be read is passed
 * over. Where there is no room the oldest file goes, and where the disk takes nothing they wait in memory.
 */
export class Spool {
  readonly #folder: string;
  readonly #log: Log;
  readonly #bounds: SpoolBounds;
  readonly #segments: Segment[];
  #next: number;
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

  private constructor(folder: string, log: Log, bounds: SpoolBounds, segments: Segment[]) {
    this.#folder = folder;
    this.#log = log;
    this.#bounds = bounds;
    this.#segments = segments;
    this.#next = (segments.at(-1)?.number ?? 0) + 1;
  }

  /** @throws a system error where the folder cannot be made or read. */
  static open(folder: string, log: Log, bounds: SpoolBounds = DEFAULT_BOUNDS): Spool {
    mkdirSync(folder, { recursive: true, mode: 0o700 });
    const segments = readdirSync(folder)
      .flatMap((name) => NAME.exec(name)?.[1] ?? [])
      .map((digits) => ({
        number: Number(digits),
        bytes: statSync(join(folder, nameOf(Number(digits)))).size,
      }))
      .sort((a, b) => a.number - b.number);
    return new Spool(folder, log, bounds, segments);
  }

  get isEmpty(): boolean {
    return this.#segments.length + this.#waiting.length + this.#beingWritten.length === 0;
  }

  /** Readings dropped because there was no room, since the start. */
  get dropped(): number {
    return this.#dropped;
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
      const first = this.#segments[0];
      if (first === undefined) {
        // The disk took nothing: what waits goes out from memory.
        const readings = this.#waiting.slice(0, most);
        const gone = new Set(readings);
        const letGo = async () => {
          this.#waiting = this.#waiting.filter((one) => !gone.has(one));
        };
        return { readings, letGo };
      }
      const from = this.#letGoLines;
      const lines = (await this.#readFirst(first)).slice(from, from + most);
      const letGo = () =>
        this.#inTurn(async () => {
          // It was dropped meanwhile.
          if (this.#segments[0] !== first) return;
          this.#letGoLines = from + lines.length;
          if (this.#letGoLines === (await this.#readFirst(first)).length) await this.#removeFirst();
        });
      return { readings: lines.filter((one) => one !== null), letGo };
    });
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
    if (this.#open !== null && this.#open.segment.bytes < this.#bounds.segmentBytes) return this.#open;
    await this.#shut();
    const number = this.#next++;
    const handle = await open(join(this.#folder, nameOf(number)), 'ax', 0o600);
    const segment = { number, bytes: 0 };
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

  async #makeRoom(): Promise<void> {
    const bytes = () => this.#segments.reduce((sum, segment) => sum + segment.bytes, 0);
    while (bytes() > this.#bounds.mostBytes && this.#segments.length > 1) {
      const count = (await this.#readFirst(this.#segments[0]!)).length - this.#letGoLines;
      await this.#removeFirst();
      this.#tellDropped(count);
    }
  }

  #tellDropped(count: number): void {
    if (this.#dropped === 0)
      this.#log.warn('there is no room for more readings: the oldest ones are dropped from here on');
    this.#dropped += count;
  }

  /** Every line of the first segment, null for one that cannot be read. */
  async #readFirst({ number, bytes }: Segment): Promise<(Reading | null)[]> {
    if (this.#read?.number !== number || this.#read.bytes !== bytes) {
      const text = await readFile(join(this.#folder, nameOf(number)), 'utf8');
      const lines = text.split('\n');
      const torn = lines.pop()!;
      const readings = [...lines, ...(torn === '' ? [] : [torn])].map(readingIn);
      const unread = readings.filter((one) => one === null).length;
      if (unread > 0) this.#log.warn(`${unread} line(s) of ${nameOf(number)} are torn, and passed over`);
      this.#read = { number, bytes, readings };
    }
    return this.#read.readings;
  }

  async #removeFirst(): Promise<void> {
    const segment = this.#segments[0]!;
    if (this.#open?.segment === segment) await this.#shut();
    this.#segments.shift();
    this.#letGoLines = 0;
    this.#read = null;
    // One that stays comes again at the next start, and a daemon knows what it has.
    await unlink(join(this.#folder, nameOf(segment.number))).catch((error: Error) => this.#tellOfDisk(error));
  }

  #tellOfDisk({ message }: Error): void {
    if (this.#toldOfDisk === message) return;
    this.#toldOfDisk = message;
    this.#log.warn(`${this.#folder}: ${message}; look at the disk`);
  }
}

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
