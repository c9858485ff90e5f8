import { methanolBoilingC } from '../chemistry/methanol.ts';
import type { Buckets } from '../wire/api.ts';
import { AMBIENT_MAX_AGE_MS, boilingInAir, VACUUM_HPA, VESSEL_PRESSURE_MAX_AGE_MS } from './boiling.ts';
import { inRange } from './channels.ts';
import type { StatedPressure } from './events.ts';

/** Which pressure a boiling point was worked out from: the vessel's own, a barometer's, a stated one, or sea level's. */
export const PRESSURE_FROM = ['vessel', 'barometer', 'stated', 'assumed'] as const;
export type PressureFrom = (typeof PRESSURE_FROM)[number];

export interface Stretch {
  fromMs: number;
  toMs: number;
}

export interface PressureHistory {
  /** What the place was stated to be from then on, ascending. */
  site: readonly { atMs: number; stated: StatedPressure }[];
  /** What a batch's own plan said of the place, while the vessel was the batch's; and where that held. */
  stays: readonly (Stretch & { stated: StatedPressure | null })[];
  /** Stages in which methanol was boiled off on purpose: the last own pressure holds there. */
  recovering: readonly Stretch[];
  /** Barometers of the site, and the vessel's own pressure; from before the first moment, too. */
  ambient: readonly Buckets[];
  own: readonly Buckets[];
}

export interface BoilingHistory extends Buckets {
  from: PressureFrom[];
}

interface Span {
  atMs: number;
  endMs: number;
  least: number;
  mean: number;
  most: number;
}

/**
 * Methanol's boiling point in a vessel over a time, °C, in buckets: as the rules had it from the pressures that were
 * known at each moment. Where a bucket holds readings of the pressure that counts, it spans their extremes.
 */
export function boilingHistory(
  history: PressureHistory,
  { t: times, stepMs, endMs }: { t: readonly number[]; stepMs: number; endMs: number },
): BoilingHistory {
  const own = spansOf('vessel-pressure', history.own);
  const ambient = spansOf('ambient-pressure', history.ambient);
  const out: BoilingHistory = { t: [], min: [], mean: [], max: [], from: [], stepMs };
  for (const t of times) {
    const lastMs = Math.max(t, Math.min(t + stepMs - 1, endMs));
    const stay = history.stays.find(({ fromMs, toMs }) => fromMs <= lastMs && toMs >= t);
    const recovers = history.recovering.some(({ fromMs, toMs }) => fromMs <= lastMs && toMs >= t);
    const inside = pressureDuring(own, t, lastMs);
    const held =
      inside !== undefined &&
      (inside.endMs >= t - VESSEL_PRESSURE_MAX_AGE_MS ||
        (stay !== undefined && inside.endMs >= stay.fromMs && (recovers || inside.mean < VACUUM_HPA)));
    out.t.push(t);
    if (held) {
      push(out, inside, 'vessel');
      continue;
    }
    const stated = stay?.stated ?? history.site.findLast(({ atMs }) => atMs <= lastMs)?.stated ?? null;
    const outside = pressureDuring(ambient, t, lastMs);
    const atMs = outside === undefined ? t : Math.max(t, outside.endMs);
    const air = (hPa: number) =>
      boilingInAir(stated, outside === undefined ? null : { hPa, atMs: outside.endMs }, atMs);
    const mean = air(outside?.mean ?? 0);
    if (outside !== undefined && mean.pressureHPa === outside.mean && !mean.assumed) {
      push(out, outside, 'barometer');
    } else {
      const { pressureHPa } = mean;
      const level = { least: pressureHPa, mean: pressureHPa, most: pressureHPa };
      push(out, level, stated === null ? 'assumed' : 'stated');
    }
  }
  return out;
}

/** How far back a pressure may still count at the beginning of a time, ms. */
export const PRESSURE_LOOKS_BACK_MS = AMBIENT_MAX_AGE_MS;

let latest = { pressureHPa: Number.NaN, boilingC: Number.NaN };
function boilingC(pressureHPa: number): number {
  if (pressureHPa !== latest.pressureHPa)
    latest = { pressureHPa, boilingC: methanolBoilingC({ pressureHPa }) };
  return latest.boilingC;
}

function push(
  out: BoilingHistory,
  { least, mean, most }: Pick<Span, 'least' | 'mean' | 'most'>,
  from: PressureFrom,
): void {
  const atMean = boilingC(mean);
  out.mean.push(atMean);
  out.min.push(least === mean ? atMean : boilingC(least));
  out.max.push(most === mean ? atMean : boilingC(most));
  out.from.push(from);
}

/** Buckets that hold sound pressures alone, ascending. */
function spansOf(channel: string, all: readonly Buckets[]): Span[] {
  return all
    .flatMap(({ t, min, mean, max, stepMs }) =>
      t.map((atMs, i) => ({
        atMs,
        endMs: atMs + stepMs - 1,
        least: min[i]!,
        mean: mean[i]!,
        most: max[i]!,
      })),
    )
    .filter(({ least, most }) => inRange(channel, least) && inRange(channel, most))
    .sort((a, b) => a.atMs - b.atMs);
}

/** What was said in a time, all of it together; else what was said last before it. */
function pressureDuring(spans: readonly Span[], fromMs: number, toMs: number): Span | undefined {
  let low = 0;
  let high = spans.length;
  while (low < high) {
    const middle = (low + high) >>> 1;
    if (spans[middle]!.atMs <= toMs) low = middle + 1;
    else high = middle;
  }
  const last = spans[low - 1];
  if (last === undefined || last.endMs < fromMs) return last;
  let joined = { ...last };
  let mean = last.mean;
  let count = 1;
  for (let i = low - 2; i >= 0 && spans[i]!.endMs >= fromMs; i--) {
    const { least, most } = spans[i]!;
    joined = { ...joined, least: Math.min(joined.least, least), most: Math.max(joined.most, most) };
    mean += spans[i]!.mean;
    count++;
  }
  return { ...joined, mean: mean / count };
}
