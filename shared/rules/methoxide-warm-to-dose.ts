import { liquidChannels } from '../engine/channels.ts';
import { others } from '../engine/stages.ts';
import { formatTemperature } from '../units/temperature.ts';
import { fromBoiling, type Rule } from './rule.ts';

export const methoxideWarmToDose: Rule = {
  alarm: 'methoxide-warm-to-dose',
  wakes: ['stage'],
  stages: ['dose'],

  judge({ site, vessel, plan, boilingC }) {
    const last = others(site, vessel)
      .filter(({ stage }) => stage === 'methoxide')
      .flatMap(liquidChannels)
      .flatMap(([, { seenInBatch, sound }]) => (seenInBatch && sound !== null ? sound.value : []));
    if (last.length === 0) return null;
    const methoxideC = Math.max(...last);
    const headroomC = boilingC - methoxideC;
    const limit = plan.limits.methoxideDoseMarginC;
    if (headroomC >= limit) return null;
    return {
      holds: true,
      priority: 'medium',
      value: headroomC,
      limit,
      facts: { methoxideC, headroomC },
    };
  },

  describe(facts, unit) {
    const from = fromBoiling(Number(facts.headroomC), unit);
    return {
      because: `The methoxide is at ${formatTemperature(Number(facts.methoxideC), unit)}, ${from} boiling: it does not cool the oil.`,
      todo: 'Add it slowly, or let it cool first. Watch the oil’s temperature while it goes in.',
    };
  },
};
