import { lowestMixing, mixingChannel, mixingRatio, STOPPED_RATIO } from '../engine/channels.ts';
import { MIXING_STAGES } from '../wire/names.ts';
import { mixingTimeIsEarned } from './mixing-stopped.ts';
import { clear, heldMs, type Rule } from './rule.ts';

/** At speed for so long it is over, ms. */
const OVER_AFTER_MS = 5000;

export const mixingSlow: Rule = {
  alarm: 'mixing-slow',
  wakes: ['mixing'],
  stages: MIXING_STAGES,
  explainedBy: ['mixing-stopped', 'coupling-lost'],

  judge(sight) {
    const { vessel, plan, atMs, memory } = sight;
    const channel = mixingChannel(vessel)!;
    const { value } = vessel.channels[channel]!.sound!;
    const ratio = mixingRatio(vessel, channel, value);
    const slowMs = heldMs(memory, ratio >= STOPPED_RATIO && ratio < 1, atMs);
    const atSpeedMs = heldMs(memory, ratio >= 1, atMs, 'atSpeedSinceMs');
    if (atSpeedMs >= OVER_AFTER_MS) return clear;
    const { slowSeconds, mixingGraceSeconds } = plan.limits;
    // While it stands there is nothing to be worked out: that would be done at every reading.
    if (slowMs < slowSeconds * 1000 || vessel.alarms['mixing-slow'] !== undefined) return null;
    const isUnderWay = vessel.mixing.seenAtSpeed && !mixingTimeIsEarned(sight);
    const seconds = isUnderWay ? slowSeconds : Math.max(slowSeconds, mixingGraceSeconds);
    if (slowMs < seconds * 1000) return null;
    const limit = lowestMixing(vessel, channel);
    return { holds: true, priority: 'medium', value, limit, facts: { channel, value, limit } };
  },

  describe(facts, _unit) {
    const isFlow = facts.channel === 'pump-flow';
    const unit = isFlow ? 'L/min' : 'turns a minute';
    const show = (value: unknown): string => Number(value).toFixed(isFlow ? 1 : 0);
    return {
      because: `Mixed at ${show(facts.value)} ${unit}, under the ${show(facts.limit)} of the plan: the time does not count.`,
      todo: 'Bring it up to speed. Look for air in the pump, a slipping coupling or a thick layer below.',
    };
  },
};
