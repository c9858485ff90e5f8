import { REFUSALS, type RefusalCode } from '../../shared/wire/refusals.ts';

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

/** Beyond so many topics only a number is kept: anybody who may publish could fill the memory otherwise. */
const MOST_TOPICS = 1000;
/** A topic can be 64 KiB long. */
const MOST_TOPIC_LENGTH = 200;

/** What could not be taken in since the daemon started, for a person to see and mend. */
export class RefusedList {
  readonly #topics = new Map<string, RefusedTopic>();
  #others = 0;
  #total = 0;

  note(topic: string, code: RefusalCode, atMs: number, from: string | null): void {
    this.#total++;
    const shown = topic.length > MOST_TOPIC_LENGTH ? `${topic.slice(0, MOST_TOPIC_LENGTH)}…` : topic;
    const key = `${code} ${shown}`;
    const known = this.#topics.get(key);
    if (known !== undefined) {
      known.count++;
      known.lastMs = atMs;
      known.from = from;
    } else if (this.#topics.size < MOST_TOPICS) {
      this.#topics.set(key, {
        topic: shown,
        code,
        because: REFUSALS[code],
        count: 1,
        firstMs: atMs,
        lastMs: atMs,
        from,
      });
    } else this.#others++;
  }

  /** The newest first. */
  list(): RefusedTopic[] {
    return [...this.#topics.values()].sort((a, b) => b.lastMs - a.lastMs);
  }

  /** Refusals on topics beyond those listed. */
  get others(): number {
    return this.#others;
  }

  get total(): number {
    return this.#total;
  }
}
