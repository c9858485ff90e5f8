import { formatTemperature } from '../units/temperature.ts';
import { byProbe, clear, fromBoiling, type Rule } from './rule.ts';

/** °C that it must fall below the limit again. */
const HYSTERESIS_C = 2;

export const methoxideHot: Rule = {
  alarm: 'methoxide-hot',
  wakes: ['liquid'],
  stages: ['methoxide'],
  explainedBy: ['boiling-near', 'boiling-reached', 'boiling-ahead', 'rising-fast'],

  judge({ plan, liquidC, boilingC, headroomC, probe }) {
    if (headroomC === null) return null;
    const limit = plan.limits.methoxideMarginC;
    if (headroomC > limit + HYSTERESIS_C) return clear;
    if (headroomC >= limit) return null;
    return {
      holds: true,
      priority: 'high',
      value: headroomC,
      limit,
      facts: { liquidC, boilingC, headroomC, probe },
    };
  },

  describe(facts, unit) {
    const from = fromBoiling(Number(facts.headroomC), unit);
    return {
      because: `Methoxide at ${formatTemperature(Number(facts.liquidC), unit)}${byProbe(facts)}, ${from} methanol’s boiling point here.`,
      todo: 'Add no more lye. Keep the vent open, cool it from outside, keep flames and sparks away.',
    };
  },
};
