import { useSignal } from '@preact/signals';
import { useEffect, useRef } from 'preact/hooks';
import { testWarning } from '../../store.ts';
import { by, useAction } from '../../views/form.tsx';
import { sendTestWarning } from './calls.ts';

/** A live link that carries brings a warning back sooner than this, ms. */
const PATIENCE_MS = 8000;

/** Sends a test warning, and sees whether it comes back over the live link. */
export function useTestWarning(): {
  state: 'unsent' | 'waiting' | 'arrived' | 'lost';
  tookMs: number;
  action: ReturnType<typeof useAction>;
  send: (site: string) => Promise<void>;
} {
  const state = useSignal<'unsent' | 'waiting' | 'arrived' | 'lost'>('unsent');
  const tookMs = useSignal(0);
  const sentAt = useRef(0);
  const sent = useRef<{ site: string; by?: string } | undefined>(undefined);
  const before = useRef(testWarning.peek());
  const action = useAction();
  const arrived = testWarning.value;
  useEffect(() => {
    if (state.peek() === 'unsent' || arrived === undefined || arrived === before.current) return;
    // Of another place, or sent by somebody else: not the one that is waited for.
    const { site, by: name } = sent.current!;
    if (arrived.site !== site || (name !== undefined && arrived.by !== name)) return;
    tookMs.value = performance.now() - sentAt.current;
    state.value = 'arrived';
  }, [arrived]);
  useEffect(() => {
    if (state.value !== 'waiting') return;
    const timer = setTimeout(() => {
      state.value = 'lost';
    }, PATIENCE_MS);
    return () => clearTimeout(timer);
  }, [state.value]);
  return {
    state: state.value,
    tookMs: tookMs.value,
    action,
    send: async (site) => {
      if (state.peek() === 'waiting') return;
      before.current = testWarning.peek();
      sent.current = { site, ...by() };
      sentAt.current = performance.now();
      state.value = 'waiting';
      const taken = await action.run(() => sendTestWarning(site, by()));
      if (!taken) state.value = 'unsent';
    },
  };
}
