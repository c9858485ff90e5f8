import { beforeSurge } from '../engine/trend.ts';
import { formatTemperature, formatTemperatureDifference } from '../units/temperature.ts';
import { byProbe, clear, type Rule, type Sight } from './rule.ts';
import { describeStirring, stirringAdvice } from './stirring-advice.ts';

/** Half the limit: slower than this it is over. */
const CLEAR_SHARE = 0.5;

export const risingFast: Rule = {
  alarm: 'rising-fast',
  wakes: ['liquid'],
  stages: ['dose', 'react', 'esterify', 'methoxide'],
  explainedBy: ['boiling-ahead', 'boiling-near', 'boiling-reached', 'restart-hot'],

  judge(sight) {
    const { vessel, plan, atMs, liquidC, probe } = sight;
    const limit = plan.limits.risingCPerMin;
    if (vessel.alarms['rising-fast'] === undefined && !isSurging(sight)) return null;
    const rate = sight.surgeCPerMin;
    if (rate === null) return null;
    if (rate < CLEAR_SHARE * limit) return clear;
    if (rate <= limit) return null;
    return {
      holds: true,
      priority: 'high',
      value: rate,
      limit,
      facts: { rateCPerMin: rate, liquidC, stage: vessel.stage, probe, advice: stirringAdvice(vessel, atMs) },
    };
  },

  describe(facts, unit) {
    const rate = formatTemperatureDifference(Number(facts.rateCPerMin), unit);
    return {
      because: `Rising by ${rate} a minute, at ${formatTemperature(Number(facts.liquidC), unit)}${byProbe(facts)} now: it makes heat of its own.`,
      todo:
        facts.stage === 'methoxide'
          ? 'Add no more lye. Keep the vent open, cool it from outside, keep flames and sparks away.'
          : `Add nothing more. Turn the heat off.${describeStirring(facts)}`,
    };
  },
};

/**
 * Rising faster than the limit over half a minute, to where it was not in the three minutes before: heat of
 * its own, not a cold charge being warmed up again. In `methoxide`, where that is usual, only where it would
 * be at boiling soon.
 */
export function isSurging(sight: Sight): boolean {
  const { vessel, plan, liquidChannel, liquidC, headroomC } = sight;
  if (liquidChannel === null || liquidC === null || headroomC === null) return false;
  const rate = sight.surgeCPerMin;
  if (rate === null || rate <= plan.limits.risingCPerMin) return false;
  const before = beforeSurge(vessel.channels[liquidChannel]!.recent);
  // Nothing before: the probe has only just been put in.
  if (before.length === 0 || before.some(([, value]) => value >= liquidC)) return false;
  if (vessel.stage !== 'methoxide') return true;
  return headroomC < plan.limits.methoxideAheadMarginC && headroomC <= rate * plan.limits.aheadMinutes;
}
