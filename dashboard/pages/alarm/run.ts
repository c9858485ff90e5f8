import { type Signal, signal } from '@preact/signals';
import type { Limits } from '../../../shared/rules/limits.ts';
import { type Episode, episodesOf, insteadOf } from './instead.ts';
import type { RunSaid, RunWanted } from './run-worker.ts';

export type RunState =
  | { is: 'fetching'; lines: number }
  | { is: 'failed'; busy: boolean }
  | {
      is: 'there';
      readings: number;
      vessels: string[];
      span: { fromMs: number; toMs: number } | null;
    };

/** What other limits would have done. */
export interface Played {
  limits: Partial<Limits>;
  /** In place of this alarm; null: it would not have come. */
  instead: Episode | null;
  /** All of its name in the run. */
  all: Episode[];
  tookMs: number;
}

/** Limits that are tried instead of those that an alarm went by, and when it would have come by them. */
export interface Tried {
  limits: Partial<Limits>;
  insteadMs: number | null;
}
export const NOTHING_TRIED: Tried = { limits: {}, insteadMs: null };

/** The run of an alarm’s batch, kept in a worker. */
export interface Run {
  state: Signal<RunState>;
  /** With the limits as they were; what others are held against. */
  own: Signal<Played | undefined>;
  played: Signal<Played | undefined>;
  busy: Signal<boolean>;
  play: (limits: Partial<Limits>) => void;
  end: () => void;
}

export function openRun(batch: string, of: { vessel: string; alarm: string; atMs: number }): Run {
  const worker = new Worker(new URL('./run-worker.ts', import.meta.url), { type: 'module' });
  const state = signal<RunState>({ is: 'fetching', lines: 0 });
  const own = signal<Played | undefined>(undefined);
  const played = signal<Played | undefined>(undefined);
  const busy = signal(false);
  const ask = (wanted: RunWanted): void => worker.postMessage(wanted);
  let number = 0;
  let asked: Partial<Limits> = {};
  const play = (limits: Partial<Limits>): void => {
    asked = limits;
    busy.value = true;
    ask({ type: 'play', number: ++number, limits, vessel: of.vessel, alarm: of.alarm });
  };

  worker.addEventListener('message', ({ data }: MessageEvent<RunSaid>) => {
    switch (data.type) {
      case 'fetching':
        state.value = { is: 'fetching', lines: data.lines };
        break;
      case 'failed':
        state.value = { is: 'failed', busy: data.busy };
        break;
      case 'fetched': {
        const { readings, vessels, span } = data;
        state.value = { is: 'there', readings, vessels, span };
        play({});
        break;
      }
      case 'played': {
        if (data.number !== number) return;
        const all = episodesOf(data.told, of);
        const before = own.value?.all ?? all;
        const answer = { limits: asked, instead: insteadOf(before, of.atMs, all), all, tookMs: data.tookMs };
        own.value ??= answer;
        played.value = answer;
        busy.value = false;
      }
    }
  });
  worker.addEventListener('error', () => {
    state.value = { is: 'failed', busy: false };
  });
  ask({ type: 'fetch', batch });
  return { state, own, played, busy, play, end: () => worker.terminate() };
}
