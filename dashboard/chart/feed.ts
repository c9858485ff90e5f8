import { type Signal, signal } from '@preact/signals';
import { type Columns, faultOf, fold, gapAfterMs, type Reading, since } from './series.ts';
import { type Fetched, type Wanted, type Window, wantedFor } from './view.ts';

/** Rows that live readings may make of a view that stands still; what comes after them is fetched when it is looked at. */
const MOST_ROWS = 8000;
/** Of a view, as a share: with more of it there, a stretch to each side is fetched too. */
const NEAR = 0.2;
/** Asked for beyond the present: the daemon's clock may be a little ahead of what is known of it here. */
const AHEAD_MS = 2000;

export interface Sight {
  width: number;
  nowMs: number;
}

export type FeedState = 'loading' | 'shown' | 'failed' | 'unfit';

export interface Feed {
  columns: Signal<Columns | undefined>;
  /** Of the last that was asked for; `columns` stay what they were until it is there. */
  state: Signal<FeedState>;
  /** Silence from which on its line is broken, ms. */
  gapMs: () => number;
  /** Fetches what a view lacks; of what is asked for meanwhile the latest comes next. */
  see: (view: Window, sight: Sight) => void;
  /** The same although it is there: after a lost link, and now and then for exact means. */
  renew: (view: Window, sight: Sight) => void;
  /** Live readings: those that came while a fetch is under way are kept through it. */
  add: (readings: readonly Reading[]) => void;
  /** Waits for the fetch under way, if any. */
  settled: () => Promise<void>;
}

/** One line of a chart, as far as it was fetched, kept up to date by live readings. */
export function createFeed(fetchColumns: (wanted: Wanted) => Promise<Columns>): Feed {
  const columns = signal<Columns | undefined>(undefined);
  const state = signal<FeedState>('loading');
  let have: Fetched | undefined;
  /** What could not be fetched. */
  let missing: Fetched | undefined;
  let gapMs = gapAfterMs([]);
  let running: { wanted: Wanted; coming: Fetched; done: Promise<void> } | undefined;
  let next: { wanted: Wanted; nowMs: number } | undefined;
  let meanwhile: Reading[] = [];

  const show = (fresh: Columns): void => {
    columns.value = fresh;
    gapMs = gapAfterMs(fresh.t, fresh.stepMs);
  };

  async function fetchOnce(wanted: Wanted, coming: Fetched): Promise<void> {
    try {
      const fetched = await fetchColumns(wanted);
      missing = undefined;
      if (faultOf(fetched) !== undefined) {
        state.value = 'unfit';
        columns.value = undefined;
        have = undefined;
        return;
      }
      have = { ...coming, stepMs: fetched.stepMs };
      show(
        fold(
          fetched,
          meanwhile.filter(({ t }) => t >= wanted.fromMs && (coming.open || t <= wanted.toMs)),
        ),
      );
      state.value = 'shown';
    } catch {
      // What was fetched before stays, but it need not be what is looked at.
      missing = coming;
      state.value = 'failed';
    }
  }

  function start(wanted: Wanted, nowMs: number): void {
    const open = wanted.toMs >= nowMs;
    const asked = open ? { ...wanted, toMs: Math.ceil(wanted.toMs) + AHEAD_MS } : wanted;
    const { fromMs, toMs, points } = asked;
    const stepMs = points === 'raw' ? 0 : (toMs - fromMs) / points;
    const coming = { fromMs, toMs, stepMs, open };
    meanwhile = [];
    state.value = 'loading';
    const done = fetchOnce(asked, coming).then(() => {
      running = undefined;
      const after = next;
      next = undefined;
      if (after !== undefined) start(after.wanted, after.nowMs);
    });
    running = { wanted: asked, coming, done };
  }

  const ask = (wanted: Wanted | null, nowMs: number): void => {
    if (wanted === null) next = undefined;
    else if (running === undefined) start(wanted, nowMs);
    else next = { wanted, nowMs };
  };

  /** Whether enough of a view is there that it is moved on from, and not come to from afar. */
  const isNear = (view: Window): boolean => {
    if (have === undefined) return false;
    const toMs = have.open ? view.toMs : Math.min(have.toMs, view.toMs);
    return toMs - Math.max(have.fromMs, view.fromMs) > NEAR * (view.toMs - view.fromMs);
  };

  return {
    columns,
    state,
    gapMs: () => gapMs,
    see(view, { width, nowMs }) {
      // What is far from all that is there comes first without its surroundings.
      const margin = isNear(view);
      if (running !== undefined) {
        ask(wantedFor(view, running.coming, { width, nowMs, margin }), nowMs);
        return;
      }
      // A failed fetch is tried again by `renew`, not by every movement.
      if (missing !== undefined && wantedFor(view, missing, { width, nowMs, margin }) === null) return;
      const span = view.toMs - view.fromMs;
      const known = columns.peek();
      if (known !== undefined && have?.open && view.toMs >= nowMs && have.fromMs < view.fromMs - 2 * span) {
        const fromMs = view.fromMs - span;
        have = { ...have, fromMs };
        show(since(known, fromMs));
      }
      ask(wantedFor(view, have, { width, nowMs, margin }), nowMs);
    },
    renew(view, { width, nowMs }) {
      ask(wantedFor(view, undefined, { width, nowMs, margin: isNear(view) }), nowMs);
    },
    add(readings) {
      if (running !== undefined) meanwhile.push(...readings);
      const known = columns.peek();
      if (known === undefined || have === undefined) return;
      const { fromMs, toMs, open } = have;
      const mine = readings.filter(({ t }) => t >= fromMs && (open || t <= toMs));
      if (mine.length === 0) return;
      if (known.t.length > MOST_ROWS) {
        have = { ...have, toMs: known.t.at(-1)!, open: false };
        return;
      }
      show(fold(known, mine));
    },
    settled: async () => {
      while (running !== undefined) await running.done;
    },
  };
}
