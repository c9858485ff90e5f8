import { hottestEver } from '../engine/channels.ts';
import { creditedMs, passReactionTime } from '../engine/reaction-time.ts';
import { settlingMs } from '../engine/settling-time.ts';
import type { AlarmFacts } from '../wire/api.ts';
import { MIXING_STAGES } from '../wire/names.ts';
import { clear, type Rule, type Sight } from './rule.ts';
import { liesOnMethoxide } from './stirring-advice.ts';

export const notWatching: Rule = {
  alarm: 'not-watching',
  wakes: ['start', 'acknowledge'],

  judge(sight) {
    const { wake, vessel, atMs, downSinceMs } = sight;
    if (wake === 'acknowledge') return clear;
    if (vessel.batch === null || vessel.stage === 'idle' || downSinceMs === null) return null;
    const before = vessel.alarms['not-watching']?.facts;
    const minutes = Number(before?.minutes ?? 0) + Math.max(0, atMs - downSinceMs) / 60_000;
    const advice = liesOnMethoxide(vessel)
      ? 'methoxide'
      : MIXING_STAGES.includes(vessel.stage)
        ? 'mix'
        : 'look';
    return {
      holds: true,
      priority: 'high',
      value: minutes,
      limit: null,
      facts: {
        // Again, and nobody has acknowledged the last time yet: both are told, from the first on.
        ...(before ?? lastKnown(sight, downSinceMs)),
        toMs: atMs,
        times: Number(before?.times ?? 0) + 1,
        minutes,
        what: advice,
        advice: `${advice} ${minutes}`,
      },
    };
  },

  describe(facts, _unit) {
    const minutes = Number(facts.minutes);
    const long = minutes < 2 ? `${(minutes * 60).toFixed(0)} s` : `${minutes.toFixed(0)} min`;
    return {
      because: `Nobody watched for ${long}: nothing of that time is known or counted.`,
      todo:
        facts.what === 'methoxide'
          ? 'Look at the vessel: its temperature, and whether it is stirred. If it stood still over methoxide, do not start it again hot.'
          : facts.what === 'mix'
            ? 'Look at the vessel: its temperature, and whether it is stirred.'
            : 'Look at the vessel: its temperature, its heater and its valves.',
    };
  },
};

/** How it was when somebody last watched: what was read, and what had been counted. */
function lastKnown({ site, vessel }: Sight, fromMs: number): AlarmFacts {
  const liquid = hottestEver(vessel);
  const batch = vessel.batch === null ? undefined : site.batches[vessel.batch];
  return {
    fromMs,
    stage: vessel.stage,
    beforeC: liquid?.value ?? null,
    beforeAtMs: liquid?.atMs ?? null,
    stillSinceMs: vessel.mixing.restSinceMs,
    countedMinutes:
      batch === undefined ? null : creditedMs(passReactionTime(site, batch.pass, fromMs)) / 60_000,
    settledHours: batch === undefined ? null : settlingMs(batch.settling, fromMs) / 3_600_000,
  };
}
