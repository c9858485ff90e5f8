import { useSignal, useSignalEffect } from '@preact/signals';
import { useEffect, useRef } from 'preact/hooks';
import { testWarning } from '../../store.ts';
import { by, useAction } from '../../views/form.tsx';
import { sendTestWarning } from './calls.ts';

/** A live link that carries brings a warning back sooner than this, ms. */
const PATIENCE_MS = 8000;

/** Another page may send one at the same time, by the same name: each knows its own by a mark of chance. */
const newMark = (): string =>
  Array.from(crypto.getRandomValues(new Uint32Array(4)), (part) => part.toString(36)).join('-');

/** Sends a test warning, and sees whether it comes back over the live link. */
export function useTestWarning(): {
  state: 'unsent' | 'waiting' | 'arrived' | 'lost';
  /** When the one that was sent here was sent, by the daemon's clock; undefined before it came. */
  arrivedAt: string | undefined;
  tookMs: number;
  action: ReturnType<typeof useAction>;
  send: (site: string) => Promise<void>;
} {
  const state = useSignal<'unsent' | 'waiting' | 'arrived' | 'lost'>('unsent');
  const tookMs = useSignal(0);
  const arrivedAt = useSignal<string | undefined>(undefined);
  const sentAt = useRef(0);
  const mark = useRef<string | undefined>(undefined);
  const action = useAction();
  // At every warning at once: two may come before the page is drawn again.
  useSignalEffect(() => {
    const arrived = testWarning.value;
    if (arrived?.mark === undefined || arrived.mark !== mark.current) return;
    tookMs.value = performance.now() - sentAt.current;
    arrivedAt.value = arrived.at;
    state.value = 'arrived';
    mark.current = undefined;
  });
  useEffect(() => {
    if (state.value !== 'waiting') return;
    const timer = setTimeout(() => {
      state.value = 'lost';
    }, PATIENCE_MS);
    return () => clearTimeout(timer);
  }, [state.value]);
  return {
    state: state.value,
    arrivedAt: arrivedAt.value,
    tookMs: tookMs.value,
    action,
    send: async (site) => {
      if (state.peek() === 'waiting') return;
      const mine = newMark();
      mark.current = mine;
      sentAt.current = performance.now();
      state.value = 'waiting';
      const taken = await action.run(() => sendTestWarning(site, { ...by(), mark: mine }));
      if (!taken && mark.current === mine) {
        mark.current = undefined;
        state.value = 'unsent';
      }
    },
  };
}
