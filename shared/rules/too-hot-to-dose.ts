import { formatTemperature } from '../units/temperature.ts';
import { byProbe, clear, fromBoiling, type Rule } from './rule.ts';
import { describeStirring, stirringAdvice } from './stirring-advice.ts';

const HYSTERESIS_C = 1;

export const tooHotToDose: Rule = {
  alarm: 'too-hot-to-dose',
  wakes: ['liquid', 'stage'],
  stages: ['dose'],

  judge({ vessel, plan, atMs, boilingC, liquidC, headroomC, probe }) {
    if (headroomC === null) return null;
    const limit = plan.limits.dosingMarginC;
    if (headroomC > limit + HYSTERESIS_C) return clear;
    if (headroomC >= limit) return null;
    return {
      holds: true,
      priority: 'critical',
      value: headroomC,
      limit,
      facts: { liquidC, boilingC, headroomC, marginC: limit, probe, advice: stirringAdvice(vessel, atMs) },
    };
  },

  describe(facts, unit) {
    const highest = Number(facts.boilingC) - Number(facts.marginC);
    return {
      because: `Oil at ${formatTemperature(Number(facts.liquidC), unit)}${byProbe(facts)}, ${fromBoiling(Number(facts.headroomC), unit)} methanol’s boiling point: methoxide can erupt.`,
      todo: `Add no methoxide. Turn the heat off.${describeStirring(facts)} Wait until the oil is under ${formatTemperature(highest, unit)}.`,
    };
  },
};
