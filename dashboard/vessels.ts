import { withTold } from '../shared/engine/told.ts';
import type { Alarm, Forwarded, LiveMessage, Vessel } from '../shared/wire/api.ts';
import { isLiquidTemperature, PRIORITIES, type Priority, type Stage } from '../shared/wire/names.ts';
import type { NotCounting } from './texts/live.ts';

/** What the page works out from the vessels it was given; pure. */

export type Vessels = ReadonlyMap<string, Vessel>;

/** What is shown of a forwarded site is called old after this, ms. */
const PICTURE_OLD_MS = 60_000;

/** Whether what is shown of a forwarded site may not be taken for what it is like now; as of then by the clock here. */
export const isOldPicture = ({ asOf }: Forwarded, nowMs: number): boolean =>
  nowMs - Date.parse(asOf) > PICTURE_OLD_MS;

/**
 * A vessel of a forwarded site with the times of what it shows by the clock here, from how old they were when they
 * came: the site's own clock may be another. A vessel that is watched here is as it is.
 */
export function byClockHere<T extends Vessel>(vessel: T, nowMs: number): T {
  const { forwarded } = vessel;
  if (forwarded === undefined) return vessel;
  const at = (ageMs: number): string => new Date(nowMs - ageMs).toISOString();
  return {
    ...vessel,
    readings: Object.fromEntries(
      Object.entries(vessel.readings).map(([channel, reading]) => [
        channel,
        { ...reading, at: at(reading.ageMs) },
      ]),
    ),
    forwarded: { ...forwarded, asOf: at(forwarded.ageMs) },
  };
}

/** The key a vessel goes by on the wire and here: SITE:VESSEL. */
export const keyOf = (at: { site: string; vessel: string }): string => `${at.site}:${at.vessel}`;

const rank = (priority: Priority): number => PRIORITIES.indexOf(priority);

/** Those that still hold first, of these the gravest, then the newest. */
export const byGravity = (a: Alarm, b: Alarm): number =>
  Number(b.standing) - Number(a.standing) ||
  rank(b.priority) - rank(a.priority) ||
  Date.parse(b.at) - Date.parse(a.at);

/** Alarms of all vessels that a person must know of, in the order of `byGravity`. */
export const alarmsOf = (vessels: Iterable<Vessel>): Alarm[] =>
  [...vessels].flatMap((vessel) => vessel.alarms).sort(byGravity);

/** The gravest that stands, of those that anybody is to be told of. */
export const gravestStanding = (alarms: readonly Alarm[]): Alarm | undefined =>
  alarms.filter((alarm) => alarm.standing && alarm.told).sort(byGravity)[0];

function withAlarm(alarms: readonly Alarm[], message: Extract<LiveMessage, { type: 'alarm' }>): Alarm[] {
  const { type: _, ...fields } = message;
  const known = alarms.find((alarm) => alarm.id === fields.id);
  const others = alarms.filter((alarm) => alarm.id !== fields.id);
  if (fields.event === 'cleared') {
    if (known === undefined || known.acknowledged !== null) return others;
    const cleared = withTold({ ...known, standing: false, clearedAt: fields.at, shelved: null });
    return [...others, cleared].sort(byGravity);
  }
  const raised: Alarm = {
    ...fields,
    clearedAt: null,
    standing: true,
    acknowledged: known?.acknowledged ?? null,
    shelved: fields.told ? null : (known?.shelved ?? null),
  };
  return [...others, raised].sort(byGravity);
}

/** The vessels after a live message; the same map where it changes none. */
export function applyMessage(vessels: Vessels, message: LiveMessage): Vessels {
  if (message.type === 'estimate') {
    const { type: _, ...vessel } = message;
    return new Map(vessels).set(keyOf(vessel), vessel);
  }
  if (message.type === 'alarm') {
    const vessel = vessels.get(keyOf(message));
    if (vessel === undefined) return vessels;
    return new Map(vessels).set(keyOf(vessel), { ...vessel, alarms: withAlarm(vessel.alarms, message) });
  }
  return vessels;
}

/** For the overview: who needs a person first, then batches under way, then by name. */
export function inOrder(vessels: Iterable<Vessel>): Vessel[] {
  const gravity = (vessel: Vessel): number => {
    const gravest = gravestStanding(vessel.alarms);
    return gravest === undefined ? -1 : rank(gravest.priority);
  };
  return [...vessels].sort(
    (a, b) =>
      gravity(b) - gravity(a) ||
      Number(b.batch !== null) - Number(a.batch !== null) ||
      keyOf(a).localeCompare(keyOf(b)),
  );
}

/** The reading that the liquid's temperature comes from: the one of that value, else the newest. */
export function liquidReading(vessel: Vessel): { at: number; typed: boolean } | undefined {
  const found = Object.entries(vessel.readings)
    .filter(([channel]) => isLiquidTemperature(channel))
    .map(([, reading]) => reading)
    .sort((a, b) => Date.parse(b.at) - Date.parse(a.at));
  const reading = found.find(({ value }) => value === vessel.liquidC) ?? found[0];
  return reading === undefined ? undefined : { at: Date.parse(reading.at), typed: reading.typed };
}

/**
 * Whether it can be said that nothing is wrong: no alarm stands, be it told, set aside or said by another, and the
 * liquid was soundly read within `freshMs`.
 */
export function isCalm(vessel: Vessel, nowMs: number, freshMs: number): boolean {
  const isRead = Object.entries(vessel.readings).some(
    ([channel, { sound, at }]) => isLiquidTemperature(channel) && sound && nowMs - Date.parse(at) <= freshMs,
  );
  return isRead && vessel.liquidC !== null && vessel.alarms.every(({ standing }) => !standing);
}

/** Nearer to boiling than this a planned temperature deserves a word, °C: common practice, no source. */
const NEAR_BOILING_C = 3;

/** Whether a planned temperature reaches methanol's boiling point, or comes near it. */
export const plannedNearBoiling = (plannedC: number, boilingC: number): 'boils' | 'near' | undefined =>
  plannedC >= boilingC ? 'boils' : plannedC >= boilingC - NEAR_BOILING_C ? 'near' : undefined;

/** Why no reaction time is counted at present; undefined where it is, or where none is wanted. */
export function notCountingNow(vessel: Vessel): NotCounting | undefined {
  const credit = vessel.counted.reactionMinutes;
  if (vessel.stage !== 'react' || credit === null) return undefined;
  if (credit.enoughAt !== null || credit.has >= credit.needs) return undefined;
  if (vessel.liquidC === null) return 'no-readings';
  if (vessel.liquidC >= vessel.boilingC) return 'boiling';
  if (vessel.mixing === null) return 'no-stirrer';
  return vessel.mixing.state === 'at-speed' ? 'no-readings' : vessel.mixing.state;
}

/** What the largest line of a vessel says. */
export type Headline =
  | { kind: 'below-boiling'; headroomC: number }
  | { kind: 'dosing-allowed'; onceDry: boolean }
  | { kind: 'dosing-in'; minutes: number; onceDry: boolean }
  | { kind: 'dosing-not-yet'; tooHot: boolean }
  | { kind: 'temperature'; liquidC: number }
  | { kind: 'no-reading' };

/** `next` is the stage that usually follows: before dewatering no oil is ready for methoxide. */
export function headlineOf(vessel: Vessel, next: Stage | undefined): Headline {
  if (vessel.methanolPresent) {
    return vessel.headroomC === null
      ? { kind: 'no-reading' }
      : { kind: 'below-boiling', headroomC: vessel.headroomC };
  }
  if (vessel.dosing !== null && vessel.liquidC !== null) {
    const onceDry = next === 'dry-oil';
    if (vessel.dosing.allowed) return { kind: 'dosing-allowed', onceDry };
    if (vessel.dosing.readyInMinutes !== null) {
      return { kind: 'dosing-in', minutes: vessel.dosing.readyInMinutes, onceDry };
    }
    return {
      kind: 'dosing-not-yet',
      tooHot: vessel.planned !== null && vessel.liquidC > vessel.planned.highestDosingC,
    };
  }
  return vessel.liquidC === null ? { kind: 'no-reading' } : { kind: 'temperature', liquidC: vessel.liquidC };
}

/** Slower changes than this are called steady, °C a minute: what a probe's noise makes. */
const STEADY_C_PER_MIN = 0.05;

export const trendOf = (risingCPerMin: number): 'rising' | 'falling' | 'steady' =>
  Math.abs(risingCPerMin) < STEADY_C_PER_MIN ? 'steady' : risingCPerMin > 0 ? 'rising' : 'falling';

/** The span of a vessel's scale, °C: room above boiling, and as far down as the liquid needs. */
export function scaleSpan(vessel: Vessel): { bottomC: number; topC: number } {
  const liquid = vessel.liquidC ?? vessel.boilingC - 10;
  const topC = Math.max(vessel.boilingC, liquid) + 4;
  const depth = [24, 36, 48, 64].find((below) => liquid >= vessel.boilingC - below + 2) ?? 80;
  return { bottomC: vessel.boilingC - depth, topC };
}
