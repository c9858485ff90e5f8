import { formatTemperatureDifference } from '../units/temperature.ts';
import { boilingRulesApply } from './boiling-near.ts';
import { isSurging } from './rising-fast.ts';
import { byProbe, clear, fromBoiling, off, type Rule, type Sight } from './rule.ts';
import { describeAdding, describeStirring, inNewStage, stirringAdvice } from './stirring-advice.ts';

/** Slower than this no trend reaches anything, °C/min: it is noise. */
export const LEAST_TREND_C_PER_MIN = 0.12;
/** The time ahead must grow to so much of the limit again. */
const CLEAR_FACTOR = 1.5;
/** While the reaction is where it is meant to be, its own swing is no warning, °C over the plan … */
const OVER_PLAN_C = 1.5;
/** … as long as it keeps so far below boiling, °C. */
const NEAR_C = 3;

export const boilingAhead: Rule = {
  alarm: 'boiling-ahead',
  wakes: ['liquid', 'stage'],
  explainedBy: ['boiling-near', 'boiling-reached', 'too-hot-to-dose'],

  judge(sight) {
    const { wake, vessel, plan, atMs, headroomC, probe } = sight;
    if (!boilingRulesApply(vessel) || vessel.alarms['boiling-reached'] !== undefined) return off;
    const alarm = vessel.alarms['boiling-ahead'];
    const standing = alarm !== undefined;
    if (wake === 'stage' && standing) return inNewStage(alarm, sight);
    if (wake !== 'liquid' || headroomC === null) return null;
    if (!standing && !isWatched(sight)) return null;
    const limit = plan.limits.aheadMinutes;
    const least = Math.max(LEAST_TREND_C_PER_MIN, headroomC / limit);
    if (!standing && !sight.mayRiseAt(least)) return null;
    const trend = sight.trendCPerMin;
    if (trend === null) return null;
    const minutes = trend > 0 ? Math.max(0, headroomC) / trend : Number.POSITIVE_INFINITY;
    if (minutes > CLEAR_FACTOR * limit) return clear;
    if (trend < LEAST_TREND_C_PER_MIN || minutes > limit) return null;
    return {
      holds: true,
      priority: 'high',
      value: minutes,
      limit,
      facts: {
        minutes,
        trendCPerMin: trend,
        headroomC,
        stage: vessel.stage,
        probe,
        advice: stirringAdvice(vessel, atMs),
      },
    };
  },

  describe(facts, unit) {
    const rate = formatTemperatureDifference(Number(facts.trendCPerMin), unit);
    const from = fromBoiling(Number(facts.headroomC), unit);
    return {
      because: `Rising by ${rate} a minute, ${from} boiling${byProbe(facts)}: there in about ${Math.max(1, Math.round(Number(facts.minutes)))} min.`,
      todo: `Turn the heat off now.${describeStirring(facts)}${describeAdding(facts)}`,
    };
  },
};

/** Where a rise towards boiling is no part of the process itself. */
function isWatched(sight: Sight): boolean {
  const { vessel, plan, boilingC, liquidC, headroomC } = sight;
  if (vessel.stage === 'methoxide') return headroomC! < plan.limits.methoxideAheadMarginC;
  if (vessel.stage !== 'dose' && vessel.stage !== 'react') return true;
  const fromC = Math.min(plan.reactionTemperatureC + OVER_PLAN_C, boilingC - NEAR_C);
  return liquidC! > fromC || isSurging(sight);
}
