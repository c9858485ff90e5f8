import { type MessagePort, parentPort, workerData } from 'node:worker_threads';
import { openReadable, openWritable } from './sqlite/database.ts';
import { SqliteReader } from './sqlite/reader.ts';
import { SqliteWriter } from './sqlite/writer.ts';
import { StoreError } from './store.ts';
import { OPENING_ID, type ThreadAnswer, type ThreadCall, type ThreadData } from './thread.ts';

/** The entry of both threads of a store: opens its part of it, then answers calls one after another. */
function serve(port: MessagePort, { role, dir }: ThreadData): void {
  const answer = (id: number, run: () => unknown): void => {
    let message: ThreadAnswer;
    try {
      message = { id, value: run() };
    } catch (error) {
      message = {
        id,
        error: {
          code: error instanceof StoreError ? error.code : null,
          message: error instanceof Error ? error.message : String(error),
        },
      };
    }
    port.postMessage(message);
  };

  let core: SqliteReader | SqliteWriter | undefined;
  answer(OPENING_ID, () => {
    core = role === 'writer' ? new SqliteWriter(openWritable(dir)) : new SqliteReader(openReadable(dir));
  });
  if (!core) return; // without a listener on the port the thread ends
  const methods = core as unknown as Record<string, (...args: readonly unknown[]) => unknown>;
  port.on('message', ({ id, method, args }: ThreadCall) => {
    answer(id, () => methods[method]!(...args));
    if (method === 'close') port.close();
  });
}

serve(parentPort!, workerData as ThreadData);
