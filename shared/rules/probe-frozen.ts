import { liquidChannels } from '../engine/channels.ts';
import type { ChannelState } from '../engine/state.ts';
import { formatTemperature } from '../units/temperature.ts';
import { clear, type Rule, type Sight } from './rule.ts';

/** So many readings of one value, at least. */
const LEAST_READINGS = 20;
/** °C under plan beyond which heat would move it. */
const UNDER_PLAN_C = 2;
/** °C that another probe moved meanwhile. */
const MOVED_C = 1;

export const probeFrozen: Rule = {
  alarm: 'probe-frozen',
  wakes: ['liquid'],
  stages: ['warm', 'dose', 'react'],
  // The graver of the two is the one that is told.
  explainedBy: ['heat-not-seen'],

  judge(sight) {
    const { vessel, plan, channel } = sight;
    const standing = vessel.alarms['probe-frozen'];
    if (standing !== undefined) {
      const { same } = vessel.channels[String(standing.facts.channel)]!;
      return same?.value === standing.facts.frozenC ? null : clear;
    }
    const probe = vessel.channels[channel!]!;
    if (!isFrozen(sight, channel!, probe)) return null;
    return {
      holds: true,
      priority: 'medium',
      value: probe.same!.value,
      limit: plan.limits.frozenMinutes,
      facts: { channel, frozenC: probe.same!.value, minutes: plan.limits.frozenMinutes },
    };
  },

  describe(facts, unit) {
    return {
      because: `The probe says exactly ${formatTemperature(Number(facts.frozenC), unit)} for over ${Number(facts.minutes).toFixed(0)} min, which a liquid does not.`,
      todo: 'The liquid may be hotter than it says: measure it another way, and heat off until you have. Then look at the probe.',
    };
  },
};

function isFrozen({ vessel, plan, atMs, liquidC }: Sight, name: string, { same }: ChannelState): boolean {
  const spanMs = plan.limits.frozenMinutes * 60_000;
  if (same === null || same.count < LEAST_READINGS || atMs - same.sinceMs < spanMs) return false;
  const { heater } = vessel;
  const heated = heater?.on === true && atMs - heater.sinceMs >= spanMs;
  if (heated && liquidC !== null && liquidC < plan.reactionTemperatureC - UNDER_PLAN_C) return true;
  return liquidChannels(vessel).some(([other, { past, sound }]) => {
    if (other === name || sound === null) return false;
    const values = past.filter(([t]) => t >= same.sinceMs && t >= atMs - spanMs).map(([, value]) => value);
    return Math.max(...values, sound.value) - Math.min(...values, sound.value) > MOVED_C;
  });
}
