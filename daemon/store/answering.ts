import type { MessagePort } from 'node:worker_threads';
import { openReadable, openWritable } from './sqlite/database.ts';
import { SqliteReader } from './sqlite/reader.ts';
import { SqliteWriter } from './sqlite/writer.ts';
import { StoreError } from './store.ts';
import { OPENING_ID, type ThreadAnswer, type ThreadCall, type ThreadData } from './thread.ts';

const OPEN = {
  writer: (dir: string) => new SqliteWriter(openWritable(dir)),
  reader: (dir: string) => new SqliteReader(openReadable(dir)),
  // Loaded when asked for: it verifies, which needs much more.
  copier: async (dir: string) => new (await import('./sqlite/backup.ts')).StoreCopier(dir),
  // Loaded when asked for: it needs what draws pages.
  records: async (dir: string) => new (await import('../record/record-maker.ts')).RecordMaker(dir),
};

const codeOf = (error: unknown): string => String((error as { code?: unknown }).code);
/** Whether SQLite has found a page of its file that is none, or no JSON where it was written. */
const isDamage = (error: unknown): boolean =>
  /^SQLITE_(CORRUPT|NOTADB)/.test(codeOf(error)) ||
  (codeOf(error) === 'SQLITE_ERROR' && (error as Error).message === 'malformed JSON');
/** What is asked of the tables is always the same: what cannot be asked, they do not have any more. */
const hasOtherTables = (error: unknown): boolean => codeOf(error) === 'SQLITE_ERROR';

/** Opens a part of a store, then answers the calls that come in by a port, one after another. */
export async function answerCalls(port: MessagePort, { role, dir }: ThreadData): Promise<void> {
  // Bytes that have their memory to themselves are handed over, not copied.
  const send = (message: ThreadAnswer): void => {
    const value = 'value' in message ? message.value : undefined;
    const isAlone = value instanceof Uint8Array && value.byteLength === value.buffer.byteLength;
    port.postMessage(message, isAlone ? [value.buffer as ArrayBuffer] : []);
  };
  const fail = (id: number, error: unknown): void => {
    const code = error instanceof StoreError ? error.code : isDamage(error) ? 'store-changed' : null;
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

  let core: object;
  try {
    core = await OPEN[role](dir);
  } catch (error) {
    const isOther = hasOtherTables(error);
    const why = `${dir}: its tables are not those of its version (${(error as Error).message})`;
    fail(OPENING_ID, isOther ? new StoreError('store-changed', why) : error);
    port.close();
    return;
  }
  send({ id: OPENING_ID, value: undefined });
  const methods = core as unknown as Record<string, (...args: readonly unknown[]) => unknown>;
  port.on('message', ({ id, method, args }: ThreadCall) => {
    answer(id, () => methods[method]!(...args));
    if (method === 'close') port.close();
  });
}
