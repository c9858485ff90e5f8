import { type Signal, signal } from '@preact/signals';
import { getReadings } from '../api.ts';
import { type Columns, faultOf, fold, type Reading, since } from './series.ts';

/** Buckets asked for: about what a wide screen can show. */
const POINTS = 600;

export interface History {
  columns: Signal<Columns | undefined>;
  state: Signal<'loading' | 'shown' | 'failed' | 'unfit'>;
  /** Fetches a stretch of time; the latest call wins, and live readings that came meanwhile are kept. */
  fetch: (fromMs: number, toMs: number) => Promise<void>;
  add: (readings: readonly Reading[]) => void;
  forget: (beforeMs: number) => void;
}

/** The readings of one channel of one vessel for a chart. */
export function createHistory(vessel: string, channel: string): History {
  const columns = signal<Columns | undefined>(undefined);
  const state = signal<'loading' | 'shown' | 'failed' | 'unfit'>('loading');
  let latest = 0;
  /** Live readings since the fetch under way began: its answer may have been made before them. */
  let meanwhile: Reading[] | undefined;

  return {
    columns,
    state,
    async fetch(fromMs, toMs) {
      const mine = ++latest;
      meanwhile = [];
      try {
        const { t, min, mean, max, stepMs } = await getReadings(vessel, channel, fromMs, toMs, POINTS);
        if (mine !== latest) return;
        if (faultOf({ t, min, mean, max }) !== undefined) {
          state.value = 'unfit';
          columns.value = undefined;
          return;
        }
        columns.value = fold({ t, min, mean, max, stepMs, live: t.map(() => 0) }, meanwhile ?? []);
        state.value = 'shown';
      } catch {
        // What was fetched before stays: the link's notice says that it is old.
        if (mine === latest && columns.value === undefined) state.value = 'failed';
      } finally {
        if (mine === latest) meanwhile = undefined;
      }
    },
    add(readings) {
      meanwhile?.push(...readings);
      if (columns.value !== undefined) columns.value = fold(columns.value, readings);
    },
    forget(beforeMs) {
      if (columns.value !== undefined) columns.value = since(columns.value, beforeMs);
    },
  };
}
