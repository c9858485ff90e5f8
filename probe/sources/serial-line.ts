import { execFile } from 'node:child_process';
import { closeSync, constants, openSync } from 'node:fs';
import { ReadStream } from 'node:tty';
import { promisify } from 'node:util';
import type { ProbeClock } from '../clock.ts';
import { SourceTrouble } from './source.ts';
import { because } from './sysfs.ts';

const run = promisify(execFile);

/** A device that sends no line end would fill the memory, characters. */
const LONGEST_LINE = 4096;
/** A port that does not let itself be set is given up, ms. */
const SET_WITHIN_MS = 5000;

export interface Line {
  text: string;
  monotonicMs: number;
}

/**
 * The lines that come in on a serial port, handed to every source that reads it. It opens itself at a look, and again at
 * the next one after the device was pulled out.
 */
export class SerialLine {
  readonly #port: string;
  readonly #baud: number;
  readonly #clock: ProbeClock;
  #stream: ReadStream | null = null;
  #opening: Promise<void> | null = null;
  readonly #readers: ((line: Line) => void)[] = [];
  /** The line that is coming in. */
  #rest = '';
  /** Whether its beginning was seen: of one that was under way when the port was opened, 54.2 may be left as 4.2. */
  #isWhole = false;
  #isClosed = false;

  /** @param baud bits a second, as `stty` takes it */
  constructor(port: string, baud: number, clock: ProbeClock) {
    this.#port = port;
    this.#baud = baud;
    this.#clock = clock;
  }

  /** Calls with each whole line that is not empty. */
  onLine(reader: (line: Line) => void): void {
    this.#readers.push(reader);
  }

  /** Resolves while the port is open; opens it where it is not. @throws SourceTrouble */
  async opened(): Promise<void> {
    if (this.#stream !== null) return;
    this.#opening ??= this.#open().finally(() => {
      this.#opening = null;
    });
    await this.#opening;
  }

  close(): void {
    this.#isClosed = true;
    this.#drop();
  }

  async #open(): Promise<void> {
    await this.#set();
    let handle: number;
    try {
      // Without O_NONBLOCK it would wait for a carrier; without O_NOCTTY the port could end the process.
      handle = openSync(this.#port, constants.O_RDONLY | constants.O_NOCTTY | constants.O_NONBLOCK);
    } catch (error) {
      throw new SourceTrouble(because(this.#port, error as NodeJS.ErrnoException));
    }
    if (this.#isClosed) return closeSync(handle);
    const stream = new ReadStream(handle);
    this.#stream = stream;
    stream.setEncoding('latin1');
    stream.on('data', (chunk: string) => this.#take(chunk));
    // Pulled out: EIO, or an end.
    for (const event of ['error', 'end', 'close'] as const)
      stream.on(event, () => {
        if (this.#stream === stream) this.#drop();
      });
  }

  /** Speed and rawness, by `stty` of coreutils: Node.js has no call for it. */
  async #set(): Promise<void> {
    const speed = [String(this.#baud), 'raw', '-echo', 'clocal', '-hupcl'];
    try {
      await run('stty', ['-F', this.#port, ...speed], { timeout: SET_WITHIN_MS });
    } catch (error) {
      const { stderr, code } = error as { stderr?: string; code?: unknown };
      if (code === 'ENOENT')
        throw new SourceTrouble('stty is not there, which sets the port: install coreutils');
      const said = stderr?.trim().split('\n')[0] ?? '';
      if (/No such file|No such device/.test(said))
        throw new SourceTrouble(because(this.#port, { code: 'ENOENT', message: said, name: '' }));
      if (/Permission denied/.test(said))
        throw new SourceTrouble(because(this.#port, { code: 'EACCES', message: said, name: '' }));
      throw new SourceTrouble(
        `${this.#port} cannot be set to ${this.#baud} baud (${said || 'no answer'}): look whether it is a serial port, and a speed that it has`,
      );
    }
  }

  #take(chunk: string): void {
    const lines = (this.#rest + chunk).split(/\r\n|\n|\r/);
    this.#rest = lines.pop()!;
    if (!this.#isWhole && lines.length > 0) {
      lines.shift();
      this.#isWhole = true;
    }
    if (this.#rest.length > LONGEST_LINE) {
      this.#rest = '';
      this.#isWhole = false;
    }
    const monotonicMs = this.#clock.monotonicMs();
    for (const line of lines) {
      const text = line.trim();
      if (text !== '') for (const reader of this.#readers) reader({ text, monotonicMs });
    }
  }

  #drop(): void {
    const stream = this.#stream;
    this.#stream = null;
    this.#rest = '';
    this.#isWhole = false;
    stream?.destroy();
  }
}
