import { bucketsSchema, rawReadingsSchema } from '../../shared/wire/api.ts';
import { boilingSchema, type Timeline, timelineSchema } from '../../shared/wire/history.ts';
import { call } from '../api.ts';
import { type Columns, columnsOf } from './series.ts';
import type { Wanted, Window } from './view.ts';

/** What charts ask of the daemon. */

const iso = (ms: number): string => new Date(ms).toISOString();
const of = (vessel: string, what: string, query: Record<string, string>): string =>
  `vessels/${encodeURIComponent(vessel)}/${what}?${new URLSearchParams(query)}`;

export async function fetchReadings(vessel: string, channel: string, wanted: Wanted): Promise<Columns> {
  const { fromMs, toMs, points } = wanted;
  const path = of(vessel, 'readings', { channel, from: iso(fromMs), to: iso(toMs), points: String(points) });
  if (points === 'raw') return columnsOf(await call(rawReadingsSchema, path));
  const { t, min, mean, max, stepMs } = await call(bucketsSchema, path);
  return { t, min, mean, max, stepMs, live: t.map(() => 0) };
}

/** The boiling point's buckets among single readings. */
const BOILING_POINTS = 600;

export async function fetchBoiling(vessel: string, { fromMs, toMs, points }: Wanted): Promise<Columns> {
  const isRaw = points === 'raw';
  const query = { from: iso(fromMs), to: iso(toMs), points: String(isRaw ? BOILING_POINTS : points) };
  const { t, min, mean, max, stepMs } = await call(boilingSchema, of(vessel, 'boiling', query));
  return { t, min, mean, max, stepMs: isRaw ? 0 : stepMs, live: t.map(() => 0) };
}

export const fetchTimeline = (vessel: string, { fromMs, toMs }: Window): Promise<Timeline> =>
  call(timelineSchema, of(vessel, 'timeline', { from: iso(fromMs), to: iso(toMs) }));

/** Every reading of a stretch of time as a file. */
export const csvHref = (vessel: string, channel: string, { fromMs, toMs }: Window): string =>
  `/api/v1/${of(vessel, 'readings.csv', { channel, from: iso(Math.floor(fromMs)), to: iso(Math.ceil(toMs)) })}`;

/** Before this nobody measured. */
const BEGINNING_MS = Date.UTC(2000, 0, 1);
const POINTS = 1000;
/** Each a thousandth of the one before. */
const LOOKS = 3;

/** When the first reading of any of the channels was, to within seconds; undefined where there is none. */
export async function fetchEarliest(
  vessel: string,
  channels: readonly string[],
  nowMs: number,
): Promise<number | undefined> {
  const firsts = await Promise.all(
    channels.map(async (channel) => {
      let range: Window = { fromMs: BEGINNING_MS, toMs: Math.ceil(nowMs) };
      for (let look = 0; look < LOOKS; look++) {
        const { t, stepMs } = await fetchReadings(vessel, channel, { ...range, points: POINTS });
        if (t[0] === undefined) return undefined;
        range = { fromMs: t[0], toMs: t[0] + stepMs };
      }
      return range.fromMs;
    }),
  );
  const known = firsts.flatMap((first) => first ?? []);
  return known.length === 0 ? undefined : Math.min(...known);
}
