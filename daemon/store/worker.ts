import { type MessagePort, parentPort, workerData } from 'node:worker_threads';
import { StoreCopier } from './sqlite/backup.ts';
import { openReadable, openWritable } from './sqlite/database.ts';
import { SqliteReader } from './sqlite/reader.ts';
import { SqliteWriter } from './sqlite/writer.ts';
import { StoreError } from './store.ts';
import { OPENING_ID, type ThreadAnswer, type ThreadCall, type ThreadData } from './thread.ts';

const OPEN = {
  writer: (dir: string) => new SqliteWriter(openWritable(dir)),
  reader: (dir: string) => new SqliteReader(openReadable(dir)),
  copier: (dir: string) => new StoreCopier(dir),
};

/** The entry of a store's threads: opens its part of it, then answers calls one after another. */
function serve(port: MessagePort, { role, dir }: ThreadData): void {
  const send = (message: ThreadAnswer): void => port.postMessage(message);
  const fail = (id: number, error: unknown): void => {
    const code = error instanceof StoreError ? error.code : null;
    send({ id, error: { code, message: error instanceof Error ? error.message : String(error) } });
  };
  const answer = (id: number, run: () => unknown): void => {
    try {
      const value = run();
      if (value instanceof Promise) {
        value.then(
          (settled) => send({ id, value: settled }),
          (error) => fail(id, error),
        );
      } else send({ id, value });
    } catch (error) {
      fail(id, error);
    }
  };

  let core: SqliteReader | SqliteWriter | StoreCopier | undefined;
  answer(OPENING_ID, () => {
    core = OPEN[role](dir);
  });
  if (!core) return; // without a listener on the port the thread ends
  const methods = core as unknown as Record<string, (...args: readonly unknown[]) => unknown>;
  port.on('message', ({ id, method, args }: ThreadCall) => {
    answer(id, () => methods[method]!(...args));
    if (method === 'close') port.close();
  });
}

serve(parentPort!, workerData as ThreadData);
