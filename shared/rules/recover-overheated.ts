import { formatTemperature } from '../units/temperature.ts';
import { byProbe, clear, type Rule } from './rule.ts';

/** °C that the liquid must fall below the limit again. */
const HYSTERESIS_C = 5;

export const recoverOverheated: Rule = {
  alarm: 'recover-overheated',
  wakes: ['liquid'],
  stages: ['recover'],

  judge({ plan, liquidC, probe }) {
    if (liquidC === null) return null;
    const limit = plan.limits.recoverHighestC;
    if (liquidC <= limit - HYSTERESIS_C) return clear;
    if (liquidC <= limit) return null;
    return { holds: true, priority: 'high', value: liquidC, limit, facts: { liquidC, limitC: limit, probe } };
  },

  describe(facts, unit) {
    return {
      because: `Liquid at ${formatTemperature(Number(facts.liquidC), unit)}${byProbe(facts)} while methanol is recovered, over ${formatTemperature(Number(facts.limitC), unit)}.`,
      todo: 'Turn the heat off. Keep the condenser running until nothing drips any more.',
    };
  },
};
