import { MIXING_STAGES } from '../wire/names.ts';
import { clear, type Rule } from './rule.ts';
import { liesOnMethoxide } from './stirring-advice.ts';

export const notWatching: Rule = {
  alarm: 'not-watching',
  wakes: ['start', 'acknowledge'],

  judge({ wake, vessel, atMs, downSinceMs }) {
    if (wake === 'acknowledge') return clear;
    if (vessel.batch === null || vessel.stage === 'idle' || downSinceMs === null) return null;
    // Again, and nobody has acknowledged the last time yet: both are told.
    const before = Number(vessel.alarms['not-watching']?.facts.minutes ?? 0);
    const minutes = before + Math.max(0, atMs - downSinceMs) / 60_000;
    const advice = liesOnMethoxide(vessel)
      ? 'methoxide'
      : MIXING_STAGES.includes(vessel.stage)
        ? 'mix'
        : 'look';
    return {
      holds: true,
      priority: 'high',
      value: minutes,
      limit: null,
      facts: { minutes, what: advice, advice: `${advice} ${minutes}` },
    };
  },

  describe(facts, _unit) {
    const minutes = Number(facts.minutes);
    const long = minutes < 2 ? `${(minutes * 60).toFixed(0)} s` : `${minutes.toFixed(0)} min`;
    return {
      because: `Nobody watched for ${long}: nothing of that time is known or counted.`,
      todo:
        facts.what === 'methoxide'
          ? 'Look at the vessel: its temperature, and whether it is stirred. If it stood still over methoxide, do not start it again hot.'
          : facts.what === 'mix'
            ? 'Look at the vessel: its temperature, and whether it is stirred.'
            : 'Look at the vessel: its temperature, its heater and its valves.',
    };
  },
};
