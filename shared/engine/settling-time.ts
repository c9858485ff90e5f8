import { STOPPED_RATIO } from './channels.ts';
import type { SettlingState } from './state.ts';

/** Moving for so long disturbs what has settled, ms. */
const DISTURBED_AFTER_MS = 10_000;
/** A stirrer may run out for so long after `settle` began, ms. */
const RUN_OUT_MS = 120_000;

export const noSettling = (): SettlingState => ({ bankedMs: 0, span: null, goneOn: false });

/**
 * Adds a speed reading, in order or late, to the runs of the present span. Rest is broken off by more
 * than `holdMs` without a reading, so that what comes late finds its place; movement is not, to be cautious.
 */
export function noteSettlingSpeed(
  settling: SettlingState,
  atMs: number,
  ratio: number,
  holdMs: number,
): void {
  const span = settling.span;
  if (span === null || atMs < span.fromMs || (span.toMs !== null && atMs > span.toMs)) return;
  const { runs } = span;
  const moving = ratio > STOPPED_RATIO;
  const joins = (fromMs: number, toMs: number) => moving || toMs - fromMs <= holdMs;
  const i = runsUpTo(runs, atMs);
  const before = runs[i - 1];
  if (before !== undefined && atMs <= before.toMs) {
    if (before.moving === moving) return;
    // A late reading in the middle of a run of the other kind splits it.
    runs.splice(
      i - 1,
      1,
      { ...before, toMs: atMs },
      { fromMs: atMs, toMs: atMs, moving },
      { ...before, fromMs: atMs },
    );
    return;
  }
  const after = runs[i];
  if (before?.moving === moving && joins(before.toMs, atMs)) before.toMs = atMs;
  else if (after?.moving === moving && joins(atMs, after.fromMs)) after.fromMs = atMs;
  else runs.splice(i, 0, { fromMs: atMs, toMs: atMs, moving });
  const left = runs[i - 1];
  const right = runs[i];
  if (left?.moving === moving && right?.moving === moving && joins(left.toMs, right.fromMs)) {
    left.toMs = right.toMs;
    runs.splice(i, 1);
  }
}

/** How many of the runs begin at a time or before it. */
function runsUpTo(runs: readonly { fromMs: number }[], ms: number): number {
  let low = 0;
  let high = runs.length;
  while (low < high) {
    const middle = (low + high) >> 1;
    if (runs[middle]!.fromMs <= ms) low = middle + 1;
    else high = middle;
  }
  return low;
}

/** Credited settling, ms: time since the last disturbance, 0 while it is being disturbed. */
export function settlingMs(settling: SettlingState, nowMs: number): number {
  const { span } = settling;
  if (span === null) return settling.bankedMs;
  let fromMs = span.fromMs;
  let banked = settling.bankedMs;
  let rested = false;
  for (const [i, run] of span.runs.entries()) {
    if (!run.moving) {
      rested = true;
      continue;
    }
    const judgedFromMs = rested ? run.fromMs : Math.max(run.fromMs, span.fromMs + RUN_OUT_MS);
    if (run.toMs - judgedFromMs < DISTURBED_AFTER_MS) continue;
    banked = 0;
    const restsAgain = span.runs[i + 1];
    if (restsAgain === undefined) return 0;
    fromMs = restsAgain.fromMs;
  }
  return banked + Math.max(0, (span.toMs ?? nowMs) - fromMs);
}
