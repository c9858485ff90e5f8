import { setImmediate } from 'node:timers/promises';
import type { EngineOutput } from '../../shared/engine/events.ts';
import { isRestingCool } from '../../shared/rules/resting.ts';
import { type Picture, type Place, placeSchema } from '../../shared/wire/forward.ts';
import type { ForwardHealth, SiteAnswer } from '../../shared/wire/set-up.ts';
import { isoTime } from '../../shared/wire/time.ts';
import type { ArrivalClock, Clock, Timer } from '../clock.ts';
import type { Store } from '../store/store.ts';
import type { SiteWatch } from '../watch/site-watch.ts';
import type { Watch, WatchListener } from '../watch/watch.ts';
import { type Answered, ask, NoAnswer } from './request.ts';

/** What a site is like goes over so often, ms, and at once with each alarm and stage. */
const PICTURE_MS = 5000;
/** Whether there is a new seal is looked at so often, ms: one comes an hour. */
const SEALS_MS = 60_000;
/** The pause after the first try without an answer, doubled with each … ms */
const FIRST_PAUSE_MS = 1000;
/** … up to this: a link that comes and goes is found while what the centre shows can still be called live. */
const LONGEST_PAUSE_MS = 15_000;
/** What the centre refuses is sent again after so long, ms: somebody has to do something first. */
const REFUSED_PAUSE_MS = 60_000;

/** Where a site stands with the centre. */
interface Going {
  /** Of its chain, how many the centre has; null: it is to be asked. */
  entries: number | null;
  /** From its last answer, and when that came, by the monotonic clock. */
  mark: string;
  markMs: number;
  /** When the next of each is due, by the monotonic clock. */
  pictureDueMs: number;
  sealDueMs: number;
  /** Nothing is sent before, since the centre refused. */
  notBeforeMs: number;
  /** By the clock of arrivals. */
  pictureAtMs: number | null;
  because: string | null;
  /** When the centre last was elsewhere than thought, by the monotonic clock. */
  lostMs: number | null;
  /** Photographs of the next seal that are over there already. */
  photographs: Set<string>;
}

export interface ForwardTo {
  to: URL;
  token: string;
  /** Only these; null: all that are watched here. */
  sites: readonly string[] | null;
}

/**
 * Sends what is watched here to a centre: seal after seal, each once the one before is there, and what each site is
 * like now. One request at a time; nothing waits for it, and nothing is kept for it but where each site stands.
 */
export class Forwarder implements WatchListener {
  readonly #to: ForwardTo;
  readonly #watch: Watch;
  readonly #store: Pick<Store, 'sealAfter' | 'photograph'>;
  readonly #arrivals: ArrivalClock;
  readonly #clock: Clock;
  readonly #siteAnswer: (site: string) => SiteAnswer;
  readonly #health: () => readonly string[];
  readonly #warn: (message: string) => void;
  readonly #going = new Map<string, Going>();
  readonly #stopping = new AbortController();
  /** Tries without an answer since the last one that came. */
  #failures = 0;
  /** No request before, since the last had no answer. */
  #pausedUntilMs = 0;
  #wake: () => void = () => {};
  readonly #running: Promise<void>;

  constructor(parts: {
    to: ForwardTo;
    watch: Watch;
    store: Pick<Store, 'sealAfter' | 'photograph'>;
    arrivals: ArrivalClock;
    clock: Clock;
    siteAnswer: (site: string) => SiteAnswer;
    /** Why the daemon does not take in and store what comes; empty where it does. */
    health: () => readonly string[];
    warn: (message: string) => void;
  }) {
    this.#to = parts.to;
    this.#watch = parts.watch;
    this.#store = parts.store;
    this.#arrivals = parts.arrivals;
    this.#clock = parts.clock;
    this.#siteAnswer = parts.siteAnswer;
    this.#health = parts.health;
    this.#warn = parts.warn;
    this.#watch.listen(this);
    this.#running = this.#run();
  }

  // ---- what happens here ----

  readings(): void {}

  outputs(site: string, outputs: readonly EngineOutput[]): void {
    if (!outputs.some(({ type }) => type === 'alarm' || type === 'stage')) return;
    const going = this.#going.get(site);
    if (going !== undefined) going.pictureDueMs = 0;
    this.#wake();
  }

  get health(): ForwardHealth {
    return {
      sites: this.#sites().map(({ site }) => {
        const going = this.#going.get(site);
        return {
          site,
          pictureAt: going?.pictureAtMs == null ? null : isoTime(going.pictureAtMs),
          entries: going?.entries ?? null,
          because: going?.because ?? null,
        };
      }),
    };
  }

  /** Ends at once: what is under way is broken off, and goes again after the next start. */
  async close(): Promise<void> {
    this.#stopping.abort();
    this.#wake();
    await this.#running;
  }

  // ---- one thing after the other ----

  #sites(): SiteWatch[] {
    const { sites } = this.#to;
    return this.#watch.sites().filter(({ site }) => sites === null || sites.includes(site));
  }

  async #run(): Promise<void> {
    // Nothing goes before the rest of the daemon is put together.
    await setImmediate();
    while (!this.#stopping.signal.aborted) {
      const next = this.#next();
      if (typeof next === 'number') {
        await this.#sleep(next);
        continue;
      }
      await this.#attempt(next.site, next.what);
    }
  }

  /** What is due, pictures first; else how long nothing is, ms. */
  #next(): { site: SiteWatch; what: 'place' | 'picture' | 'seal' } | number {
    const nowMs = this.#clock.monotonicMs();
    if (this.#pausedUntilMs > nowMs) return this.#pausedUntilMs - nowMs;
    let waitMs = PICTURE_MS;
    const ready: [SiteWatch, Going][] = [];
    for (const site of this.#sites()) {
      const going = this.#goingOf(site.site);
      if (going.notBeforeMs <= nowMs) ready.push([site, going]);
      else waitMs = Math.min(waitMs, going.notBeforeMs - nowMs);
    }
    const unknown = ready.find(([, { entries }]) => entries === null);
    if (unknown !== undefined) return { site: unknown[0], what: 'place' };
    for (const [what, field] of [
      ['picture', 'pictureDueMs'],
      ['seal', 'sealDueMs'],
    ] as const) {
      // The one that waits longest, so that none is starved by another.
      const [first] = ready.toSorted((a, b) => a[1][field] - b[1][field]);
      if (first === undefined) continue;
      if (first[1][field] <= nowMs) return { site: first[0], what };
      waitMs = Math.min(waitMs, first[1][field] - nowMs);
    }
    return waitMs;
  }

  #goingOf(site: string): Going {
    let going = this.#going.get(site);
    if (going === undefined) {
      going = {
        entries: null,
        mark: '',
        markMs: 0,
        pictureDueMs: 0,
        sealDueMs: 0,
        notBeforeMs: 0,
        pictureAtMs: null,
        because: null,
        lostMs: null,
        photographs: new Set(),
      };
      this.#going.set(site, going);
    }
    return going;
  }

  async #sleep(ms: number): Promise<void> {
    let timer: Timer | undefined;
    await new Promise<void>((resolve) => {
      this.#wake = resolve;
      timer = this.#clock.after(Math.max(1, Math.ceil(ms)), resolve);
      if (this.#stopping.signal.aborted) resolve();
    });
    timer?.cancel();
  }

  async #attempt(site: SiteWatch, what: 'place' | 'picture' | 'seal'): Promise<void> {
    const going = this.#goingOf(site.site);
    try {
      const answered = await this.#send(site, going, what);
      if (answered !== null) this.#take(site.site, going, what, answered);
      this.#failures = 0;
    } catch (error) {
      if (this.#stopping.signal.aborted) return;
      const nowMs = this.#clock.monotonicMs();
      if (!(error instanceof NoAnswer)) {
        // Its own store fails, or a mistake of ours: neither may keep the daemon busy.
        going.notBeforeMs = nowMs + REFUSED_PAUSE_MS;
        this.#because(site.site, going, 'store-failing');
        return;
      }
      const pauseMs = Math.min(LONGEST_PAUSE_MS, FIRST_PAUSE_MS * 2 ** this.#failures);
      this.#failures = Math.min(this.#failures + 1, 16);
      this.#pausedUntilMs = nowMs + pauseMs;
      this.#because(site.site, going, error.message);
    }
  }

  /** Gives what the centre answered; null where there was nothing to send. */
  async #send(site: SiteWatch, going: Going, what: 'place' | 'picture' | 'seal'): Promise<Answered | null> {
    if (what === 'place') return this.#ask('GET', [site.site]);
    if (what === 'picture') {
      const body = Buffer.from(JSON.stringify(this.#picture(site, going)));
      // What happens while it is under way makes the next due.
      going.pictureDueMs = this.#clock.monotonicMs() + PICTURE_MS;
      return this.#ask('PUT', [site.site, 'picture'], 'application/json', body);
    }
    const seal = await this.#store.sealAfter(site.site, going.entries!);
    if (seal === null) {
      going.sealDueMs = this.#clock.monotonicMs() + SEALS_MS;
      return null;
    }
    const missing = seal.photographs.find((sha256) => !going.photographs.has(sha256));
    if (missing === undefined)
      return this.#ask(
        'PUT',
        [site.site, 'seals', String(seal.from)],
        'application/octet-stream',
        seal.bytes,
      );
    const photograph = await this.#store.photograph(missing);
    if (photograph === null) throw new Error('a photograph is not in the store');
    const { type, content } = photograph;
    const answered = await this.#ask('PUT', [site.site, 'photographs', missing], type, content);
    if (answered.status === 200) going.photographs.add(missing);
    return answered;
  }

  #ask(method: 'GET' | 'PUT', path: readonly string[], type?: string, body?: Uint8Array): Promise<Answered> {
    const url = new URL(this.#to.to);
    url.pathname = `${url.pathname.replace(/\/+$/, '')}/api/v1/forwarded/${path.join('/')}`;
    const { token } = this.#to;
    const { signal } = this.#stopping;
    return ask(url, { method, token, signal, ...(type !== undefined && { type }), ...(body && { body }) });
  }

  #take(site: string, going: Going, what: 'place' | 'picture' | 'seal', { status, json }: Answered): void {
    const nowMs = this.#clock.monotonicMs();
    const place = placeSchema.safeParse(json);
    if (status === 200 && place.success) {
      this.#takePlace(going, place.data, nowMs);
      if (what === 'picture') going.pictureAtMs = this.#arrivals.nowMs();
      if (going.because !== null) this.#because(site, going, null);
      return;
    }
    const { code } = (json ?? {}) as { code?: unknown };
    const because = typeof code === 'string' && /^[a-z-]{1,60}$/.test(code) ? code : `status ${status}`;
    // It was there already, or the centre began anew: it is asked where it is.
    if (because === 'seal-not-next' || because === 'mark-unknown') {
      const isAgain = going.lostMs !== null && nowMs - going.lostMs < REFUSED_PAUSE_MS;
      going.entries = null;
      going.photographs.clear();
      going.lostMs = nowMs;
      if (!isAgain) return;
    }
    going.notBeforeMs = nowMs + REFUSED_PAUSE_MS;
    this.#because(site, going, because);
  }

  #takePlace(going: Going, { entries, mark }: Place, nowMs: number): void {
    if (going.entries !== entries) {
      going.photographs.clear();
      going.sealDueMs = nowMs;
    }
    going.entries = entries;
    going.mark = mark;
    going.markMs = nowMs;
  }

  /** Said once, not at every try. */
  #because(site: string, going: Going, because: string | null): void {
    if (because !== null && going.because !== because) this.#warn(`${site} is not forwarded: ${because}`);
    going.because = because;
  }

  #picture(site: SiteWatch, going: Going): Picture {
    const nowMs = this.#arrivals.nowMs();
    const because = this.#health();
    return {
      mark: going.mark,
      agoMs: Math.max(0, this.#clock.monotonicMs() - going.markMs),
      at: isoTime(nowMs),
      ready: because.length === 0,
      because: because.map((one) => one.slice(0, 500)),
      site: this.#siteAnswer(site.site),
      vessels: site.vessels(nowMs),
      resting: Object.values(site.state.vessels)
        .filter(isRestingCool)
        .map(({ name }) => name),
    };
  }
}
