import type { VesselState } from '../engine/state.ts';
import { formatTemperature } from '../units/temperature.ts';
import { byProbe, clear, fromBoiling, type Rule } from './rule.ts';
import { describeAdding, describeStirring, inNewStage, stirringAdvice } from './stirring-advice.ts';

/** °C that the liquid must fall below the limit again. */
const HYSTERESIS_C = 1;

/** Boiling is a hazard wherever methanol is, but where it is meant. */
export const boilingRulesApply = (vessel: VesselState): boolean =>
  vessel.methanolPresent && vessel.stage !== 'recover';

export const boilingNear: Rule = {
  alarm: 'boiling-near',
  wakes: ['liquid', 'stage'],
  explainedBy: ['boiling-reached', 'too-hot-to-dose'],

  judge(sight) {
    const { wake, vessel, plan, atMs, boilingC, liquidC, headroomC, probe } = sight;
    if (!boilingRulesApply(vessel)) return clear;
    const standing = vessel.alarms['boiling-near'];
    if (wake === 'stage' && standing !== undefined) return inNewStage(standing, sight);
    if (wake !== 'liquid' || headroomC === null) return null;
    const limit = plan.limits.nearMarginC;
    if (headroomC > limit + HYSTERESIS_C) return clear;
    if (headroomC >= limit) return null;
    return {
      holds: true,
      priority: 'high',
      value: headroomC,
      limit,
      facts: {
        liquidC,
        boilingC,
        headroomC,
        stage: vessel.stage,
        probe,
        advice: stirringAdvice(vessel, atMs),
      },
    };
  },

  describe(facts, unit) {
    const from = fromBoiling(Number(facts.headroomC), unit);
    return {
      because: `Liquid at ${formatTemperature(Number(facts.liquidC), unit)}${byProbe(facts)}, ${from} methanol’s boiling point here.`,
      todo: `Turn the heat off.${describeStirring(facts)}${describeAdding(facts)}`,
    };
  },
};
