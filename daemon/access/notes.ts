import type { AccessNote } from '../../shared/wire/access.ts';
import { isoTime } from '../../shared/wire/time.ts';
import { type ArrivalClock, type Clock, every, type Timer } from '../clock.ts';
import type { Recorder } from '../store/recorder.ts';
import type { Store } from '../store/store.ts';
import { type ActionBodies, newAction } from '../watch/actions.ts';
import type { Watch } from '../watch/watch.ts';
import type { Access } from './access.ts';
import { AccessError } from './access-file.ts';

const ACTIONS = ['access-changed', 'signed-in', 'signed-out', 'sign-in-refused'] as const;
type AccessAction = (typeof ACTIONS)[number];
const isAccessAction = (action: string): action is AccessAction => ACTIONS.some((one) => one === action);

/** A command may have changed who is let in: looked at so often, ms. */
const LOOK_MS = 5000;

/** Writes who signed in, who was refused and whose rights changed into the history of every site. */
export class AccessNotes {
  readonly #access: Access;
  readonly #watch: Pick<Watch, 'sites'>;
  readonly #recorder: Pick<Recorder, 'submit'>;
  readonly #store: Pick<Store, 'actions'>;
  readonly #arrivals: ArrivalClock;
  readonly #onRemoved: (name: string) => void;
  readonly #warn: (message: string) => void;
  readonly #looking: Timer;
  /** What was written while the list could not be: not again. */
  readonly #written = new Set<string>();
  #noting: Promise<void> = Promise.resolve();

  constructor(parts: {
    access: Access;
    watch: Pick<Watch, 'sites'>;
    recorder: Pick<Recorder, 'submit'>;
    store: Pick<Store, 'actions'>;
    arrivals: ArrivalClock;
    clock: Clock;
    /** A person was removed, here or by a command. */
    onRemoved: (name: string) => void;
    warn: (message: string) => void;
  }) {
    this.#access = parts.access;
    this.#watch = parts.watch;
    this.#recorder = parts.recorder;
    this.#store = parts.store;
    this.#arrivals = parts.arrivals;
    this.#onRemoved = parts.onRemoved;
    this.#warn = parts.warn;
    this.#looking = every(parts.clock, LOOK_MS, () => void this.changes());
    void this.changes();
  }

  /** Of who signs in or out: told to the sites that there are. Resolves when it is stored, or cannot be. */
  async note<Name extends Exclude<AccessAction, 'access-changed'>>(
    action: Name,
    body: ActionBodies[Name],
    by: string,
  ): Promise<void> {
    try {
      await this.#write(action, body, { by, atMs: this.#arrivals.nowMs() });
    } catch (error) {
      this.#warn(`${action} could not be noted: ${(error as Error).message}`);
    }
  }

  /** Notes what was changed since, here or by a command; kept until there is a site to note it in. */
  changes(): Promise<void> {
    this.#noting = this.#noting.then(async () => {
      try {
        const changes = this.#access.unnoted();
        if (changes.length === 0 || this.#watch.sites().length === 0) return;
        for (const one of changes) {
          const { atMs, by, ...change } = one;
          if (this.#written.has(JSON.stringify(one))) continue;
          await this.#write('access-changed', change, { by, atMs });
          this.#written.add(JSON.stringify(one));
          // By then they may have been set up again.
          const isRemoved = change.kind === 'person' && change.may === null;
          if (isRemoved && !this.#access.isPerson(change.name)) this.#onRemoved(change.name);
        }
        this.#access.noted(changes);
        this.#written.clear();
      } catch (error) {
        // A list that cannot be read is told by everything else.
        if (!(error instanceof AccessError))
          this.#warn(`a change of who is let in could not be noted: ${(error as Error).message}`);
      }
    });
    return this.#noting;
  }

  /** What was noted last, the newest first. */
  async newest(most: number): Promise<AccessNote[]> {
    // Every site has the same; each only from when it was first heard of.
    const noted = new Map<string, { atMs: number; note: AccessNote }>();
    for (const { site } of this.#watch.sites()) {
      for (const { action, atMs, by, body } of await this.#store.actions(site)) {
        if (!isAccessAction(action)) continue;
        const note = { what: action, at: isoTime(atMs), by, ...(body as object) } as AccessNote;
        noted.set(JSON.stringify(note), { atMs, note });
      }
    }
    return [...noted.values()]
      .sort((a, b) => b.atMs - a.atMs)
      .slice(0, most)
      .map(({ note }) => note);
  }

  async close(): Promise<void> {
    this.#looking.cancel();
    await this.#noting;
  }

  async #write<Name extends AccessAction>(
    action: Name,
    body: ActionBodies[Name],
    { by, atMs }: { by: string; atMs: number },
  ): Promise<void> {
    const arrivedMs = this.#arrivals.nowMs();
    const noted = newAction(action, body, { by, arrivedMs, atMs: Math.min(atMs, arrivedMs) });
    const sites = this.#watch.sites();
    await Promise.all(
      sites.map(({ site }) => this.#recorder.submit(site, [noted], arrivedMs, { waits: false })),
    );
  }
}
