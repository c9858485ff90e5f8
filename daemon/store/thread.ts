import { Worker } from 'node:worker_threads';
import { keepHeapSmallAgain } from '../small-heap.ts';
import { StoreError } from './store.ts';

/** `copier` and `records` do what takes long (a copy, the record of a batch) beside the other two. */
export type StoreRole = 'writer' | 'reader' | 'copier' | 'records';

/** What a thread is started with. */
export interface ThreadData {
  role: StoreRole;
  dir: string;
}

/** A call of a method of what lives in the thread. */
export interface ThreadCall {
  id: number;
  method: string;
  args: readonly unknown[];
}

/** An answer: plain data, since an error loses its class and its code on the way. */
export type ThreadAnswer = { id: number } & (
  | { value: unknown }
  | { error: { code: StoreError['code'] | null; message: string } }
);

/** The id under which a thread says that it is open, or why it cannot be. */
export const OPENING_ID = 0;

type Methods<Core> = { [Name in keyof Core]: (...args: never[]) => unknown };

interface Waiting {
  // biome-ignore lint/suspicious/noExplicitAny: each call has its own type of answer
  resolve: (value: any) => void;
  reject: (error: Error) => void;
}

/** What is used of a thread: tests that are about something else have its work done where they are. */
export interface Started {
  on(event: 'message', listener: (answer: ThreadAnswer) => void): unknown;
  on(event: 'error', listener: (error: Error) => void): unknown;
  on(event: 'exit', listener: () => void): unknown;
  postMessage(call: ThreadCall): void;
}

function startThread(data: ThreadData): Started {
  // Where this file runs from source (in tests), its thread is the built one: Node 20 loads no TypeScript.
  const entry = import.meta.url.endsWith('.ts') ? '../../dist/daemon/worker.js' : './worker.js';
  return new Worker(new URL(entry, import.meta.url), { workerData: data });
}

/** A thread with an object of class `Core` in it, whose methods can be called from here. */
export class StoreThread<Core extends Methods<Core>> {
  readonly #worker: Started;
  readonly #waiting = new Map<number, Waiting>();
  readonly #exited: Promise<void>;
  /** Resolves with the reason where the thread ends without having been closed. */
  readonly died: Promise<StoreError>;
  #nextId = OPENING_ID + 1;
  #closing = false;
  #ended: StoreError | undefined;

  private constructor(data: ThreadData, start: (data: ThreadData) => Started) {
    this.#worker = start(data);
    this.#worker.on('message', (answer) => this.#onAnswer(answer));
    this.#worker.on('error', (error) => this.#end(`the store's ${data.role} failed: ${error.message}`));
    let isClosed = () => {};
    this.#exited = new Promise((resolve) => {
      isClosed = resolve;
    });
    this.died = new Promise((resolve) => {
      this.#worker.on('exit', () => {
        const asked = this.#closing;
        this.#end('the store is closed');
        if (!asked) resolve(this.#ended!);
        isClosed();
      });
    });
  }

  /** Starts a thread; rejects with the `StoreError` for which it cannot open the store. */
  static async start<Core extends Methods<Core>>(
    data: ThreadData,
    start: (data: ThreadData) => Started = startThread,
  ): Promise<StoreThread<Core>> {
    const thread = new StoreThread<Core>(data, start);
    await new Promise((resolve, reject) => {
      thread.#waiting.set(OPENING_ID, { resolve, reject });
    });
    keepHeapSmallAgain();
    return thread;
  }

  call<Name extends keyof Core & string>(
    method: Name,
    ...args: Parameters<Core[Name]>
  ): Promise<Awaited<ReturnType<Core[Name]>>> {
    return new Promise((resolve, reject) => {
      if (this.#ended) throw this.#ended;
      this.#waiting.set(this.#send(method, args), { resolve, reject });
    });
  }

  /**
   * Refuses calls from now on, lets those before come to their end, waits for `after`, and ends the thread.
   */
  async close(after?: Promise<void>): Promise<void> {
    this.#closing = true;
    this.#ended ??= new StoreError('store-closed', 'the store is closed');
    await after;
    this.#send('close', []);
    await this.#exited;
  }

  /** Sends a call and gives its id; a thread that has ended takes no notice. */
  #send(method: string, args: readonly unknown[]): number {
    const id = this.#nextId++;
    this.#worker.postMessage({ id, method, args } satisfies ThreadCall);
    return id;
  }

  #onAnswer(answer: ThreadAnswer): void {
    const waiting = this.#waiting.get(answer.id);
    this.#waiting.delete(answer.id);
    if ('value' in answer) waiting?.resolve(answer.value);
    else {
      const { code, message } = answer.error;
      waiting?.reject(code ? new StoreError(code, message) : new Error(message));
    }
  }

  /** Nothing that waits will be answered any more. */
  #end(message: string): void {
    this.#ended ??= new StoreError('store-closed', message);
    for (const { reject } of this.#waiting.values()) reject(this.#ended);
    this.#waiting.clear();
  }
}
