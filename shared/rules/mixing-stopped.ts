import { heatAskedFor, lowestMixing, mixingChannel, mixingRatio, STOPPED_RATIO } from '../engine/channels.ts';
import {
  creditedMs,
  methoxideMixedMs,
  passReactionTime,
  plannedReactionMs,
} from '../engine/reaction-time.ts';
import type { VesselState } from '../engine/state.ts';
import { MIXING_STAGES, type Priority } from '../wire/names.ts';
import { clear, type Rule, type Sight } from './rule.ts';
import { hasLainStill, stillTooLongFromMs } from './stirring-advice.ts';

export const mixingStopped: Rule = {
  alarm: 'mixing-stopped',
  wakes: ['mixing', 'heater', 'stage', 'silence'],
  stages: MIXING_STAGES,
  explainedBy: ['motor-stalled'],

  judge(sight) {
    const { vessel, wake, atMs, plan } = sight;
    const standing = vessel.alarms['mixing-stopped'];
    // Heat and stage only change how grave a stop is; that it is one, the mixing channel says.
    // The clock goes on where readings do not: what nobody sees turning goes on lying still.
    if (wake !== 'mixing') return standing === undefined ? null : stopped(sight);
    const channel = mixingChannel(vessel)!;
    const ratio = mixingRatio(vessel, channel, vessel.channels[channel]!.sound!.value);
    if (ratio >= 1) return clear;
    const since = vessel.mixing.stoppedSinceMs;
    if (since === null) return null;
    if (standing !== undefined) return stopped(sight);
    const { stoppedSeconds, mixingGraceSeconds } = plan.limits;
    const stoppedMs = atMs - Math.max(since, vessel.stageAtMs);
    // First what costs nothing: whether the time is earned has to be worked out.
    if (stoppedMs < Math.min(stoppedSeconds, mixingGraceSeconds) * 1000) return null;
    const isUnderWay = vessel.mixing.seenAtSpeed && !mixingTimeIsEarned(sight);
    return stoppedMs >= (isUnderWay ? stoppedSeconds : mixingGraceSeconds) * 1000 ? stopped(sight) : null;
  },

  deadlineMs(vessel) {
    const standing = vessel.alarms['mixing-stopped'];
    const fromMs = standing?.facts.advice === 'start-again' ? stillTooLongFromMs(vessel) : null;
    return fromMs === null ? null : fromMs + clockAheadMs(vessel);
  },

  describe(facts, _unit) {
    const because =
      facts.channel === 'pump'
        ? 'The pump stands still: the liquid is not mixed.'
        : facts.channel === 'pump-flow'
          ? `The pump moves ${Number(facts.value).toFixed(1)} L/min: the liquid is not mixed.`
          : `The stirrer is at ${Number(facts.value).toFixed(0)} turns a minute: the liquid is not stirred.`;
    return {
      because,
      todo:
        facts.advice === 'leave-stopped'
          ? 'Do not start it again. Heat off, let it cool. Then stir in short bursts.'
          : 'Start it again within 2 minutes of the stop. If you cannot, turn the heat off.',
    };
  },
};

/** How far the arrival clock is ahead of the clock of what shows the mixing, ms. */
function clockAheadMs(vessel: VesselState): number {
  const { newest } = vessel.channels[mixingChannel(vessel)!]!;
  return newest.arrivedMs - newest.atMs;
}

function stopped({ vessel, wake, atMs }: Sight) {
  const channel = mixingChannel(vessel)!;
  const lowest = lowestMixing(vessel, channel);
  const priority: Priority = vessel.methanolPresent && heatAskedFor(vessel) ? 'critical' : 'high';
  const value = vessel.channels[channel]!.sound!.value;
  return {
    holds: true,
    priority,
    value,
    limit: lowest === null ? 0 : lowest * STOPPED_RATIO,
    facts: {
      channel,
      value,
      advice: hasLainStill(vessel, wake === 'silence' ? atMs - clockAheadMs(vessel) : atMs)
        ? 'leave-stopped'
        : 'start-again',
    },
  } as const;
}

/** The mixing that this stage is for is done: a stop is then a person's own. */
export function mixingTimeIsEarned({ site, vessel, plan, atMs }: Sight): boolean {
  if (vessel.stage === 'methoxide') return methoxideMixedMs(vessel) >= plan.limits.methoxideMinutes * 60_000;
  const batch = vessel.batch === null ? undefined : site.batches[vessel.batch];
  return (
    batch !== undefined &&
    vessel.stage === 'react' &&
    creditedMs(passReactionTime(site, batch.pass, atMs)) >= plannedReactionMs(plan)
  );
}
