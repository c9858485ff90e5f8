import type { Alarm } from '../../shared/wire/api.ts';
import type { DeedMark, Timeline } from '../../shared/wire/history.ts';
import { channelKind, type Stage } from '../../shared/wire/names.ts';
import { alarmSentence } from '../alarm-sentence.ts';
import { hourCycle, unit } from '../settings.ts';
import { deedWord, entryWord, HISTORY, unitOf } from '../texts/history.ts';
import { PRIORITY_WORDS, STAGE_NAMES } from '../texts/live.ts';
import { clockTime, dayMonthAndYear, decimal, degree, toUnit } from '../units.ts';
import { degreesApart } from '../views/words.ts';
import type { FeedState } from './feed.ts';
import type { Mark } from './marks.ts';
import type { Columns } from './series.ts';
import { summary, valueAt } from './series.ts';
import type { Window } from './view.ts';

/** What charts show, in words and in the reader's units. */

export const isTemperature = (channel: string): boolean => channelKind(channel) === 'temperature';

/** From the stored unit to the reader's. */
export const shownOf = (channel: string): ((value: number) => number) => {
  const chosen = unit.value;
  return isTemperature(channel) ? (value) => toUnit(value, chosen) : (value) => value;
};

export const unitText = (channel: string): string =>
  isTemperature(channel) ? degree(unit.value) : unitOf(channel);

/** A value without its unit. */
function numberText(channel: string, value: number): string {
  const kind = channelKind(channel);
  if (kind === 'temperature') return decimal(toUnit(value, unit.value), 1);
  if (kind === 'switch') {
    if (value <= 0) return HISTORY.off;
    return value >= 1 ? HISTORY.on : HISTORY.partly(decimal(100 * value, 0));
  }
  if (kind === 'current') return decimal(value, 2);
  const digits = kind === 'pressure' ? 1 : Math.abs(value) >= 100 || Number.isInteger(value) ? 0 : 1;
  return decimal(value, digits);
}

/** What is written behind a value of a channel. */
function unitAfter(channel: string): string {
  const text = channelKind(channel) === 'switch' ? '' : unitText(channel);
  return text === '' ? '' : `\u00a0${text}`;
}

/** On an axis whose ticks are so far apart. */
export const axisText = (value: number, step: number): string =>
  decimal(value, step >= 1 || step === 0 ? 0 : step >= 0.1 ? 1 : 2);

/** What a channel said at a moment: one value, or from which to which. */
export function saidAt(channel: string, columns: Columns, ms: number, gapMs: number): string {
  const found = valueAt(columns, ms, gapMs);
  if (found === undefined) return HISTORY.nothingThere;
  if (channelKind(channel) === 'switch') return numberText(channel, found.mean);
  const least = numberText(channel, found.min);
  const most = numberText(channel, found.max);
  return (least === most ? most : HISTORY.spread(least, most)) + unitAfter(channel);
}

/** Least and most of what is shown. */
export function extremesOf(channel: string, columns: Columns, { fromMs, toMs }: Window) {
  const found = summary(columns, fromMs, toMs);
  return found === undefined
    ? undefined
    : {
        last: numberText(channel, found.last) + unitAfter(channel),
        extremes:
          HISTORY.extremes(numberText(channel, found.least), numberText(channel, found.most)) +
          unitAfter(channel),
      };
}

/**
 * What is to be said of a stretch of time in which no reading is known, or of which not all is. That there was none is
 * said only where that is known: `untilMs` is up to when the daemon was heard.
 */
export function lackOf(
  state: FeedState,
  isEmpty: boolean,
  { fromMs }: Window,
  untilMs: number,
): string | undefined {
  if (state === 'failed') return HISTORY.failed;
  if (state === 'unfit') return HISTORY.unfit;
  if (!isEmpty) return undefined;
  if (state === 'loading') return HISTORY.loading;
  return fromMs >= untilMs ? HISTORY.unheard : HISTORY.none;
}

/** How far below boiling the hottest probe was at a moment, where both are known. */
export function belowBoilingAt(
  probes: readonly { columns: Columns; gapMs: number }[],
  boiling: Columns | undefined,
  ms: number,
): string | undefined {
  const boils = boiling === undefined ? undefined : valueAt({ ...boiling, stepMs: 1 }, ms, Number.MAX_VALUE);
  const hottest = probes
    .flatMap(({ columns, gapMs }) => valueAt(columns, ms, gapMs)?.max ?? [])
    .reduce((a, b) => Math.max(a, b), Number.NEGATIVE_INFINITY);
  if (boils === undefined || !Number.isFinite(hottest)) return undefined;
  const apart = boils.min - hottest;
  return apart >= 0 ? HISTORY.belowBoiling(degreesApart(apart)) : HISTORY.aboveBoiling(degreesApart(-apart));
}

/** A moment with its day and year, to the second. */
export const fullTime = (ms: number): string =>
  `${dayMonthAndYear(ms)}, ${clockTime(ms, hourCycle.value, 'second')}`;

export const stageAt = (timeline: Timeline | undefined, ms: number): Stage | undefined =>
  timeline?.stages.findLast(({ from, to }) => Date.parse(from) <= ms && (to === null || Date.parse(to) >= ms))
    ?.stage;

// ---- alarms and deeds ----

export type AlarmMark = Mark & { kind: 'alarm'; alarm: Alarm };
export type DeedOnAxis = Mark & { kind: 'deed'; deed: DeedMark };
export type AnyMark = AlarmMark | DeedOnAxis;

export const alarmMarks = (timeline: Timeline | undefined): AlarmMark[] =>
  (timeline?.alarms ?? []).map((alarm) => ({
    kind: 'alarm',
    id: alarm.id,
    ms: Date.parse(alarm.at),
    priority: alarm.priority,
    alarm,
  }));

export const deedMarks = (timeline: Timeline | undefined): DeedOnAxis[] =>
  (timeline?.deeds ?? []).map((deed, i) => ({
    kind: 'deed',
    id: `${i} ${deed.at} ${deed.what}`,
    ms: Date.parse(deed.at),
    priority: null,
    deed,
  }));

export function markText(mark: AnyMark): string {
  if (mark.kind === 'alarm')
    return `${PRIORITY_WORDS[mark.alarm.priority]}: ${alarmSentence(mark.alarm, unit.value).because}`;
  const { what, stage, entry, reason } = mark.deed;
  const detail = stage !== null ? STAGE_NAMES[stage] : entry !== null ? entryWord(entry) : undefined;
  const said = detail === undefined ? deedWord(what) : `${deedWord(what)}: ${detail}`;
  return reason === null ? said : `${said} (‘${reason}’)`;
}
