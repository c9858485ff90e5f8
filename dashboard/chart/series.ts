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

export type ColumnFault = 'unequal-lengths' | 'not-finite' | 'not-ascending' | 'least-above-most';

/** What would make a chart draw nonsense without a word, or undefined where the columns are fit to draw. */
export function faultOf(columns: Pick<Columns, 't' | 'min' | 'mean' | 'max'>): ColumnFault | undefined {
  const { t, min, mean, max } = columns;
  if (min.length !== t.length || mean.length !== t.length || max.length !== t.length)
    return 'unequal-lengths';
  for (let i = 0; i < t.length; i++) {
    if (!Number.isFinite(t[i]! + min[i]! + mean[i]! + max[i]!)) return 'not-finite';
    if (i > 0 && t[i]! <= t[i - 1]!) return 'not-ascending';
    if (min[i]! > max[i]!) return 'least-above-most';
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
      // Where the store's own bucket will begin, unless another is there already.
      const start = Math.max(startOf(t, out.stepMs), i >= 0 ? out.t[i]! + 1 : Number.NEGATIVE_INFINITY);
      out.t.splice(i + 1, 0, start);
      out.min.splice(i + 1, 0, value);
      out.mean.splice(i + 1, 0, value);
      out.max.splice(i + 1, 0, value);
      out.live.splice(i + 1, 0, 1);
    }
  }
  return out;
}

const startOf = (t: number, stepMs: number): number => (stepMs > 1 ? Math.floor(t / stepMs) * stepMs : t);

/** Single readings as columns: those of one moment are one row, which holds both. */
export function columnsOf({ t, value }: { t: readonly number[]; value: readonly number[] }): Columns {
  const out: Columns = { t: [], min: [], mean: [], max: [], live: [], stepMs: 0 };
  let same = 0;
  t.forEach((ms, i) => {
    const last = out.t.length - 1;
    const one = value[i]!;
    if (out.t[last] === ms) {
      same++;
      out.min[last] = Math.min(out.min[last]!, one);
      out.max[last] = Math.max(out.max[last]!, one);
      out.mean[last]! += (one - out.mean[last]!) / same;
      return;
    }
    same = 1;
    out.t.push(ms);
    out.min.push(one);
    out.mean.push(one);
    out.max.push(one);
    out.live.push(0);
  });
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

/** Silence from which on the line is broken, ms: 2½ times the usual distance of what is drawn, and of buckets. */
export function gapAfterMs(times: readonly number[], stepMs = 0): number {
  const least = Math.max(SHORTEST_GAP_MS, 1.5 * stepMs);
  if (times.length < 2) return least;
  const distances = times.slice(1).map((t, i) => t - times[i]!);
  distances.sort((a, b) => a - b);
  return Math.max(least, 2.5 * distances[distances.length >>> 1]!);
}

/** First and last index of what is in a stretch of time, with one row to each side, so that lines reach its edges. */
export function indicesIn(times: readonly number[], fromMs: number, toMs: number): [number, number] {
  return [
    Math.max(0, lastNotAfter(times, fromMs)),
    Math.min(times.length - 1, lastNotAfter(times, toMs) + 1),
  ];
}

/** A row of drawn columns: what has no value at a time is skipped (undefined) or breaks the line (null). */
type Cell = number | null | undefined;

export interface Line {
  min: Cell[];
  mean: Cell[];
  max: Cell[];
}

export interface Drawable {
  t: number[];
  lines: Line[];
}

/** Several channels on one row of times: each line broken in the middle of every silence longer than its own gap. */
export function drawable(
  series: readonly { columns: Columns; gapMs: number }[],
  shown: (value: number) => number = same,
): Drawable {
  const broken = series.map(({ columns, gapMs }) => withBreaks(columns, gapMs, shown));
  if (broken.length === 1) return { t: broken[0]!.t, lines: [broken[0]!] };
  const t = [...new Set(broken.flatMap((each) => each.t))].sort((a, b) => a - b);
  const lines = broken.map((each) => {
    const line: Line = { min: [], mean: [], max: [] };
    let at = 0;
    for (const ms of t) {
      const isHere = each.t[at] === ms;
      line.min.push(isHere ? each.min[at] : undefined);
      line.mean.push(isHere ? each.mean[at] : undefined);
      line.max.push(isHere ? each.max[at] : undefined);
      if (isHere) at++;
    }
    return line;
  });
  return { t, lines };
}

const same = (value: number): number => value;

function withBreaks(
  columns: Columns,
  gapMs: number,
  shown: (value: number) => number,
): Line & { t: number[] } {
  const out: Line & { t: number[] } = { t: [], min: [], mean: [], max: [] };
  columns.t.forEach((t, i) => {
    const before = columns.t[i - 1];
    if (before !== undefined && t - before > gapMs) {
      out.t.push(before + (t - before) / 2);
      out.min.push(null);
      out.mean.push(null);
      out.max.push(null);
    }
    out.t.push(t);
    out.min.push(shown(columns.min[i]!));
    out.mean.push(shown(columns.mean[i]!));
    out.max.push(shown(columns.max[i]!));
  });
  return out;
}

/** Stretches in which a switch was on, and for which share of them: 0 where it was off throughout. A gap is in none. */
export function switchStretches(
  columns: Columns,
  gapMs: number,
): { fromMs: number; toMs: number; share: number }[] {
  const out: { fromMs: number; toMs: number; share: number }[] = [];
  columns.t.forEach((t, i) => {
    const next = columns.t[i + 1];
    const end = next !== undefined && next - t <= gapMs ? next : t + Math.max(columns.stepMs, 1000);
    const share = Math.min(1, Math.max(0, columns.mean[i]!));
    const last = out.at(-1);
    if (last !== undefined && last.toMs === t && last.share === share) last.toMs = end;
    else out.push({ fromMs: t, toMs: end, share });
  });
  return out;
}

export interface Range {
  min: number;
  max: number;
}

/**
 * A value axis that holds all values and `marks`, with a tenth of air above and below and never less
 * than `leastSpan`, so that noise of a tenth of a degree is not drawn as a mountain. What `fits` does not let
 * pass, such as the −127 of a probe that came off, stretches no axis. `fromZero`: of what is never below 0; an axis
 * that comes near it begins there.
 */
export function valueRange(
  all: readonly Columns[],
  marks: readonly number[],
  leastSpan: number,
  {
    fromMs = Number.NEGATIVE_INFINITY,
    toMs = Number.POSITIVE_INFINITY,
    fits = () => true,
    fromZero = false,
  }: { fromMs?: number; toMs?: number; fits?: (value: number) => boolean; fromZero?: boolean } = {},
): Range {
  let min = Number.POSITIVE_INFINITY;
  let max = Number.NEGATIVE_INFINITY;
  const take = (value: number): void => {
    if (!fits(value)) return;
    if (value < min) min = value;
    if (value > max) max = value;
  };
  for (const columns of all) {
    const [first, last] = indicesIn(columns.t, fromMs, toMs);
    for (let i = first; i <= last; i++) {
      take(columns.min[i]!);
      take(columns.max[i]!);
    }
  }
  for (const value of marks) {
    min = Math.min(min, value);
    max = Math.max(max, value);
  }
  if (min > max) return { min: 0, max: leastSpan };
  if (fromZero && min >= 0 && max - min < leastSpan) max = Math.max(max, leastSpan);
  const span = Math.max(max - min, leastSpan);
  if (fromZero && min >= 0 && min < span * 0.5) return { min: -0.04 * max, max: max * 1.1 };
  const middle = (min + max) / 2;
  return { min: middle - span * 0.6, max: middle + span * 0.6 };
}

/** Extremes and last value of what lies in a stretch of time, or undefined where nothing does. */
export function summary(
  columns: Columns,
  fromMs = Number.NEGATIVE_INFINITY,
  toMs = Number.POSITIVE_INFINITY,
): { least: number; most: number; last: number } | undefined {
  let least = Number.POSITIVE_INFINITY;
  let most = Number.NEGATIVE_INFINITY;
  let last: number | undefined;
  for (let i = 0; i < columns.t.length; i++) {
    const t = columns.t[i]!;
    if (t + columns.stepMs <= fromMs && columns.stepMs > 0) continue;
    if (t < fromMs && columns.stepMs === 0) continue;
    if (t > toMs) break;
    if (columns.min[i]! < least) least = columns.min[i]!;
    if (columns.max[i]! > most) most = columns.max[i]!;
    last = columns.mean[i]!;
  }
  return last === undefined ? undefined : { least, most, last };
}

/** What a channel said at a moment: the bucket it lies in, or the reading before it if that is not older than a gap. */
export function valueAt(
  columns: Columns,
  ms: number,
  gapMs: number,
): { t: number; min: number; mean: number; max: number } | undefined {
  const before = lastNotAfter(columns.t, ms);
  // With single readings the nearest counts, before it or after.
  const after = before + 1;
  const nearer =
    columns.stepMs === 0 &&
    after < columns.t.length &&
    (before < 0 || columns.t[after]! - ms < ms - columns.t[before]!)
      ? after
      : before;
  const t = columns.t[nearer];
  if (t === undefined || Math.abs(ms - t) > Math.max(gapMs, columns.stepMs)) return undefined;
  return { t, min: columns.min[nearer]!, mean: columns.mean[nearer]!, max: columns.max[nearer]! };
}
