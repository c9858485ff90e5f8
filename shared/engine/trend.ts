/** Readings further back than this tell nothing of the present trend, ms. */
export const TREND_SPAN_MS = 180_000;
const USUAL_SPAN_MS = 60_000;
/** Rarer than this, the trend reaches back to `TREND_SPAN_MS`. */
const RARE_MS = 10_000;
const LEAST_READINGS = 3;
const LEAST_SPAN_MS = 45_000;
/** Pairs grow with the square: more readings than this are thinned evenly. */
const MOST_READINGS = 60;

/**
 * Theil–Sen slope of readings [epoch ms, value] (ascending), in units a minute: the median of the
 * slopes of all pairs, which noise, quantisation and single outliers hardly move. Null with fewer than
 * 3 readings or less than 45 s of them.
 */
export function trendPerMinute(readings: readonly (readonly [number, number])[]): number | null {
  const last = readings.at(-1);
  if (last === undefined) return null;
  const usual = readings.filter(([t]) => last[0] - t <= USUAL_SPAN_MS);
  const rare = usual.length < USUAL_SPAN_MS / RARE_MS;
  const used = thin(rare ? readings.filter(([t]) => last[0] - t <= TREND_SPAN_MS) : usual);
  if (used.length < LEAST_READINGS || last[0] - used[0]![0] < LEAST_SPAN_MS) return null;
  const slopes: number[] = [];
  for (let i = 1; i < used.length; i++) {
    for (let j = 0; j < i; j++) {
      const [ti, vi] = used[i]!;
      const [tj, vj] = used[j]!;
      if (ti > tj) slopes.push((vi - vj) / (ti - tj));
    }
  }
  slopes.sort((a, b) => a - b);
  const middle = slopes.length >> 1;
  const median = slopes.length % 2 ? slopes[middle]! : (slopes[middle - 1]! + slopes[middle]!) / 2;
  return median * 60_000;
}

/** At most `MOST_READINGS`, evenly spread, the first and the newest among them. */
function thin(readings: readonly (readonly [number, number])[]): readonly (readonly [number, number])[] {
  if (readings.length <= MOST_READINGS) return readings;
  const step = (readings.length - 1) / (MOST_READINGS - 1);
  return Array.from({ length: MOST_READINGS }, (_, i) => readings[Math.round(i * step)]!);
}
