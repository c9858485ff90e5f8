import { formatTemperature } from '../units/temperature.ts';
import { clear, type Rule } from './rule.ts';

export const probeOutOfRange: Rule = {
  alarm: 'probe-out-of-range',
  wakes: ['temperature'],

  judge({ vessel, channel }) {
    if (vessel.suspect.range.length === 0) return clear;
    if (channel === null || !vessel.suspect.range.includes(channel)) return null;
    const { value } = vessel.channels[channel]!.newest;
    return {
      holds: true,
      priority: 'medium',
      value,
      limit: value < 0 ? -20 : 200,
      facts: { channel, readC: value },
    };
  },

  describe(facts, unit) {
    const read = Number(facts.readC);
    return {
      because: `The probe says ${formatTemperature(read, unit)}, which no liquid here can have: not used.`,
      todo:
        read === -127
          ? 'The probe has lost its wire: look at its plug and cable.'
          : 'Look at the probe, its plug and its cable.',
    };
  },
};
