import { lastLiquid } from '../engine/channels.ts';
import { creditedMs, passReactionTime } from '../engine/reaction-time.ts';
import { fromBoiling, off, type Rule, type Sight } from './rule.ts';

/** At rest for so long methoxide lies on the oil, ms. */
export const REST_MS = 120_000;
/** After so much reaction little is left to react at once, ms. */
export const MOSTLY_REACTED_MS = 10 * 60_000;
/** Mixed for so long, and known to rise by less than this, it is over, ms and °C/min. */
const OVER_AFTER_MS = 120_000;
const OVER_C_PER_MIN = 0.3;

export const restartHot: Rule = {
  alarm: 'restart-hot',
  wakes: ['mixing', 'stage'],
  explainedBy: ['boiling-reached'],

  judge(sight) {
    const { wake, site, vessel, plan, atMs, boilingC, headroomC } = sight;
    if (vessel.reactingSinceMs === null) return off;
    if (wake !== 'mixing') return null;
    const { movingSinceMs } = vessel.mixing;
    if (vessel.alarms['restart-hot'] !== undefined) return isOver(sight) ? off : null;
    const restedMs = vessel.mixing.restSinceMs === null ? 0 : atMs - vessel.mixing.restSinceMs;
    const limit = plan.limits.restartMarginC;
    if (movingSinceMs !== atMs || restedMs < REST_MS) return null;
    // It starts but once: where the probe is silent just now, what it said last has to do.
    const known = headroomC === null ? lastLiquid(vessel, atMs) : null;
    const belowC = known === null ? headroomC : boilingC - known.value;
    if (belowC === null || belowC >= limit) return null;
    const batch = vessel.batch === null ? undefined : site.batches[vessel.batch];
    const reactedMs = batch === undefined ? 0 : creditedMs(passReactionTime(site, batch.pass, atMs));
    return {
      holds: true,
      priority: reactedMs >= MOSTLY_REACTED_MS ? 'medium' : 'critical',
      value: belowC,
      limit,
      facts: {
        headroomC: belowC,
        restedMinutes: restedMs / 60_000,
        mostlyReacted: reactedMs >= MOSTLY_REACTED_MS,
      },
    };
  },

  describe(facts, unit) {
    const from = fromBoiling(Number(facts.headroomC), unit);
    return {
      because: `Mixed again after ${Number(facts.restedMinutes).toFixed(0)} min at rest, ${from} boiling: methoxide that lay on the oil reacts at once.`,
      todo: facts.mostlyReacted
        ? 'Heat off, and watch the temperature. If it rises, stop it again, stand back and let it cool.'
        : 'Stop it again. Heat off, stand back, let it cool. Then mix in short bursts.',
    };
  },
};

function isOver({ vessel, atMs, trendCPerMin }: Sight): boolean {
  const { movingSinceMs } = vessel.mixing;
  if (movingSinceMs === null || atMs - movingSinceMs < OVER_AFTER_MS) return false;
  return trendCPerMin !== null && trendCPerMin < OVER_C_PER_MIN;
}
