/**
 * The arithmetic of a chart's columns, apart from any drawing. Times are epoch ms, ascending; a bucket
 * begins at its `t` and spans `stepMs`.
 */

export interface Columns {
  t: number[];
  min: number[];
  mean: number[];
  max: number[];
  /** Readings folded into the mean since it was fetched; 0 where the mean came whole from the store. */
  live: number[];
  stepMs: number;
}

export interface Reading {
  t: number;
  value: number;
}

export type ColumnFault = 'unequal-lengths' | 'not-finite' | 'not-ascending';

/** What would make a chart draw nonsense without a word, or undefined where the columns are fit to draw. */
export function faultOf(columns: Pick<Columns, 't' | 'min' | 'mean' | 'max'>): ColumnFault | undefined {
  const { t, min, mean, max } = columns;
  if (min.length !== t.length || mean.length !== t.length || max.length !== t.length)
    return 'unequal-lengths';
  for (let i = 0; i < t.length; i++) {
    if (![t[i], min[i], mean[i], max[i]].every(Number.isFinite)) return 'not-finite';
    if (i > 0 && t[i]! <= t[i - 1]!) return 'not-ascending';
  }
  return undefined;
}

/** Index of the last element not after `t`, or −1. */
export function lastNotAfter(times: readonly number[], t: number): number {
  let low = 0;
  let high = times.length;
  while (low < high) {
    const middle = (low + high) >>> 1;
    if (times[middle]! <= t) low = middle + 1;
    else high = middle;
  }
  return low - 1;
}

/**
 * Columns with live readings folded in. Extremes are never lost and a reading that is already in
 * changes none. A bucket from the store keeps its mean until it is fetched again.
 */
export function fold(columns: Columns, readings: readonly Reading[]): Columns {
  const out: Columns = {
    t: [...columns.t],
    min: [...columns.min],
    mean: [...columns.mean],
    max: [...columns.max],
    live: [...columns.live],
    stepMs: columns.stepMs,
  };
  for (const { t, value } of readings) {
    if (!Number.isFinite(t) || !Number.isFinite(value)) continue;
    const i = lastNotAfter(out.t, t);
    if (i >= 0 && (t === out.t[i] || t - out.t[i]! < out.stepMs)) {
      out.min[i] = Math.min(out.min[i]!, value);
      out.max[i] = Math.max(out.max[i]!, value);
      if (out.live[i]! > 0) {
        out.live[i]! += 1;
        out.mean[i]! += (value - out.mean[i]!) / out.live[i]!;
      }
    } else {
      out.t.splice(i + 1, 0, t);
      out.min.splice(i + 1, 0, value);
      out.mean.splice(i + 1, 0, value);
      out.max.splice(i + 1, 0, value);
      out.live.splice(i + 1, 0, 1);
    }
  }
  return out;
}

/** Columns without what lies before `fromMs`. */
export function since(columns: Columns, fromMs: number): Columns {
  const first = lastNotAfter(columns.t, fromMs - 1) + 1;
  if (first === 0) return columns;
  return {
    t: columns.t.slice(first),
    min: columns.min.slice(first),
    mean: columns.mean.slice(first),
    max: columns.max.slice(first),
    live: columns.live.slice(first),
    stepMs: columns.stepMs,
  };
}

/** Shortest silence that is drawn as a gap, ms: the daemon's own for a late reading. */
const SHORTEST_GAP_MS = 15_000;

/** Silence from which on the line is broken, ms: 2½ times the usual distance of what is drawn. */
export function gapAfterMs(times: readonly number[]): number {
  if (times.length < 2) return SHORTEST_GAP_MS;
  const distances = times.slice(1).map((t, i) => t - times[i]!);
  distances.sort((a, b) => a - b);
  return Math.max(SHORTEST_GAP_MS, 2.5 * distances[distances.length >>> 1]!);
}

export interface Drawable {
  t: number[];
  min: (number | null)[];
  mean: (number | null)[];
  max: (number | null)[];
}

/** The columns with an empty row in the middle of each silence longer than `gapMs`: the line breaks there. */
export function withGaps(columns: Columns, gapMs: number): Drawable {
  const out: Drawable = { t: [], min: [], mean: [], max: [] };
  columns.t.forEach((t, i) => {
    const before = columns.t[i - 1];
    if (before !== undefined && t - before > gapMs) {
      out.t.push(before + (t - before) / 2);
      out.min.push(null);
      out.mean.push(null);
      out.max.push(null);
    }
    out.t.push(t);
    out.min.push(columns.min[i]!);
    out.mean.push(columns.mean[i]!);
    out.max.push(columns.max[i]!);
  });
  return out;
}

export interface Range {
  min: number;
  max: number;
}

/**
 * A value axis that holds all values and `marks`, with a tenth of air above and below and never less
 * than `leastSpan`, so that noise of a tenth of a degree is not drawn as a mountain.
 */
export function valueRange(columns: Columns, marks: readonly number[], leastSpan: number): Range {
  let min = Number.POSITIVE_INFINITY;
  let max = Number.NEGATIVE_INFINITY;
  for (const value of columns.min) min = Math.min(min, value);
  for (const value of columns.max) max = Math.max(max, value);
  for (const value of marks) {
    min = Math.min(min, value);
    max = Math.max(max, value);
  }
  if (min > max) return { min: 0, max: leastSpan };
  const span = Math.max(max - min, leastSpan);
  const middle = (min + max) / 2;
  return { min: middle - span * 0.6, max: middle + span * 0.6 };
}

/** Extremes and last value of what is shown, or undefined where nothing is. */
export function summary(columns: Columns): { least: number; most: number; last: number } | undefined {
  if (columns.t.length === 0) return undefined;
  return {
    least: columns.min.reduce((a, b) => Math.min(a, b)),
    most: columns.max.reduce((a, b) => Math.max(a, b)),
    last: columns.mean[columns.mean.length - 1]!,
  };
}
