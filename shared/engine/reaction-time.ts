import { reactionRate } from '../chemistry/kinetics.ts';
import type { WatchPlan } from '../plan/watch-plan.ts';
import { mixingChannel } from './channels.ts';
import { lostMs } from './drive.ts';
import type { PassState, ReactionTime, SampleColumns, Samples, SiteState, VesselState } from './state.ts';

export const noReactionTime = (): ReactionTime => ({
  elapsedMs: 0,
  earnedMs: 0,
  weightedMs: 0,
  notMixedMs: 0,
  boilingMs: 0,
  noReadingsMs: 0,
});

/** Credited time, ms: never more than the time itself, less where the mix was colder than planned. */
export const creditedMs = (time: ReactionTime): number => Math.min(time.earnedMs, time.weightedMs);

/** Time in `react` of a batch's present pass, all its vessels together, up to `nowMs`. */
export function passReactionTime(site: SiteState, pass: PassState, nowMs: number): ReactionTime {
  const total = { ...pass.banked };
  for (const span of pass.spans) {
    const vessel = site.vessels[span.vessel];
    if (vessel) add(total, spanReactionTime(vessel, span.fromMs, span.toMs ?? nowMs));
  }
  return total;
}

export function add(total: ReactionTime, part: ReactionTime): void {
  for (const key in part) total[key as keyof ReactionTime] += part[key as keyof ReactionTime];
}

/**
 * What the samples of a vessel show of the time between two moments. Time counts where a segment
 * between two temperatures and one between two speeds both cover it without a gap, both ends of the
 * one below boiling and both ends of the other at speed, the coupling not lost.
 */
export function spanReactionTime(vessel: VesselState, fromMs: number, toMs: number): ReactionTime {
  const time = noReactionTime();
  if (!(toMs > fromMs)) return time;
  time.elapsedMs = toMs - fromMs;
  const plan = vessel.plan;
  mergeLate(vessel.samples);
  const { temperature: temp, mixing } = vessel.samples;
  const stated = mixingChannel(vessel) === undefined && plan?.mixingStated === true;
  const plannedC = plan?.reactionTemperatureC ?? 55;
  let shownMs = 0;
  let m = 1;
  for (let i = firstAfter(temp.t, fromMs); i < temp.t.length && temp.t[i - 1]! < toMs; i++) {
    const start = Math.max(temp.t[i - 1]!, fromMs);
    const end = Math.min(temp.t[i]!, toMs);
    if (temp.t[i]! - temp.t[i - 1]! > temp.hold[i]!) continue;
    const below = temp.below[i - 1]! && temp.below[i]!;
    const rate = (rateAt(temp.c[i - 1]!, plannedC) + rateAt(temp.c[i]!, plannedC)) / 2;
    if (stated) {
      shownMs += end - start;
      count(time, end - start, below, rate);
      continue;
    }
    while (m < mixing.t.length && mixing.t[m]! <= start) m++;
    for (let k = m; k < mixing.t.length && mixing.t[k - 1]! < end; k++) {
      const length = Math.min(end, mixing.t[k]!) - Math.max(start, mixing.t[k - 1]!);
      if (length <= 0 || mixing.t[k]! - mixing.t[k - 1]! > mixing.hold[k]!) continue;
      shownMs += length;
      const atSpeed = mixing.ratio[k - 1]! >= 1 && mixing.ratio[k]! >= 1;
      const idleMs = atSpeed
        ? lostMs(vessel, Math.max(start, mixing.t[k - 1]!), Math.min(end, mixing.t[k]!))
        : length;
      time.notMixedMs += idleMs;
      count(time, length - idleMs, below, rate);
    }
  }
  time.noReadingsMs = time.elapsedMs - shownMs;
  return time;
}

/** What the samples show of mixing, without a gap, in the `methoxide` stage under way, ms. */
export function methoxideMixedMs({ stageAtMs, samples }: VesselState): number {
  mergeLate(samples);
  const { mixing } = samples;
  let ms = 0;
  for (let i = firstAfter(mixing.t, stageAtMs); i < mixing.t.length; i++) {
    const gap = mixing.t[i]! - mixing.t[i - 1]!;
    const isMixed = mixing.ratio[i - 1]! >= 1 && mixing.ratio[i]! >= 1 && gap <= mixing.hold[i]!;
    if (isMixed) ms += mixing.t[i]! - Math.max(mixing.t[i - 1]!, stageAtMs);
  }
  return ms;
}

const rateAt = (temperatureC: number, plannedC: number): number => reactionRate({ temperatureC, plannedC });

function count(time: ReactionTime, ms: number, below: boolean, rate: number): void {
  if (!below) {
    time.boilingMs += ms;
    return;
  }
  time.earnedMs += ms;
  time.weightedMs += ms * rate;
}

/** Index of the first sample after `ms`, but at least 1: the end of the first segment that reaches past it. */
function firstAfter(t: readonly number[], ms: number): number {
  let low = 1;
  let high = t.length;
  while (low < high) {
    const middle = (low + high) >> 1;
    if (t[middle]! <= ms) low = middle + 1;
    else high = middle;
  }
  return low;
}

// ---- samples ----

export const noSamples = (): SampleColumns => ({
  temperature: { t: [], c: [], below: [], hold: [] },
  mixing: { t: [], ratio: [], hold: [] },
});

/** The most samples of a column that are kept: over 13 h at 5 a second. Beyond, the oldest go. */
const MOST_SAMPLES = 250_000;
/** A sample with no more than so many after it is put in its place at once: so few are moved quickly. */
const NEAR_END = 1000;
/** So many that belong further back are put there together: what lies after them is moved once for all. */
const MOST_LATE = 500;

type Column = (number | boolean)[];

/** Puts a sample where its time belongs; a time that is there already stays as it was. */
export function addSample<K extends keyof SampleColumns>(
  samples: Samples,
  kind: K,
  sample: { [C in keyof SampleColumns[K]]: number | boolean },
): void {
  const { t } = samples[kind];
  const atMs = sample.t as number;
  const index = placeOf(t, atMs);
  if (t[index - 1] === atMs) return;
  const lateCount = samples.late?.[kind].t.length ?? 0;
  // Where the oldest has to go, it must be known.
  const isFull = t.length + lateCount >= MOST_SAMPLES;
  if (!isFull && t.length - index > NEAR_END) {
    addLate(samples, kind, sample);
    return;
  }
  if (isFull && lateCount > 0) {
    mergeLate(samples);
    addSample(samples, kind, sample);
    return;
  }
  // It would go at once.
  if (isFull && index === 0) return;
  insert(samples[kind], index, sample);
  if (isFull) for (const column of Object.values(samples[kind]) as Column[]) column.shift();
}

function addLate<K extends keyof SampleColumns>(
  samples: Samples,
  kind: K,
  sample: { [C in keyof SampleColumns[K]]: number | boolean },
): void {
  samples.late ??= noSamples();
  const late = samples.late[kind];
  const atMs = sample.t as number;
  const index = placeOf(late.t, atMs);
  if (late.t[index - 1] === atMs) return;
  insert(late, index, sample);
  if (late.t.length >= MOST_LATE) mergeLate(samples);
}

function insert<C extends object>(
  columns: C,
  index: number,
  sample: { [K in keyof C]: number | boolean },
): void {
  for (const key in columns) {
    const column = columns[key] as unknown as Column;
    if (index === column.length) column.push(sample[key]);
    else column.splice(index, 0, sample[key]);
  }
}

/** Puts the late samples into the columns, in place. */
export function mergeLate(samples: Samples): void {
  const { late } = samples;
  if (late === undefined) return;
  delete samples.late;
  for (const kind of ['temperature', 'mixing'] as const) {
    const columns = samples[kind] as Record<string, Column>;
    const added = late[kind] as Record<string, Column>;
    const places = late[kind].t.map((ms) => placeOf(samples[kind].t, ms));
    for (const key in columns) putIn(columns[key]!, places, added[key]!);
  }
}

/** Puts values before those that are at the places now, ascending; each value is moved once, from the end on. */
function putIn(column: Column, places: readonly number[], values: readonly (number | boolean)[]): void {
  let from = column.length;
  for (const value of values) column.push(value);
  for (let n = values.length - 1; n >= 0; n--) {
    const place = places[n]!;
    while (from > place) {
      from--;
      column[from + n + 1] = column[from]!;
    }
    column[place + n] = values[n]!;
  }
}

/** How many of these times are not after `ms`: the place of one that comes then. */
function placeOf(t: readonly number[], ms: number): number {
  return t.length === 0 || ms < t[0]! ? 0 : firstAfter(t, ms);
}

/** The temperature before a time, whether it came in order or late. */
export function temperatureBefore(samples: Samples, ms: number): { t: number; c: number } | null {
  let before: { t: number; c: number } | null = null;
  for (const columns of [samples.temperature, samples.late?.temperature]) {
    if (columns === undefined) continue;
    const { t, c } = columns;
    let index = placeOf(t, ms) - 1;
    // A sample of that very time is not before it.
    if (t[index] === ms) index--;
    if (index >= 0 && (before === null || t[index]! > before.t)) before = { t: t[index]!, c: c[index]! };
  }
  return before;
}

/** Drops what lies before a time, but for the last sample before it, which the first segment needs. */
export function dropSamplesBefore(samples: Samples, ms: number): void {
  mergeLate(samples);
  for (const columns of [samples.temperature, samples.mixing]) {
    const drop = firstAfter(columns.t, ms) - 1;
    if (drop <= 0 || columns.t.length < 2) continue;
    for (const column of Object.values(columns)) column.splice(0, drop);
  }
}

export const plannedReactionMs = (plan: WatchPlan): number => plan.requiredReactionMinutes * 60_000;
