import { formatTemperature } from '../units/temperature.ts';
import { boilingRulesApply } from './boiling-near.ts';
import { describeOtherUnit } from './other-unit.ts';
import { byProbe, clear, type Rule } from './rule.ts';
import { describeAdding, describeStirring, inNewStage, stirringAdvice } from './stirring-advice.ts';

/** °C that the liquid must fall below the limit again. */
const HYSTERESIS_C = 1;

export const boilingReached: Rule = {
  alarm: 'boiling-reached',
  wakes: ['liquid', 'stage'],

  judge(sight) {
    const { wake, vessel, plan, atMs, channel, boilingC, liquidC, headroomC, probe } = sight;
    if (!boilingRulesApply(vessel)) return clear;
    const standing = vessel.alarms['boiling-reached'];
    if (wake === 'stage' && standing !== undefined) return inNewStage(standing, sight);
    if (wake !== 'liquid' || headroomC === null || channel === null) return null;
    const { reachedMarginC, nearMarginC } = plan.limits;
    if (headroomC > reachedMarginC + HYSTERESIS_C) return clear;
    const own = vessel.channels[channel]!;
    const before = own.previousHeadroomC;
    // One reading alone may be a disturbance; with the one before it already near, it is not.
    const sure = before !== null && (before <= reachedMarginC || before < nearMarginC);
    if (!(sure && own.headroomC !== null && own.headroomC <= reachedMarginC)) return null;
    return {
      holds: true,
      priority: 'critical',
      value: headroomC,
      limit: reachedMarginC,
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
    return {
      because: `Liquid at ${formatTemperature(Number(facts.liquidC), unit)}${byProbe(facts)}: methanol boils here at ${formatTemperature(Number(facts.boilingC), unit)}.`,
      todo: `Turn the heat off.${describeStirring(facts)}${describeAdding(facts)} Keep flames and sparks away, air the room, stand back from the vent.${describeOtherUnit(-Number(facts.headroomC))}`,
    };
  },
};
