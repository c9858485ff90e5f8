import { setTimeout as wait } from 'node:timers/promises';

/** The time a publisher lives in. */
export interface Clock {
  /** Epoch ms, possibly running faster than life. */
  now(): number;
  /** Waits so many ms of this clock. Rejects with the signal's `AbortError` when aborted. */
  sleep(ms: number, signal?: AbortSignal): Promise<void>;
}

/**
 * A clock that reads `startMs` now and runs `speed` times as fast as life. It follows the monotonic clock,
 * so a step of the wall clock does not move it.
 * @throws RangeError where speed is not a number above 0
 */
export function scaledClock(speed: number, startMs: number): Clock {
  if (!(speed > 0 && Number.isFinite(speed))) throw new RangeError('speed must be a number above 0');
  const origin = performance.now();
  return {
    now: () => startMs + (performance.now() - origin) * speed,
    sleep: (ms, signal) => wait(Math.max(0, ms / speed), undefined, signal ? { signal } : {}),
  };
}
