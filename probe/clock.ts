/** What the probe needs of a clock; the daemon's is one. */
export interface ProbeClock {
  /** Epoch ms; on a machine without a clock of its own it begins somewhere in 1970 until somebody sets it. */
  wallMs(): number;
  /** ms since any moment; never goes back. */
  monotonicMs(): number;
  /** Calls back once after `ms`. */
  after(ms: number, call: () => void): { cancel(): void };
}

/** A wall clock that shows an earlier time was never set, ms: the daemon's own limit is 2000. */
const SET_FROM_MS = Date.UTC(2020, 0, 1);

export const isSet = (wallMs: number): boolean => wallMs >= SET_FROM_MS;
