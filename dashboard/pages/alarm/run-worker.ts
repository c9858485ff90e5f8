import type { Limits } from '../../../shared/rules/limits.ts';
import { RecordedRun, type Told } from './recorded-run.ts';

/** Fetches the recorded run of a batch once and plays it as often as it is asked to, apart from the page. */

export type RunWanted =
  | { type: 'fetch'; batch: string }
  /** A later number makes the ones before void. */
  | { type: 'play'; number: number; limits: Partial<Limits>; vessel: string; alarm: string };

export type RunSaid =
  | { type: 'fetching'; lines: number }
  | {
      type: 'fetched';
      readings: number;
      vessels: string[];
      span: { fromMs: number; toMs: number } | null;
    }
  | { type: 'failed'; busy: boolean }
  | { type: 'played'; number: number; told: Told[]; tookMs: number };

/** How often it is said how far the fetching is, lines. */
const SAY_EVERY = 20_000;

const run = new RecordedRun();
let newest = 0;
const say = (said: RunSaid): void => postMessage(said);

async function fetchRun(batch: string): Promise<void> {
  const response = await fetch(`/api/v1/batches/${encodeURIComponent(batch)}/run`);
  if (!response.ok || response.body === null) {
    say({ type: 'failed', busy: response.status === 503 });
    return;
  }
  let rest = '';
  let said = 0;
  const reader = response.body.pipeThrough(new TextDecoderStream()).getReader();
  for (;;) {
    const { done, value } = await reader.read();
    if (done) break;
    const lines = (rest + value).split('\n');
    rest = lines.pop()!;
    for (const line of lines) run.add(line);
    if (run.lines - said >= SAY_EVERY) {
      said = run.lines;
      say({ type: 'fetching', lines: said });
    }
  }
  run.add(rest);
  const { readings, vessels, span } = run;
  say({ type: 'fetched', readings, vessels, span });
}

const turn = (): Promise<void> =>
  new Promise((resolve) => {
    setTimeout(resolve);
  });

async function play({ number, limits, vessel, alarm }: Extract<RunWanted, { type: 'play' }>): Promise<void> {
  newest = number;
  const begun = performance.now();
  const playing = run.play(limits);
  for (;;) {
    const { done, value } = playing.next();
    if (done) {
      const told = value.filter((one) => one.vessel === vessel && one.alarm === alarm);
      say({ type: 'played', number, told, tookMs: performance.now() - begun });
      return;
    }
    // What was asked for meanwhile comes in.
    await turn();
    if (newest !== number) return;
  }
}

addEventListener('message', ({ data }: MessageEvent<RunWanted>) => {
  if (data.type === 'play') void play(data);
  else fetchRun(data.batch).catch(() => say({ type: 'failed', busy: false }));
});
