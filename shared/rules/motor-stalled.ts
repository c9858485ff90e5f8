import { mixingChannel, mixingRatio, STOPPED_RATIO } from '../engine/channels.ts';
import { driveCurrentChannel } from '../engine/drive.ts';
import { clear, heldMs, type Rule } from './rule.ts';
import { hasLainStill, liesOnMethoxide } from './stirring-advice.ts';

/** Times the settled current: a motor that pushes and does not turn. */
const STALLED_SHARE = 1.5;
const FOR_MS = 2000;

export const motorStalled: Rule = {
  alarm: 'motor-stalled',
  wakes: ['current', 'mixing'],

  judge({ vessel, atMs, memory }) {
    const { settledA } = vessel.drive;
    const channel = mixingChannel(vessel);
    if (channel === undefined || settledA === null) return null;
    const speed = vessel.channels[channel]!.sound!;
    const current = vessel.channels[driveCurrentChannel(channel)]?.sound;
    if (!current) return null;
    const limit = STALLED_SHARE * settledA;
    const stands = mixingRatio(vessel, channel, speed.value) < STOPPED_RATIO;
    const stalledMs = heldMs(memory, stands && current.value > limit, atMs);
    if (stalledMs < 0) return clear;
    // An old reading of one of them may be of before it was started, or stopped.
    const isShown = Math.min(speed.atMs, current.atMs) >= memory.sinceMs!;
    if (stalledMs < FOR_MS || !isShown) return null;
    return {
      holds: true,
      priority: 'high',
      value: current.value,
      limit,
      facts: {
        amperes: current.value,
        settledA,
        advice: hasLainStill(vessel, atMs)
          ? 'leave-stopped'
          : liesOnMethoxide(vessel)
            ? 'free-at-once'
            : 'free',
      },
    };
  },

  describe(facts, _unit) {
    return {
      because: `The motor draws ${Number(facts.amperes).toFixed(2)} A and does not turn (${Number(facts.settledA).toFixed(2)} A when it did).`,
      todo: `Switch the motor off, away from the vapour: it overheats. ${describeNext(facts.advice)}`,
    };
  },
};

function describeNext(advice: unknown): string {
  switch (advice) {
    case 'leave-stopped':
      return 'Do not start it again. Heat off, let it cool. Then free it and stir in short bursts.';
    case 'free-at-once':
      return 'Heat off. Start it again only if it is free within 2 minutes.';
    default:
      return 'Free it before you start it again.';
  }
}
