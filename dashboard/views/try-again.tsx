import { useSignal } from '@preact/signals';
import { useEffect } from 'preact/hooks';
import { ApiProblem } from '../api.ts';
import { SIGN_IN } from '../texts/people.ts';
import { secondsLeft } from '../waiting.ts';

const TICK_MS = 250;

/** How long nobody may try a passphrase again after too many wrong ones; runs down by itself. */
export function useTryAgain(): {
  /** Seconds that are left; 0 where it may be tried. */
  waits: number;
  wasWaiting: boolean;
  /** Notes what an attempt was refused with. */
  heed: <T>(attempt: Promise<T>) => Promise<T>;
} {
  const untilMs = useSignal(0);
  const left = useSignal(0);
  const wasWaiting = useSignal(false);
  useEffect(() => {
    if (untilMs.value === 0) return;
    const tick = (): void => {
      left.value = secondsLeft(untilMs.peek(), performance.now());
      if (left.value === 0) untilMs.value = 0;
    };
    tick();
    const timer = setInterval(tick, TICK_MS);
    return () => clearInterval(timer);
  }, [untilMs.value]);
  return {
    waits: left.value,
    wasWaiting: wasWaiting.value,
    heed: async (attempt) => {
      wasWaiting.value = false;
      try {
        return await attempt;
      } catch (error) {
        if (error instanceof ApiProblem && error.code === 'too-many-tries') {
          wasWaiting.value = true;
          untilMs.value = performance.now() + (error.waitS ?? 60) * 1000;
        }
        throw error;
      }
    },
  };
}

/** What is said of it: once that it is so, and beside it, silently, how long. */
export function TryAgain({ waits, wasWaiting }: { waits: number; wasWaiting: boolean }) {
  if (!wasWaiting) return null;
  return (
    <div class="try-again">
      <p class="problem" role="alert">
        {SIGN_IN.tooMany}
      </p>
      {waits > 0 ? <p role="timer">{SIGN_IN.again(waits)}</p> : <p role="status">{SIGN_IN.now}</p>}
    </div>
  );
}
