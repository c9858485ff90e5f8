import { pastC } from '../engine/channels.ts';
import { formatTemperature, formatTemperatureDifference } from '../units/temperature.ts';
import { byProbe, clear, heldMs, type Rule } from './rule.ts';

/** Of the limit, within which it must come again. */
const CLEAR_SHARE = 0.75;
/** Cold for so long, and not getting warmer, ms and °C. */
const FOR_MS = 5 * 60_000;
const WARMED_C = 0.5;

export const reactionCold: Rule = {
  alarm: 'reaction-cold',
  wakes: ['liquid'],
  stages: ['react'],
  explainedBy: ['heat-not-seen', 'probe-frozen', 'mixing-stopped'],

  judge({ vessel, plan, atMs, liquidC, liquidChannel, probe, memory }) {
    if (liquidC === null) return null;
    const underC = plan.reactionTemperatureC - liquidC;
    const limit = plan.limits.coldByC;
    const coldMs = heldMs(memory, underC > limit, atMs);
    if (underC <= 0 || underC < CLEAR_SHARE * limit) return clear;
    if (coldMs < FOR_MS) return null;
    const past = pastC(vessel, vessel.channels[liquidChannel!]!, atMs - FOR_MS);
    if (past === null || liquidC - past.lowestC >= WARMED_C) return null;
    return {
      holds: true,
      priority: 'medium',
      value: underC,
      limit,
      facts: { liquidC, underC, plannedC: plan.reactionTemperatureC, probe },
    };
  },

  describe(facts, unit) {
    const under = formatTemperatureDifference(Number(facts.underC), unit);
    return {
      because: `Liquid at ${formatTemperature(Number(facts.liquidC), unit)}${byProbe(facts)}, ${under} under plan, and not getting warmer: the time counts for little.`,
      todo: 'Look at the heater and its thermostat. The reaction takes longer when it is cold.',
    };
  },
};
