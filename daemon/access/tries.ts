interface Limit {
  most: number;
  withinMs: number;
}

/** So many wrong tries from one address, and then none until the minute is over. */
const FROM_ADDRESS: Limit = { most: 5, withinMs: 60_000 };
/** At one name from everywhere (OWASP ASVS 4.0.3, 2.2.1: no more than 100 an hour). */
const AT_NAME: Limit = { most: 90, withinMs: 3_600_000 };
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
    return Math.max(this.#waitMs(`address ${address}`, FROM_ADDRESS), this.#waitMs(`name ${name}`, AT_NAME));
  }

  noteWrong(name: string, address: string): void {
    const now = this.#monotonicMs();
    for (const [key, limit] of [
      [`address ${address}`, FROM_ADDRESS],
      [`name ${name}`, AT_NAME],
    ] as const) {
      const times = [...this.#lately(key, limit), now];
      // Set anew, so that the oldest come first.
      this.#wrong.delete(key);
      this.#wrong.set(key, times);
    }
    for (const key of this.#wrong.keys()) {
      if (this.#wrong.size <= MOST_KEYS) break;
      this.#wrong.delete(key);
    }
  }

  #waitMs(key: string, limit: Limit): number {
    const times = this.#lately(key, limit);
    return times.length < limit.most ? 0 : times.at(-limit.most)! + limit.withinMs - this.#monotonicMs();
  }

  #lately(key: string, { withinMs }: Limit): number[] {
    const since = this.#monotonicMs() - withinMs;
    return (this.#wrong.get(key) ?? []).filter((ms) => ms > since);
  }
}
