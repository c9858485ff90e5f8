import type { Band } from '../chemistry/formula.ts';
import { conversionPercent } from '../chemistry/kinetics.ts';
import type { WatchPlan } from '../plan/watch-plan.ts';
import { passReactionTime } from './reaction-time.ts';
import type { BatchState, SiteState } from './state.ts';

const MS_PER_MINUTE = 60_000;

/**
 * How much of the oil has become ester by what the readings show of all passes, percent: an estimate with
 * its bounds, by the chemistry of the plan. No rule reads it, and it is no test.
 */
export function batchConversionPercent(
  site: SiteState,
  batch: BatchState,
  plan: WatchPlan,
  nowMs: number,
): Band {
  const present = passReactionTime(site, batch.pass, nowMs).weightedMs;
  const minutes = [...batch.earlierPassesMs, present].map((ms) => ms / MS_PER_MINUTE);
  // Doses beyond the planned ones bring nothing that the plan knows of: the last planned pass goes on.
  const planned = minutes.slice(0, plan.chemistry.passSharesPercent.length);
  const beyond = minutes.slice(planned.length).reduce((sum, each) => sum + each, 0);
  planned.push(planned.pop()! + beyond);
  return conversionPercent({
    ...plan.chemistry,
    temperatureC: plan.reactionTemperatureC,
    minutes: planned,
  });
}
