import { Readable } from 'node:stream';
import type { BatchRecord, Paper, RecordFormat } from '../../shared/wire/record.ts';
import type { Clock, Timer } from '../clock.ts';
import { StoreThread } from '../store/thread.ts';
import type { RecordMaker } from './record-maker.ts';

/** So many are made at the same time: each has a thread of its own. */
const MOST_AT_ONCE = 2;
/** A client that takes nothing of its CSV or run for so long would keep one of them for ever, ms. */
const STALLED_MS = 30_000;

type PartCalls = ['beginCsv', 'nextCsv'] | ['beginRun', 'nextRun'];

/** Records of batches of a store, made without holding up the caller. */
export class Records {
  readonly #dir: string;
  readonly #clock: Clock;
  #underWay = 0;

  constructor(dir: string, clock: Clock) {
    this.#dir = dir;
    this.#clock = clock;
  }

  /** Whether another can be made now. */
  get hasRoom(): boolean {
    return this.#underWay < MOST_AT_ONCE;
  }

  /** Null where there is no such batch. Rejects with a `StoreError` where the store cannot be read. */
  async make(id: string, format: RecordFormat, paper: Paper, madeMs: number): Promise<Uint8Array | null> {
    const thread = await this.#start();
    try {
      return await thread.call('make', id, format, paper, madeMs);
    } finally {
      await this.#end(thread);
    }
  }

  /** Several as plain data, one after the other in one thread; null for each that is not there. */
  async figures(ids: readonly string[], madeMs: number): Promise<(BatchRecord | null)[]> {
    const thread = await this.#start();
    try {
      const made: (BatchRecord | null)[] = [];
      for (const id of ids) made.push(await thread.call('record', id, madeMs));
      return made;
    } finally {
      await this.#end(thread);
    }
  }

  /**
   * Every reading of a batch, part by part; nothing where there is no such batch. Fails where nothing is taken from
   * it for 30 s.
   */
  csv(id: string): Readable {
    return this.#inParts(id, 'beginCsv', 'nextCsv');
  }

  /** The recorded run of a batch as NDJSON, in the same way. */
  run(id: string): Readable {
    return this.#inParts(id, 'beginRun', 'nextRun');
  }

  #inParts(id: string, ...calls: PartCalls): Readable {
    let waiting: Timer | undefined;
    const parts = this.#parts(id, calls, (isWaiting) => {
      waiting?.cancel();
      waiting = isWaiting
        ? this.#clock.after(STALLED_MS, () => stream.destroy(new Error('nobody takes what is made')))
        : undefined;
    });
    const stream: Readable = Readable.from(parts, { objectMode: false });
    return stream;
  }

  /** `onWaiting` is told whether a part that is ready waits for its taker. */
  async *#parts(
    id: string,
    [begin, next]: PartCalls,
    onWaiting: (isWaiting: boolean) => void,
  ): AsyncGenerator<string> {
    const thread = await this.#start();
    try {
      if (!(await thread.call(begin, id))) return;
      for (;;) {
        const part = await thread.call(next);
        if (part === null) return;
        onWaiting(true);
        yield part;
        onWaiting(false);
      }
    } finally {
      onWaiting(false);
      await this.#end(thread);
    }
  }

  async #start(): Promise<StoreThread<RecordMaker>> {
    this.#underWay++;
    try {
      return await StoreThread.start<RecordMaker>({ role: 'records', dir: this.#dir });
    } catch (error) {
      this.#underWay--;
      throw error;
    }
  }

  async #end(thread: StoreThread<RecordMaker>): Promise<void> {
    await thread.close();
    this.#underWay--;
  }
}
