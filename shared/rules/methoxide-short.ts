import { mixingChannel } from '../engine/channels.ts';
import { methoxideMixedMs } from '../engine/reaction-time.ts';
import { others } from '../engine/stages.ts';
import { clear, type Rule, type Sight } from './rule.ts';

export const methoxideShort: Rule = {
  alarm: 'methoxide-short',
  wakes: ['stage', 'acknowledge'],

  judge(sight) {
    const { wake, vessel, plan } = sight;
    if (wake === 'acknowledge') return clear;
    if (vessel.stage !== 'dose') return null;
    const mixedMs = chargeMixedMs(sight);
    const limit = plan.limits.methoxideMinutes;
    if (mixedMs === null || mixedMs >= limit * 60_000) return null;
    const minutes = mixedMs / 60_000;
    return { holds: true, priority: 'medium', value: minutes, limit, facts: { minutes, limit } };
  },

  describe(facts, _unit) {
    return {
      because: `The methoxide was mixed for ${Number(facts.minutes).toFixed(0)} of ${Number(facts.limit).toFixed(0)} min.`,
      todo: 'Look whether lye lies undissolved on its bottom. If so, do not add the rest: mix it on.',
    };
  },
};

/** Mixed time of the charge that is being dosed, the least of several; null where no channel showed it. */
export function chargeMixedMs({ site, vessel }: Pick<Sight, 'site' | 'vessel'>): number | null {
  const charges = others(site, vessel)
    .filter((other) => other.stage === 'methoxide' && mixingChannel(other) !== undefined)
    .map(methoxideMixedMs);
  if (charges.length > 0) return Math.min(...charges);
  const batch = vessel.batch === null ? undefined : site.batches[vessel.batch];
  return batch?.methoxide?.mixedMs ?? null;
}
