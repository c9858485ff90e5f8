import { creditedMs, passReactionTime } from '../engine/reaction-time.ts';
import { clear, type Rule } from './rule.ts';

export const reactionShort: Rule = {
  alarm: 'reaction-short',
  wakes: ['stage', 'acknowledge'],

  judge({ wake, site, vessel, plan, atMs }) {
    if (wake === 'acknowledge') return clear;
    const batch = vessel.batch === null ? undefined : site.batches[vessel.batch];
    if (vessel.stage !== 'settle' || batch === undefined || !batch.pass.reacting) return null;
    // A passed 3/27 says more than the clock.
    if (batch.pass.testPassed || vessel.holdsGlycerol) return null;
    const minutes = creditedMs(passReactionTime(site, batch.pass, atMs)) / 60_000;
    const limit = (plan.requiredReactionMinutes * plan.limits.shortPercent) / 100;
    if (minutes >= limit) return null;
    return {
      holds: true,
      priority: 'high',
      value: minutes,
      limit,
      facts: { minutes, required: plan.requiredReactionMinutes },
    };
  },

  describe(facts, _unit) {
    return {
      because: `Too short a reaction: counted ${Number(facts.minutes).toFixed(0)} of ${Number(facts.required).toFixed(0)} min.`,
      todo: 'Warm and stir it on if you can, before it settles. Otherwise test it (3/27) before the wash and expect to react it again.',
    };
  },
};
