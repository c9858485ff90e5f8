import { settlingMs } from '../engine/settling-time.ts';
import { FUEL_GOES_ON } from '../wire/names.ts';
import { clear, type Rule } from './rule.ts';

export const settlingShort: Rule = {
  alarm: 'settling-short',
  wakes: ['stage', 'acknowledge'],

  judge({ wake, site, vessel, plan, atMs }) {
    if (wake === 'acknowledge') return clear;
    const batch = vessel.batch === null ? undefined : site.batches[vessel.batch];
    if (!FUEL_GOES_ON.includes(vessel.stage) || batch === undefined || batch.settling.goneOn) return null;
    if (vessel.holdsGlycerol) return null;
    const hours = settlingMs(batch.settling, atMs) / 3_600_000;
    if (hours >= plan.requiredSettleHours) return null;
    return {
      holds: true,
      priority: 'medium',
      value: hours,
      limit: plan.requiredSettleHours,
      facts: { hours, required: plan.requiredSettleHours },
    };
  },

  describe(facts, _unit) {
    return {
      because: `Too short a settling: counted ${Number(facts.hours).toFixed(1)} of ${Number(facts.required).toFixed(0)} h before the fuel went on.`,
      todo: 'Let it stand on if you can. Glycerol still in the fuel carries soap and lye into the wash: look for a layer below and drain it.',
    };
  },
};
