import { REFUSALS, type RefusalCode } from '../../shared/wire/refusals.ts';
import { withoutSecrets } from '../access/without-secrets.ts';
import type { KnownAs } from '../broker/sender.ts';

/** One topic's refusals of one kind. */
export interface RefusedTopic {
  topic: string;
  code: RefusalCode;
  because: string;
  count: number;
  firstMs: number;
  lastMs: number;
  /** Who sent it last, as far as that is known. */
  from: string | null;
}

/**
 * Beyond so many, only a number is kept of the topic that was longest without news: anybody who may publish could fill
 * the memory otherwise, …
 */
const MOST_TOPICS = 1000;
/** … and one device that makes topics up could push out those of all others. */
const MOST_OF_SENDER = 100;
/** A topic can be 64 KiB long. */
const MOST_TOPIC_LENGTH = 200;

/** What could not be taken in since the daemon started, for a person to see and mend. */
export class RefusedList {
  /** Those with the newest news last, and who sent each last. */
  readonly #topics = new Map<string, { refused: RefusedTopic; place: string | null }>();
  #others = 0;
  #total = 0;

  note(topic: string, code: RefusalCode, atMs: number, from: KnownAs | null): void {
    this.#total++;
    // Before it is cut: a part of a secret would not be known for one.
    const safe = withoutSecrets(topic);
    const shown = safe.length > MOST_TOPIC_LENGTH ? `${safe.slice(0, MOST_TOPIC_LENGTH)}…` : safe;
    const key = `${code} ${shown}`;
    const place = from?.place ?? null;
    const known = this.#topics.get(key)?.refused;
    this.#topics.delete(key);
    if (known === undefined) this.#makeRoom(place);
    const refused = known ?? {
      topic: shown,
      code,
      because: REFUSALS[code],
      count: 0,
      firstMs: atMs,
      lastMs: atMs,
      from: null,
    };
    refused.count++;
    refused.lastMs = atMs;
    refused.from = from?.said ?? null;
    this.#topics.set(key, { refused, place });
  }

  /** For one more topic of a sender. */
  #makeRoom(place: string | null): void {
    const own = [...this.#topics].filter((one) => place !== null && one[1].place === place);
    const oldest =
      own.length >= MOST_OF_SENDER
        ? own[0]
        : this.#topics.size >= MOST_TOPICS
          ? this.#topics.entries().next().value
          : undefined;
    if (oldest === undefined) return;
    this.#topics.delete(oldest[0]);
    this.#others += oldest[1].refused.count;
  }

  /** The newest first. */
  list(): RefusedTopic[] {
    return [...this.#topics.values()].map(({ refused }) => refused).sort((a, b) => b.lastMs - a.lastMs);
  }

  /** Refusals on topics that are listed no longer. */
  get others(): number {
    return this.#others;
  }

  get total(): number {
    return this.#total;
  }
}
