/** So many wrong tries in a minute, and then none until the minute is over. */
const MOST_WRONG = 5;
/** Of one name from everywhere: enough to stop guessing, too many for one person to be shut out in passing. */
const MOST_WRONG_OF_NAME = 50;
const MINUTE_MS = 60_000;
/** Beyond so many names and addresses the oldest are forgotten. */
const MOST_KEYS = 10_000;

/** Wrong tries to sign in: from one address few, of one name from everywhere some more. */
export class Tries {
  readonly #monotonicMs: () => number;
  /** When, by address and by name, the oldest first. */
  readonly #wrong = new Map<string, number[]>();

  constructor(monotonicMs: () => number) {
    this.#monotonicMs = monotonicMs;
  }

  /** How long nobody may try, ms; 0 where it may be tried now. */
  waitMs(name: string, address: string): number {
    return Math.max(
      this.#waitMs(`address ${address}`, MOST_WRONG),
      this.#waitMs(`name ${name}`, MOST_WRONG_OF_NAME),
    );
  }

  noteWrong(name: string, address: string): void {
    const now = this.#monotonicMs();
    for (const key of [`address ${address}`, `name ${name}`]) {
      const times = [...this.#lately(key), now];
      // Set anew, so that the oldest come first.
      this.#wrong.delete(key);
      this.#wrong.set(key, times);
    }
    for (const key of this.#wrong.keys()) {
      if (this.#wrong.size <= MOST_KEYS) break;
      this.#wrong.delete(key);
    }
  }

  #waitMs(key: string, most: number): number {
    const times = this.#lately(key);
    return times.length < most ? 0 : times.at(-most)! + MINUTE_MS - this.#monotonicMs();
  }

  #lately(key: string): number[] {
    const since = this.#monotonicMs() - MINUTE_MS;
    return (this.#wrong.get(key) ?? []).filter((ms) => ms > since);
  }
}
