import type { AlarmMeasures } from '../../shared/wire/alarm-measures.ts';
import { PRIORITIES, type Priority } from '../../shared/wire/names.ts';
import { isoTime } from '../../shared/wire/time.ts';
import type { AlarmHistory, AlarmMoment, AlarmSpan } from '../store/store.ts';
import { ALARM_TARGETS } from './alarm-targets.ts';

const TEN_MINUTES_MS = 600_000;
const DAY_MS = 86_400_000;
const HOUR_MS = 3_600_000;
/** More alarms than this in ten minutes are a flood. */
const FLOOD = 10;
const MOST_FREQUENT = 10;
const LONGEST = 10;
/** Raised so often … */
const CHATTER = 3;
/** … within this time, ms, an alarm chatters: practice, not the standard. */
const CHATTER_MS = 60_000;
/** Standing for longer than this, ms, an alarm is stale. */
const STALE_MS = DAY_MS;

/**
 * The measures of ISA-18.2 and IEC 62682 over a time, from what the rules said in it. People are told when
 * something arrives; an alarm stands and chatters by the time of its readings. Days and spans of ten minutes
 * are those of UTC that the time touches.
 */
export function alarmMeasures(history: AlarmHistory): AlarmMeasures {
  const { fromMs, toMs, moments, spans } = history;
  const told = moments.filter((moment) => moment.told && moment.event !== 'cleared');
  const { explained, isLateAndOver } = notTold(moments);
  const alarms = told.filter((moment) => !isLateAndOver(moment));
  const lengthMs = toMs - fromMs;
  const times = alarms.map(({ arrivedMs }) => arrivedMs);
  return {
    from: isoTime(fromMs),
    to: isoTime(toMs),
    days: lengthMs / DAY_MS,
    complete: history.complete && !(history.moreSpans && isStale(spans.at(-1)!, toMs)),
    alarms: alarms.length,
    notTold: { explained, lateAndOver: told.length - alarms.length },
    perDay: perDay(times, fromMs, toMs),
    perTenMinutes: perTenMinutes(times, fromMs, toMs),
    byPriority: byPriority(alarms),
    mostFrequent: mostFrequent(alarms),
    longestStanding: [...spans]
      .sort((a, b) => standingMs(b, toMs) - standingMs(a, toMs))
      .slice(0, LONGEST)
      .map((span) => ({
        site: span.site,
        vessel: span.vessel,
        alarm: span.alarm,
        id: span.id,
        at: isoTime(span.atMs),
        clearedAt: span.clearedAtMs === null ? null : isoTime(span.clearedAtMs),
        hours: standingMs(span, toMs) / HOUR_MS,
      })),
    stale: stale(spans, fromMs, toMs),
    chattering: chattering(moments),
    targets: [...ALARM_TARGETS],
  };
}

/** What was raised and told nobody. Late and over: it was over when what it came with had been taken in. */
function notTold(moments: readonly AlarmMoment[]): {
  explained: number;
  isLateAndOver: (moment: AlarmMoment) => boolean;
} {
  const overAt = new Map(
    moments.filter(({ event }) => event === 'cleared').map(({ id, arrivedMs }) => [id, arrivedMs]),
  );
  return {
    explained: moments.filter(({ event, told }) => event === 'raised' && !told).length,
    isLateAndOver: ({ id, late, arrivedMs }) => late && overAt.get(id) === arrivedMs,
  };
}

/** The spans of a length since the epoch that a time touches, each with how many of the times are in it. */
function counted(times: readonly number[], lengthMs: number, fromMs: number, toMs: number) {
  const first = Math.floor(fromMs / lengthMs);
  const counts = new Array<number>(Math.floor(toMs / lengthMs) - first + 1).fill(0);
  for (const ms of times) counts[Math.floor(ms / lengthMs) - first]!++;
  const most = counts.reduce((a, b) => Math.max(a, b), 0);
  const highest = most === 0 ? null : { atMs: (first + counts.indexOf(most)) * lengthMs, count: most };
  return { first, counts, highest };
}

function perDay(times: readonly number[], fromMs: number, toMs: number): AlarmMeasures['perDay'] {
  const { first, counts, highest } = counted(times, DAY_MS, fromMs, toMs);
  return {
    // Less than a day counts as one: an alarm of the first minute is not 1,440 a day.
    mean: times.length / Math.max(1, (toMs - fromMs) / DAY_MS),
    highest: highest && { day: dayOf(highest.atMs), count: highest.count },
    counts: counts.map((count, i) => ({ day: dayOf((first + i) * DAY_MS), count })),
  };
}

const dayOf = (ms: number): string => isoTime(ms).slice(0, 10);

function perTenMinutes(
  times: readonly number[],
  fromMs: number,
  toMs: number,
): AlarmMeasures['perTenMinutes'] {
  const { counts, highest } = counted(times, TEN_MINUTES_MS, fromMs, toMs);
  return {
    mean: times.length / Math.max(1, (toMs - fromMs) / TEN_MINUTES_MS),
    highest: highest && { at: isoTime(highest.atMs), count: highest.count },
    floodPercent: (100 * counts.filter((count) => count > FLOOD).length) / counts.length,
  };
}

function byPriority(alarms: readonly AlarmMoment[]): AlarmMeasures['byPriority'] {
  const of = (priority: Priority) => {
    const count = alarms.filter((alarm) => alarm.priority === priority).length;
    return { count, percent: alarms.length === 0 ? null : (100 * count) / alarms.length };
  };
  return Object.fromEntries(
    PRIORITIES.map((priority) => [priority, of(priority)]),
  ) as AlarmMeasures['byPriority'];
}

/** Alarms by their place and name, since two vessels have the same names. */
function grouped(moments: readonly AlarmMoment[]): Map<string, AlarmMoment[]> {
  const groups = new Map<string, AlarmMoment[]>();
  for (const moment of moments) {
    const key = `${moment.site} ${moment.vessel} ${moment.alarm}`;
    const group = groups.get(key);
    if (group === undefined) groups.set(key, [moment]);
    else group.push(moment);
  }
  return groups;
}

const placeOf = ({ site, vessel, alarm }: AlarmMoment) => ({ site, vessel, alarm });

function mostFrequent(alarms: readonly AlarmMoment[]): AlarmMeasures['mostFrequent'] {
  const most = [...grouped(alarms).values()].sort((a, b) => b.length - a.length).slice(0, MOST_FREQUENT);
  const percentOf = (count: number): number => (100 * count) / alarms.length;
  return {
    percent: alarms.length === 0 ? null : percentOf(most.reduce((sum, { length }) => sum + length, 0)),
    alarms: most.map((group) => ({
      ...placeOf(group[0]!),
      count: group.length,
      percent: percentOf(group.length),
    })),
  };
}

const endOf = ({ clearedAtMs }: AlarmSpan, toMs: number): number => Math.min(clearedAtMs ?? toMs, toMs);

const standingMs = (span: AlarmSpan, toMs: number): number => endOf(span, toMs) - span.atMs;

const isStale = (span: AlarmSpan, toMs: number): boolean => standingMs(span, toMs) > STALE_MS;

function stale(spans: readonly AlarmSpan[], fromMs: number, toMs: number): AlarmMeasures['stale'] {
  const perDay = new Map<number, number>();
  let alarms = 0;
  for (const span of spans) {
    const endMs = endOf(span, toMs);
    const staleFromMs = Math.max(span.atMs + STALE_MS, fromMs);
    if (!isStale(span, toMs) || endMs < staleFromMs) continue;
    alarms++;
    for (let day = Math.floor(staleFromMs / DAY_MS); day <= Math.floor(endMs / DAY_MS); day++) {
      perDay.set(day, (perDay.get(day) ?? 0) + 1);
    }
  }
  return { alarms, mostOnOneDay: Math.max(0, ...perDay.values()) };
}

/** By what came and went, told or not: one that becomes graver while it stands is no second raising. */
function chattering(moments: readonly AlarmMoment[]): AlarmMeasures['chattering'] {
  const chatterers: AlarmMeasures['chattering'] = [];
  for (const group of grouped(moments.filter(({ event }) => event === 'raised')).values()) {
    const firsts = new Map<string, number>();
    for (const { id, atMs } of group) firsts.set(id, Math.min(atMs, firsts.get(id) ?? atMs));
    const times = [...firsts.values()].sort((a, b) => a - b);
    let most = 0;
    for (let first = 0, last = 0; last < times.length; last++) {
      while (times[last]! - times[first]! > CHATTER_MS) first++;
      most = Math.max(most, last - first + 1);
    }
    if (most >= CHATTER) chatterers.push({ ...placeOf(group[0]!), most });
  }
  return chatterers.sort((a, b) => b.most - a.most);
}
