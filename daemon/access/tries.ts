interface Limit {
  most: number;
  withinMs: number;
}

/** So many wrong tries from one address, and then none until the minute is over. */
const FROM_ADDRESS: Limit = { most: 5, withinMs: 60_000 };
/** At one name from everywhere (OWASP ASVS 4.0.3, 2.2.1: no more than 100 an hour). */
const AT_NAME: Limit = { most: 90, withinMs: 3_600_000 };
/** That one was turned away without being compared is noted so often: of one address, … */
const NOTED_FROM_ADDRESS: Limit = { most: 1, withinMs: 60_000 };
/** … and in all: whoever has many addresses could fill the history. */
const NOTED_IN_ALL: Limit = { most: 20, withinMs: 60_000 };
/** Beyond so many names and addresses the oldest are forgotten. */
const MOST_KEYS = 10_000;

/**
 * Wrong tries to sign in: from one address few, of one name from everywhere some more. The second does not hold where
 * that person signed in from before, or anybody could keep them out by their name alone.
 */
export class Tries {
  readonly #monotonicMs: () => number;
  /** When, by address, by name and by what is noted, the oldest first. */
  readonly #times = new Map<string, number[]>();
  /** Who signed in from where, the oldest first: a person's name and the address. */
  readonly #right = new Set<string>();
  readonly #isKnown: (name: string, address: string) => boolean;

  /** `isKnown` says whether it is known from before that a person signed in from an address. */
  constructor(monotonicMs: () => number, isKnown: (name: string, address: string) => boolean) {
    this.#monotonicMs = monotonicMs;
    this.#isKnown = isKnown;
  }

  /** How long nobody may try, ms; 0 where it may be tried now. */
  waitMs(name: string, address: string): number {
    const fromAddressMs = this.#waitMs(`address ${address}`, FROM_ADDRESS);
    if (this.#right.has(pair(name, address)) || this.#isKnown(name, address)) return fromAddressMs;
    return Math.max(fromAddressMs, this.#waitMs(`name ${name}`, AT_NAME));
  }

  noteRight(name: string, address: string): void {
    this.#right.delete(pair(name, address));
    this.#right.add(pair(name, address));
    if (this.#right.size > MOST_KEYS) this.#right.delete(this.#right.values().next().value!);
  }

  noteWrong(name: string, address: string): void {
    this.#note([
      [`address ${address}`, FROM_ADDRESS],
      [`name ${name}`, AT_NAME],
    ]);
  }

  /** Whether it is to be noted that somebody at an address was turned away without being compared; counts it then. */
  isTurnedAwayNoted(address: string): boolean {
    const limits: [string, Limit][] = [
      [`turned away ${address}`, NOTED_FROM_ADDRESS],
      ['turned away', NOTED_IN_ALL],
    ];
    if (limits.some(([key, limit]) => this.#waitMs(key, limit) > 0)) return false;
    this.#note(limits);
    return true;
  }

  #note(limits: readonly (readonly [string, Limit])[]): void {
    const now = this.#monotonicMs();
    for (const [key, limit] of limits) {
      const times = [...this.#lately(key, limit), now];
      // Set anew, so that the oldest come first.
      this.#times.delete(key);
      this.#times.set(key, times);
    }
    for (const key of this.#times.keys()) {
      if (this.#times.size <= MOST_KEYS) break;
      this.#times.delete(key);
    }
  }

  #waitMs(key: string, limit: Limit): number {
    const times = this.#lately(key, limit);
    return times.length < limit.most ? 0 : times.at(-limit.most)! + limit.withinMs - this.#monotonicMs();
  }

  #lately(key: string, { withinMs }: Limit): number[] {
    const since = this.#monotonicMs() - withinMs;
    return (this.#times.get(key) ?? []).filter((ms) => ms > since);
  }
}

const pair = (name: string, address: string): string => JSON.stringify([name, address]);
