import { lowestMixing, mixingChannel, mixingRatio, STOPPED_RATIO } from '../engine/channels.ts';
import { clear, heldMs, off, type Rule } from './rule.ts';

/** A stirrer may run out for so long after the stage began, ms. */
const RUN_OUT_MS = 120_000;
const FOR_MS = 10_000;

export const settlingDisturbed: Rule = {
  alarm: 'settling-disturbed',
  wakes: ['mixing', 'stage'],
  stages: ['settle'],

  judge({ wake, vessel, atMs, memory }) {
    // It begins anew.
    if (wake !== 'mixing') return off;
    const channel = mixingChannel(vessel)!;
    const { value } = vessel.channels[channel]!.sound!;
    const moves = mixingRatio(vessel, channel, value) > STOPPED_RATIO;
    if (!moves) memory.rested = 1;
    const judged = memory.rested === 1 || atMs - vessel.stageAtMs >= RUN_OUT_MS;
    const movedMs = heldMs(memory, moves && judged, atMs);
    if (!moves) return clear;
    if (movedMs < FOR_MS) return null;
    const limit = STOPPED_RATIO * (lowestMixing(vessel, channel) ?? 0);
    return { holds: true, priority: 'medium', value, limit, facts: { channel, value } };
  },

  describe(facts, _unit) {
    return {
      because: `The ${facts.channel === 'stirrer-speed' ? 'stirrer' : 'pump'} runs while it settles: the settling time starts again from zero when it stops.`,
      todo: 'Stop it, and let the vessel stand.',
    };
  },
};
