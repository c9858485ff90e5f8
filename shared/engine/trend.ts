/** Readings further back than this tell nothing of the present, ms. */
export const LOOKS_BACK_MS = 330_000;

/** The trend is taken over so long, over the longer where readings come rarer than every so often, ms. */
const TREND_MS = 60_000;
const RARE_TREND_MS = 180_000;
const RARE_MS = 10_000;
const TREND_LEAST_MS = 45_000;
/** A surge shows in the last half minute; where readings are rare in the last few, if they are no older, ms. */
const SURGE_LEAST_MS = 30_000;
const SURGE_MOST_MS = 150_000;
/** How far back from a surge the liquid must not have been as hot, ms. */
const BEFORE_SURGE_MS = 180_000;
const LEAST_READINGS = 3;
/** Readings are gathered into so many means at most: pairs grow with the square. */
const MOST_MEANS = 15;

type Readings = readonly (readonly [atMs: number, value: number])[];

/** What was worked out of a probe's readings holds until the next: it is asked for at those of other probes, too. */
const trends = new WeakMap<Readings, { newest: Readings[number]; perMinute: number | null }>();

/**
 * Trend of readings [epoch ms, value] (ascending), in units a minute: over the last 60 s, or 180 s where
 * they come rarer than every 10 s. Null with fewer than 3 readings or less than 45 s of them.
 */
export function trendPerMinute(readings: Readings): number | null {
  const newest = readings.at(-1);
  if (newest === undefined) return null;
  const known = trends.get(readings);
  if (known?.newest === newest) return known.perMinute;
  const perMinute = slopePerMinute(readings, trendStart(readings));
  trends.set(readings, { newest, perMinute });
  return perMinute;
}

/**
 * What the trend is no steeper than, in units a minute: the steepest of the slopes from one to the next, of which every
 * other slope is a mean. Far less work than the trend. Null with as few readings as have no trend.
 */
export function steepestPerMinute(readings: Readings): number | null {
  const start = trendStart(readings);
  if (start === -1) return null;
  const n = gather(readings, start);
  const { t, value } = means;
  let steepest = Number.NEGATIVE_INFINITY;
  for (let i = 1; i < n; i++) {
    const slope = (value[i]! - value[i - 1]!) / (t[i]! - t[i - 1]!);
    if (slope > steepest) steepest = slope;
  }
  return steepest * 60_000;
}

/** Two-sided 90 % of the normal distribution. */
const NORMAL_90 = 1.645;

/**
 * The trend with the band in which it lies at 90 %: the slopes at the ranks that Kendall's variance gives
 * (Sen 1968, J. Am. Stat. Assoc. 63:1379), where these are beyond the least or the steepest, those.
 */
export function trendBandPerMinute(readings: Readings): { low: number; value: number; high: number } | null {
  const start = trendStart(readings);
  const value = slopePerMinute(readings, start);
  if (value === null) return null;
  const n = gather(readings, start);
  const sorted = slopes.slice(0, (n * (n - 1)) / 2).sort();
  const half = (NORMAL_90 * Math.sqrt((n * (n - 1) * (2 * n + 5)) / 18)) / 2;
  const at = (rank: number): number =>
    sorted[Math.min(sorted.length - 1, Math.max(0, Math.round(rank)))]! * 60_000;
  return { low: at(sorted.length / 2 - half - 1), value, high: at(sorted.length / 2 + half) };
}

/**
 * The same over the last half minute, or the last 3 readings where these go further back: what a sudden
 * rise shows first. Null with less than 30 s of readings.
 */
export const surgePerMinute = (readings: Readings): number | null =>
  slopePerMinute(readings, surgeStart(readings));

/** The readings of the three minutes before those that `surgePerMinute` goes by. */
export function beforeSurge(readings: Readings): Readings {
  const start = surgeStart(readings);
  return start === -1
    ? []
    : readings.slice(firstSince(readings, readings[start]![0] - BEFORE_SURGE_MS), start);
}

/** Index of the first reading that the trend goes by; −1 where there are too few. */
function trendStart(readings: Readings): number {
  const last = readings.at(-1);
  if (last === undefined) return -1;
  // As many readings as there would be at the rarest usual interval, counted back, lie within the span.
  const nth = readings.at(-TREND_MS / RARE_MS);
  const isRare = nth === undefined || last[0] - nth[0] > TREND_MS;
  const start = firstSince(readings, last[0] - (isRare ? RARE_TREND_MS : TREND_MS));
  const isEnough =
    readings.length - start >= LEAST_READINGS && last[0] - readings[start]![0] >= TREND_LEAST_MS;
  return isEnough ? start : -1;
}

/** The same for the surge. */
function surgeStart(readings: Readings): number {
  const last = readings.at(-1);
  if (last === undefined) return -1;
  let start = readings.length - LEAST_READINGS;
  while (start >= 0 && last[0] - readings[start]![0] < SURGE_LEAST_MS) start--;
  return start >= 0 && last[0] - readings[start]![0] <= SURGE_MOST_MS ? start : -1;
}

const slopes = new Float64Array((MOST_MEANS * (MOST_MEANS - 1)) / 2);

/**
 * Theil–Sen slope: the median of the slopes of all pairs, which noise, quantisation and single outliers
 * hardly move. Where there are many readings, of their means over equal stretches of time.
 */
function slopePerMinute(readings: Readings, start: number): number | null {
  if (start === -1) return null;
  const n = gather(readings, start);
  const { t, value } = means;
  let count = 0;
  for (let i = 1; i < n; i++) {
    const [ti, vi] = [t[i]!, value[i]!];
    for (let j = 0; j < i; j++) slopes[count++] = (vi - value[j]!) / (ti - t[j]!);
  }
  return median(slopes, count) * 60_000;
}

/** The median of the first so many values; they are put into another order. */
function median(values: Float64Array, count: number): number {
  const middle = count >> 1;
  const upper = select(values, count, middle);
  if (count % 2 === 1) return upper;
  let lower = values[0]!;
  for (let i = 1; i < middle; i++) lower = Math.max(lower, values[i]!);
  return (lower + upper) / 2;
}

/** Hoare's selection: the value that sorting would bring to an index, those before it no greater; sorting takes longer. */
function select(values: Float64Array, count: number, index: number): number {
  let [left, right] = [0, count - 1];
  while (left < right) {
    const pivot = values[index]!;
    let [i, j] = [left, right];
    while (i <= j) {
      while (values[i]! < pivot) i++;
      while (values[j]! > pivot) j--;
      if (i > j) break;
      const swapped = values[i]!;
      values[i++] = values[j]!;
      values[j--] = swapped;
    }
    if (j < index) left = i;
    if (index < i) right = j;
  }
  return values[index]!;
}

function firstSince(readings: Readings, ms: number): number {
  let index = readings.length;
  while (index > 0 && readings[index - 1]![0] >= ms) index--;
  return index;
}

/** Times and values, filled anew by each gathering. */
const means = { t: new Float64Array(MOST_MEANS), value: new Float64Array(MOST_MEANS) };

/**
 * Puts means of time and value over equal stretches into `means`, an empty one left out; the readings themselves where
 * few. Returns how many these are.
 */
function gather(readings: Readings, from: number): number {
  const end = readings.length;
  let count = 0;
  if (end - from <= MOST_MEANS) {
    for (let i = from; i < end; i++) {
      means.t[count] = readings[i]![0];
      means.value[count++] = readings[i]![1];
    }
    return count;
  }
  const startMs = readings[from]![0];
  const stretchMs = (readings[end - 1]![0] - startMs) / MOST_MEANS;
  let i = from;
  for (let stretch = 1; stretch <= MOST_MEANS; stretch++) {
    const endMs = stretch === MOST_MEANS ? Number.POSITIVE_INFINITY : startMs + stretch * stretchMs;
    let [t, v, n] = [0, 0, 0];
    for (; i < end; i++, n++) {
      const reading = readings[i]!;
      if (reading[0] >= endMs) break;
      t += reading[0] - startMs;
      v += reading[1];
    }
    if (n === 0) continue;
    means.t[count] = startMs + t / n;
    means.value[count++] = v / n;
  }
  return count;
}
