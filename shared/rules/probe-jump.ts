import { formatTemperature } from '../units/temperature.ts';
import { clear, type Rule } from './rule.ts';

/** What common digital probes say at power-up, °C. */
const POWER_UP_C = 85;

export const probeJump: Rule = {
  alarm: 'probe-jump',
  wakes: ['temperature'],

  judge({ vessel, channel }) {
    if (vessel.suspect.jump.length === 0) return clear;
    if (channel === null || !vessel.suspect.jump.includes(channel)) return null;
    const { newest, sound } = vessel.channels[channel]!;
    return {
      holds: true,
      priority: 'medium',
      value: newest.value,
      limit: null,
      facts: { channel, readC: newest.value, beforeC: sound?.value ?? null },
    };
  },

  describe(facts, unit) {
    const read = formatTemperature(Number(facts.readC), unit);
    return {
      because:
        Number(facts.readC) === POWER_UP_C && facts.beforeC !== null
          ? `The probe says ${read}, as many do when they have just got power: not used until other readings confirm it.`
          : facts.beforeC === null
            ? `The probe says ${read}, which is what it says when it has just got power: not used.`
            : `The probe went from ${formatTemperature(Number(facts.beforeC), unit)} to ${read} faster than a liquid can: not used until the next reading confirms it.`,
      todo: 'Look whether the probe is in the liquid and its plug sits well.',
    };
  },
};
