import { mixingChannel } from '../engine/channels.ts';
import { isCouplingLost } from '../engine/drive.ts';
import { MIXING_STAGES } from '../wire/names.ts';
import { clear, type Rule } from './rule.ts';
import { hasLainStill } from './stirring-advice.ts';

export const couplingLost: Rule = {
  alarm: 'coupling-lost',
  wakes: ['current'],
  stages: MIXING_STAGES,

  judge({ vessel, atMs, value }) {
    const { drive } = vessel;
    if (!isCouplingLost(vessel)) return clear;
    return {
      holds: true,
      priority: 'high',
      value,
      limit: drive.settledA,
      facts: {
        channel: mixingChannel(vessel) ?? null,
        amperes: value,
        settledA: drive.settledA,
        advice: hasLainStill(vessel, atMs, drive.lost.at(-1)!.fromMs) ? 'leave-stopped' : 'catch-again',
      },
    };
  },

  describe(facts, _unit) {
    const drew = `${Number(facts.amperes).toFixed(2)} A instead of ${Number(facts.settledA).toFixed(2)} A`;
    const isLeft = facts.advice === 'leave-stopped';
    return facts.channel === 'stirrer-speed'
      ? {
          because: `The stirrer turns and draws ${drew}: the liquid does not turn with it.`,
          todo: isLeft
            ? 'Switch it off before it catches again: methoxide has lain on the oil. Heat off, let it cool. Then stir in short bursts.'
            : 'Slow it down until the coupling catches, then bring it up again. Until then it is not stirred: heat off.',
        }
      : {
          because: `The pump runs and draws ${drew}: it moves no liquid.`,
          todo: isLeft
            ? 'Switch it off before it draws again: methoxide has lain on the oil. Heat off, let it cool. Then pump in short bursts.'
            : 'Stop it, vent the air or open the valve, start it again. Until then it is not mixed: heat off.',
        };
  },
};
