import { reactionRate } from '../chemistry/kinetics.ts';
import { LEAST_TREND_C_PER_MIN } from '../rules/boiling-ahead.ts';
import { boilingRulesApply } from '../rules/boiling-near.ts';
import { describeAlarm } from '../rules/describe.ts';
import type { Alarm, Vessel } from '../wire/api.ts';
import { PRIORITIES } from '../wire/names.ts';
import { isoTime } from '../wire/time.ts';
import { boilingPoint } from './boiling.ts';
import {
  hottestEver,
  hottestLiquid,
  lowestMixing,
  mixingChannel,
  mixingRatio,
  STOPPED_RATIO,
} from './channels.ts';
import { isCouplingLost } from './drive.ts';
import { creditedMs, passReactionTime } from './reaction-time.ts';
import { settlingMs } from './settling-time.ts';
import type { BatchState, ClearedAlarm, SiteState, StandingAlarm, VesselState } from './state.ts';
import { withTold } from './told.ts';
import { trendBandPerMinute } from './trend.ts';

/** Slower than this, °C/min, nobody can say when the oil will be ready. */
const LEAST_RISE_C_PER_MIN = 0.05;

/** An alarm's name outside its vessel. */
export const alarmId = (site: string, vessel: string, number: number): string =>
  `${site}.${vessel}.${number}`;

/** What a vessel shows now, derived from the state alone; `nowMs` by the arrival clock. */
export function vesselView(
  site: SiteState,
  siteName: string,
  vessel: VesselState,
  nowMs: number,
  batchName: string | null,
): Vessel {
  const { boilingC, pressureHPa, assumed } = boilingPoint(site, vessel, nowMs);
  const hottest = hottestEver(vessel);
  const headroomC = hottest === null ? null : boilingC - hottest.value;
  const trend = hottest === null ? null : trendBandPerMinute(vessel.channels[hottest.channel]!.recent);
  const rising = trend?.value ?? null;
  const batch = vessel.batch === null ? undefined : site.batches[vessel.batch];
  const { plan } = vessel;
  return {
    site: siteName,
    vessel: vessel.name,
    role: vessel.role,
    stage: vessel.stage,
    stageSince: vessel.batch === null ? null : isoTime(vessel.stageAtMs),
    batch: vessel.batch,
    batchName,
    untried: vessel.batch === null && vessel.batchEndedMs === null,
    pressureHPa,
    boilingC,
    boilingAssumed: assumed,
    liquidC: hottest?.value ?? null,
    headroomC,
    risingCPerMin: rising,
    toBoiling: toBoilingView(vessel, headroomC, trend),
    methanolPresent: vessel.methanolPresent,
    mixing: mixingView(vessel),
    planned:
      plan === null
        ? null
        : {
            reactionTemperatureC: plan.reactionTemperatureC,
            requiredReactionMinutes: plan.requiredReactionMinutes,
            requiredSettleHours: plan.requiredSettleHours,
            highestDosingC: boilingC - plan.limits.dosingMarginC,
            nearBoilingC: boilingC - plan.limits.nearMarginC,
          },
    counted: countedView(site, vessel, batch, nowMs),
    dosing: dosingView(vessel, boilingC, hottest?.value ?? null, rising),
    readings: Object.fromEntries(
      Object.entries(vessel.channels).map(([name, { newest }]) => [
        name,
        {
          at: isoTime(newest.atMs),
          value: newest.value,
          ageMs: Math.max(0, nowMs - newest.atMs),
          sound: newest.sound,
          typed: newest.typed,
        },
      ]),
    ),
    alarms: alarmsView(siteName, vessel),
  };
}

function mixingView(vessel: VesselState): Vessel['mixing'] {
  const channel = mixingChannel(vessel);
  if (channel === undefined) return null;
  const { value } = vessel.channels[channel]!.sound!;
  const ratio = mixingRatio(vessel, channel, value);
  return {
    channel,
    value,
    lowest: lowestMixing(vessel, channel),
    state: ratio >= 1 ? 'at-speed' : ratio < STOPPED_RATIO ? 'stopped' : 'slow',
  };
}

function countedView(
  site: SiteState,
  vessel: VesselState,
  batch: BatchState | undefined,
  nowMs: number,
): Vessel['counted'] {
  const { plan } = vessel;
  if (batch === undefined || plan === null)
    return { reactionMinutes: null, notCounted: [], settleHours: null };
  const reacting = batch.pass.spans.length > 0 || batch.pass.banked.elapsedMs > 0;
  const time = passReactionTime(site, batch.pass, nowMs);
  const creditMs = creditedMs(time);
  const minutes = { has: creditMs / 60_000, needs: plan.requiredReactionMinutes };
  const settle = { has: settlingMs(batch.settling, nowMs) / 3_600_000, needs: plan.requiredSettleHours };
  const settling = batch.settling.span;
  return {
    reactionMinutes: reacting
      ? { ...minutes, enoughAt: enoughAt(minutes, earningRate(site, vessel, nowMs), 60_000, nowMs) }
      : null,
    notCounted: (
      [
        ['not-mixed', time.notMixedMs],
        ['no-readings', time.noReadingsMs],
        ['boiling', time.boilingMs],
        ['colder', time.earnedMs - creditMs],
      ] as const
    )
      .filter(([, ms]) => ms >= 30_000)
      .map(([why, ms]) => ({ why, minutes: ms / 60_000 })),
    settleHours:
      settling === null
        ? null
        : { ...settle, enoughAt: enoughAt(settle, settling.toMs === null ? 1 : 0, 3_600_000, nowMs) },
  };
}

/** How much of the present time counts, 0 to 1. */
function earningRate(site: SiteState, vessel: VesselState, nowMs: number): number {
  const liquid = hottestLiquid(vessel, nowMs);
  if (vessel.stage !== 'react' || liquid === null || vessel.plan === null) return 0;
  if (liquid.value >= boilingPoint(site, vessel, nowMs).boilingC) return 0;
  const mixing = mixingView(vessel);
  if (mixing === null ? !vessel.plan.mixingStated : mixing.state !== 'at-speed') return 0;
  if (isCouplingLost(vessel)) return 0;
  return Math.min(
    1,
    reactionRate({ temperatureC: liquid.value, plannedC: vessel.plan.reactionTemperatureC }),
  );
}

function enoughAt(
  { has, needs }: { has: number; needs: number },
  rate: number,
  unitMs: number,
  nowMs: number,
): string | null {
  if (has >= needs || rate <= 0) return null;
  return isoTime(Math.round(nowMs + ((needs - has) / rate) * unitMs));
}

/** When it boils if it goes on as it does, where methanol is and boiling is not meant. */
function toBoilingView(
  vessel: VesselState,
  headroomC: number | null,
  trend: { low: number; value: number; high: number } | null,
): Vessel['toBoiling'] {
  if (!boilingRulesApply(vessel) || headroomC === null || headroomC <= 0 || trend === null) return null;
  if (trend.value < LEAST_TREND_C_PER_MIN) return null;
  return {
    minutes: headroomC / trend.value,
    soonestMinutes: headroomC / trend.high,
    latestMinutes: trend.low <= 0 ? null : headroomC / trend.low,
  };
}

/** Before methanol is in: may methoxide go in, and if the oil still warms up, when it is at the planned temperature. */
function dosingView(
  vessel: VesselState,
  boilingC: number,
  liquidC: number | null,
  rising: number | null,
): Vessel['dosing'] {
  const { plan } = vessel;
  if (vessel.methanolPresent || plan === null || liquidC === null || vessel.stage !== 'warm') return null;
  const highestC = boilingC - plan.limits.dosingMarginC;
  const aimC = Math.min(plan.reactionTemperatureC, highestC);
  const reached = liquidC >= aimC - READY_WITHIN_C;
  return {
    allowed: liquidC <= highestC && reached,
    readyInMinutes:
      reached || rising === null || rising < LEAST_RISE_C_PER_MIN
        ? null
        : (aimC - READY_WITHIN_C - liquidC) / rising,
  };
}

/** So near the planned temperature the oil counts as warm, °C. */
const READY_WITHIN_C = 1;

// ---- alarms ----

function alarmsView(siteName: string, vessel: VesselState): Alarm[] {
  const standing = Object.entries(vessel.alarms).map(([alarm, state]) =>
    alarmView(siteName, vessel.name, alarm, state, null),
  );
  const cleared = vessel.unacknowledged.map((state: ClearedAlarm) =>
    alarmView(siteName, vessel.name, state.alarm, state, state.clearedAtMs),
  );
  return [...standing, ...cleared].sort(gravestFirst);
}

function alarmView(
  site: string,
  vessel: string,
  alarm: string,
  state: StandingAlarm,
  clearedAtMs: number | null,
): Alarm {
  const { number, priority, late, value, limit, facts, acknowledged, explainedBy, shelved } = state;
  return withTold({
    id: alarmId(site, vessel, number),
    at: isoTime(state.atMs),
    site,
    vessel,
    alarm,
    event: clearedAtMs === null ? 'raised' : 'cleared',
    priority,
    late,
    value,
    limit,
    ...describeAlarm(alarm, facts, 'C'),
    facts,
    standing: clearedAtMs === null,
    clearedAt: clearedAtMs === null ? null : isoTime(clearedAtMs),
    acknowledged: acknowledged && {
      by: acknowledged.by,
      reason: acknowledged.reason,
      at: isoTime(acknowledged.atMs),
    },
    explainedBy,
    shelved: shelved && { by: shelved.by, reason: shelved.reason, until: isoTime(shelved.untilMs) },
  });
}

/** Standing before cleared, the graver before the less grave, the newer before the older. */
const gravestFirst = (a: Alarm, b: Alarm): number =>
  Number(b.standing) - Number(a.standing) ||
  PRIORITIES.indexOf(b.priority) - PRIORITIES.indexOf(a.priority) ||
  b.at.localeCompare(a.at);
