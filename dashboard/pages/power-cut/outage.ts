import { STILL_TELLS_MS } from '../../../shared/engine/channels.ts';
import type { Stood } from '../../../shared/rules/stirring-again.ts';
import type { Alarm, Vessel } from '../../../shared/wire/api.ts';
import type { Batch } from '../../../shared/wire/batch.ts';
import { isLiquidTemperature } from '../../../shared/wire/names.ts';

/** What is known of a time that nobody watched; pure. */

export interface Outage {
  fromMs: number;
  toMs: number;
  minutes: number;
  /** How often, where the first time was not acknowledged before the next. */
  times: number;
  beforeC: number | null;
  beforeAtMs: number | null;
  stillSinceMs: number | null;
  countedMinutes: number | null;
  settledHours: number | null;
}

const numberOf = (fact: Alarm['facts'][string] | undefined): number | null =>
  typeof fact === 'number' && Number.isFinite(fact) ? fact : null;

/** An alarm from before it kept all of this tells when it was over, and how long it was. */
export function outageOf({ at, facts }: Pick<Alarm, 'at' | 'facts'>): Outage {
  const minutes = numberOf(facts.minutes) ?? 0;
  const toMs = numberOf(facts.toMs) ?? Date.parse(at);
  return {
    fromMs: numberOf(facts.fromMs) ?? toMs - minutes * 60_000,
    toMs,
    minutes,
    times: numberOf(facts.times) ?? 1,
    beforeC: numberOf(facts.beforeC),
    beforeAtMs: numberOf(facts.beforeAtMs),
    stillSinceMs: numberOf(facts.stillSinceMs),
    countedMinutes: numberOf(facts.countedMinutes),
    settledHours: numberOf(facts.settledHours),
  };
}

export interface Since {
  liquidC: number;
  atMs: number;
  typed: boolean;
  headroomC: number;
}

/** The hottest sound temperature read since; null where none has come, or none that still tells. */
export function readSince(vessel: Vessel, { toMs }: Outage, nowMs: number): Since | null {
  const since = Object.entries(vessel.readings)
    .filter(([channel, { sound }]) => isLiquidTemperature(channel) && sound)
    .map(([, { at, value, typed }]) => ({ atMs: Date.parse(at), liquidC: value, typed }))
    .filter(({ atMs }) => atMs >= toMs && nowMs - atMs <= STILL_TELLS_MS);
  const hottest = since.reduce<(typeof since)[number] | null>(
    (most, one) => (most === null || one.liquidC > most.liquidC ? one : most),
    null,
  );
  return hottest && { ...hottest, headroomC: vessel.boilingC - hottest.liquidC };
}

/** When the newest reading of the stirring came, if since; null where none has, or none that still tells. */
export function mixedSince(
  { mixing, readings }: Vessel,
  { toMs }: Outage,
  nowMs: number,
): { state: NonNullable<Vessel['mixing']>['state']; atMs: number } | null {
  if (mixing === null) return null;
  const atMs = Date.parse(readings[mixing.channel]?.at ?? '');
  return atMs >= toMs && nowMs - atMs <= STILL_TELLS_MS ? { state: mixing.state, atMs } : null;
}

/** Null while the batch is not known: its own margin may be wider than the usual. */
export const restartMarginOf = (batch: Batch | undefined): number | null =>
  batch?.plan.limits.restartMarginC ?? null;

/** What decides whether stirring may start again; with a lost link nothing is known of now. */
export function stoodOf(
  vessel: Vessel,
  outage: Outage,
  batch: Batch | undefined,
  { nowMs, isLive }: { nowMs: number; isLive: boolean },
): Stood {
  const since = isLive ? readSince(vessel, outage, nowMs) : null;
  const mixed = isLive ? mixedSince(vessel, outage, nowMs) : null;
  return {
    stage: vessel.stage,
    stillFromMs: Math.min(outage.stillSinceMs ?? outage.fromMs, outage.fromMs),
    isMoving: mixed === null ? null : mixed.state !== 'stopped',
    headroomC: since?.headroomC ?? null,
    risingCPerMin: vessel.risingCPerMin,
    countedMinutes: vessel.counted.reactionMinutes?.has ?? 0,
    restartMarginC: restartMarginOf(batch),
  };
}

/** The newest time that nobody watched of each vessel whose batch is still under way. */
export function newestOf(alarms: readonly Alarm[], vessels: readonly Vessel[]): Map<Vessel, Alarm> {
  const newest = new Map<Vessel, Alarm>();
  for (const vessel of vessels) {
    if (vessel.batch === null || vessel.stage === 'idle') continue;
    const own = alarms
      .filter(
        ({ alarm, site, vessel: name }) =>
          alarm === 'not-watching' && site === vessel.site && name === vessel.vessel,
      )
      .sort((a, b) => Number(b.standing) - Number(a.standing) || Date.parse(b.at) - Date.parse(a.at))[0];
    if (own !== undefined) newest.set(vessel, own);
  }
  return newest;
}
