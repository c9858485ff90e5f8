/** How often in a row a daemon must be missed before somebody is told: one lost answer is no reason to wake anybody. */
const MISSES = 3;

/**
 * Whether a daemon is there, from what each look at it found. Pure: `gone` is said once when it has been missed so
 * often in a row, `back` once when it is found again.
 */
export class Guarding {
  #heardMs: number;
  #misses = 0;
  #isGone = false;

  /** It counts as heard of at the start, epoch ms. */
  constructor(nowMs: number) {
    this.#heardMs = nowMs;
  }

  /** Null `because`: all was well. Gives what is to be said, and since when it is silent. */
  looked(because: string | null, nowMs: number): { state: 'gone' | 'back'; sinceMs: number } | null {
    const sinceMs = this.#heardMs;
    if (because === null) {
      this.#misses = 0;
      this.#heardMs = nowMs;
      if (!this.#isGone) return null;
      this.#isGone = false;
      return { state: 'back', sinceMs };
    }
    this.#misses += 1;
    if (this.#isGone || this.#misses < MISSES) return null;
    this.#isGone = true;
    return { state: 'gone', sinceMs };
  }
}
