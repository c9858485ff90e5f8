import { MessageChannel } from 'node:worker_threads';
import { answerCalls } from '../../daemon/store/answering.ts';
import { openStore } from '../../daemon/store/open.ts';
import type { Store } from '../../daemon/store/store.ts';
import type { Started, ThreadData } from '../../daemon/store/thread.ts';

/**
 * A store that does its work in this thread: for tests of what lies above it, which open hundreds, since two threads
 * take most of what the start of a daemon takes. What is called and answered still goes through ports, as between
 * threads; the threads themselves are for `test/daemon/store/` and `test/real/`.
 */
export const openStoreHere = (data: string): Promise<Store> => openStore(data, startHere);

function startHere(data: ThreadData): Started {
  const { port1, port2 } = new MessageChannel();
  void answerCalls(port2, data);
  return {
    // biome-ignore lint/suspicious/noExplicitAny: each event has its own
    on: (event: string, listener: (what: any) => void) =>
      port1.on(event === 'exit' ? 'close' : event, listener),
    postMessage: (call) => port1.postMessage(call),
  };
}
