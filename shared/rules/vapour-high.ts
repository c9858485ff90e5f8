import type { VesselState } from '../engine/state.ts';
import { isGraver, type Priority } from '../wire/names.ts';
import { clear, type Rule } from './rule.ts';

/** The mean is of a quarter of an hour; at least of so long, ms. */
const LEAST_MS = 5 * 60_000;
/** Mean over a quarter of an hour that is grave as well, ppm. */
const HIGH_MEAN_PPM = 1000;
/** A fifth under what raised it, it is over. */
const CLEAR_SHARE = 0.8;

export const vapourHigh: Rule = {
  alarm: 'vapour-high',
  wakes: ['vapour'],

  judge({ vessel, plan, value, memory }) {
    const { vapourPpm, vapourHighPpm, vapourDangerPpm } = plan.limits;
    const ppm = value!;
    const running = Math.min(ppm, memory.previousPpm ?? 0);
    memory.previousPpm = ppm;
    const mean = meanPpm(vessel);
    const level: [Priority, number, number] | null =
      running >= vapourDangerPpm
        ? ['critical', ppm, vapourDangerPpm]
        : running >= vapourHighPpm
          ? ['high', ppm, vapourHighPpm]
          : mean !== null && mean > HIGH_MEAN_PPM
            ? ['high', mean, HIGH_MEAN_PPM]
            : mean !== null && mean > vapourPpm
              ? ['medium', mean, vapourPpm]
              : null;
    if (level === null) {
      const isUnder =
        ppm <= CLEAR_SHARE * vapourHighPpm && (mean === null || mean <= CLEAR_SHARE * vapourPpm);
      return isUnder ? clear : null;
    }
    const [priority, shown, limit] = level;
    // What to do in the gravest air that it was raised for holds until it clears.
    const standing = vessel.alarms['vapour-high']?.priority ?? priority;
    const advice = isGraver(standing, priority) ? standing : priority;
    return {
      holds: true,
      priority,
      value: shown,
      limit,
      facts: { ppm: shown, isMean: shown === mean, advice },
    };
  },

  describe(facts, _unit) {
    const mean = facts.isMean ? ' on average over the last quarter of an hour' : '';
    const because = `${Number(facts.ppm).toFixed(0)} ppm of methanol in the room air${mean}.`;
    switch (facts.advice) {
      case 'critical':
        return {
          because,
          todo: 'Get out. Touch no switch in the room. Cut the power from outside.',
        };
      case 'high':
        return {
          because,
          todo: 'Go outside, opening doors on the way. No flame, touch no switch. Come back when it is aired.',
        };
      default:
        return { because, todo: 'Air the room, close what is open, no flame. Do not stay in it.' };
    }
  },
};

/** Mean over the last quarter of an hour, gaps left out; null until it is of 5 min. */
function meanPpm({ vapour }: VesselState): number | null {
  let [shownMs, sum] = [0, 0];
  for (const span of vapour) {
    shownMs += span.shownMs;
    sum += span.sum;
  }
  return shownMs < LEAST_MS ? null : sum / shownMs;
}
