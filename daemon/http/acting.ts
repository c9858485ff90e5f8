import { AHEAD_MS } from '../../shared/wire/payload.ts';
import { parseWireTimeMs } from '../../shared/wire/time.ts';
import type { ArrivalClock } from '../clock.ts';
import type { Recorder } from '../store/recorder.ts';
import type { NewAction } from '../store/store.ts';
import { newAction } from '../watch/actions.ts';
import { Problem } from './problem.ts';

/** A time stated may be so long ago as a device's may, and so far ahead. */
const YEAR_2000_MS = Date.UTC(2000, 0, 1);
/** Who did it where nobody can sign in. */
const ANYBODY = 'someone';

/** Who does something, and when it was so, as a body says it. */
export interface Said {
  by?: string | undefined;
  at?: string | number | undefined;
}

/** Who did something, when it was so and when it was said, epoch ms. */
export type Done = Pick<NewAction, 'by' | 'atMs' | 'arrivedMs'>;

/**
 * How people act, whatever they do: one at a time, so that of two who act at once the second is judged by what
 * the first did; an answer comes once what was done is committed.
 */
export class Acting {
  readonly #recorder: Recorder;
  readonly #arrivals: ArrivalClock;
  #last: Promise<unknown> = Promise.resolve();

  constructor(parts: { recorder: Recorder; arrivals: ArrivalClock }) {
    this.#recorder = parts.recorder;
    this.#arrivals = parts.arrivals;
  }

  nowMs(): number {
    return this.#arrivals.nowMs();
  }

  oneAtATime<T>(run: () => Promise<T>): Promise<T> {
    const next = this.#last.then(() => {
      const { failure } = this.#recorder;
      // Nobody waits for a disk to come back: they are told, and nothing happens later unseen.
      if (failure !== null) throw new Problem('store-failing', failure);
      return run();
    });
    this.#last = next.catch(() => {});
    return next;
  }

  /** Throws a `body-invalid` where the time cannot be. */
  done({ by, at }: Said): Done {
    const arrivedMs = this.nowMs();
    return { by: by ?? ANYBODY, arrivedMs, atMs: timeOf(at, arrivedMs) };
  }

  /** Commits actions of one moment; rejects at once where the store cannot be written. */
  async commit(site: string, actions: readonly NewAction[]): Promise<void> {
    await this.#recorder.submit(site, actions, actions[0]!.arrivedMs, { waits: false });
  }

  async act(
    site: string,
    action: Parameters<typeof newAction>[0],
    body: Parameters<typeof newAction>[1],
    by: string | undefined,
  ): Promise<void> {
    await this.commit(site, [newAction(action, body, this.done({ by }))]);
  }
}

/** Epoch ms; throws a `body-invalid` where it is out of reach. */
export function timeOf(at: string | number | undefined, arrivedMs: number): number {
  const atMs = at === undefined ? arrivedMs : parseWireTimeMs(at)!;
  if (atMs > arrivedMs + AHEAD_MS) throw new Problem('body-invalid', 'at is ahead of the daemon’s clock');
  if (atMs < YEAR_2000_MS) throw new Problem('body-invalid', 'at is before 2000');
  return atMs;
}
