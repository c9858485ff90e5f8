import { isTooFast, POWER_UP_C } from '../engine/soundness.ts';
import {
  formatTemperature,
  formatTemperatureDifference,
  type TemperatureUnit,
} from '../units/temperature.ts';
import type { AlarmFacts } from '../wire/api.ts';
import { describeTime } from './describe-time.ts';
import { clear, type Rule } from './rule.ts';
import { isShared } from './two-devices.ts';

export const probeJump: Rule = {
  alarm: 'probe-jump',
  wakes: ['temperature'],

  judge({ vessel, channel }) {
    // Where two devices are known to send, each hop between them is none of the probe's.
    const jumped = vessel.suspect.jump.filter((name) => !isShared(vessel, name));
    if (jumped.length === 0) return clear;
    if (channel === null || !jumped.includes(channel)) return null;
    const { newest, sound } = vessel.channels[channel]!;
    return {
      holds: true,
      priority: 'medium',
      value: newest.value,
      limit: null,
      facts: {
        channel,
        readC: newest.value,
        beforeC: sound?.value ?? null,
        afterSeconds: sound === null ? null : (newest.atMs - sound.atMs) / 1000,
      },
    };
  },

  describe(facts, unit) {
    return {
      because: becauseOf(facts, unit),
      todo: 'Look whether the probe is in the liquid and its plug sits well. If it jumps again and again, look for a loose contact.',
    };
  },
};

function becauseOf(facts: AlarmFacts, unit: TemperatureUnit): string {
  const readC = Number(facts.readC);
  const read = formatTemperature(readC, unit);
  if (facts.beforeC === null)
    return `The probe says ${read}, which is what it says when it has just got power: not used.`;
  if (readC === POWER_UP_C)
    return `The probe says ${read}, as many do when they have just got power: not used until other readings confirm it.`;
  const beforeC = Number(facts.beforeC);
  // Alarms from before the time between was kept have none.
  const afterMs = Number(facts.afterSeconds ?? 0) * 1000;
  if (isTooFast(beforeC, readC, afterMs))
    return `The probe went from ${formatTemperature(beforeC, unit)} to ${read} faster than a liquid can: not used until the next reading confirms it.`;
  const apart = formatTemperatureDifference(Math.abs(readC - beforeC), unit);
  return `The probe says ${read}, ${apart} away from its last reading, ${describeTime(afterMs / 1000)} before: not used until the next reading tells whether that is so.`;
}
