import { heatAskedFor, silenceMs } from '../engine/channels.ts';
import type { VesselState } from '../engine/state.ts';
import { formatTemperature } from '../units/temperature.ts';
import { clear, type Rule, type Sight } from './rule.ts';

/** °C that the condensate must fall below the limit again. */
const HYSTERESIS_C = 5;
/** Heating for so long, or five intervals, without a word of the condenser is heating blind, ms. */
const SILENT_AFTER_MS = 60_000;
const CHANNEL = 'condensate-temperature';

export const condenserWarm: Rule = {
  alarm: 'condenser-warm',
  wakes: ['condensate', 'heater', 'stage', 'silence'],
  stages: ['recover'],

  judge(sight) {
    const { wake, vessel, plan, value } = sight;
    countHeating(sight);
    const limit = plan.limits.condensateHighestC;
    if (wake === 'condensate') {
      if (value! <= limit - HYSTERESIS_C) return clear;
      return value! > limit ? warm('warm', value!, limit) : null;
    }
    if (wake !== 'silence') return null;
    return warm(isMeasured(vessel) ? 'silent' : 'unseen', null, limit);
  },

  deadlineMs(vessel) {
    if (vessel.stage !== 'recover') return null;
    const seen = isMeasured(vessel);
    const standing = vessel.alarms['condenser-warm'];
    if (standing?.priority === 'critical') return null;
    // A condenser that nobody measures is told once; one that was measured and is no longer is a danger.
    if (!seen && standing !== undefined) return null;
    const { stageArrivedMs, watchedFromMs, heater } = vessel;
    const allowedMs = seen
      ? Math.max(SILENT_AFTER_MS, silenceMs(vessel, vessel.channels[CHANNEL]))
      : SILENT_AFTER_MS;
    // Where no channel shows it, it is heated: that is what the stage is for.
    if (heater === null) {
      const heardMs = seen ? vessel.channels[CHANNEL]!.sound!.arrivedMs : 0;
      return Math.max(heardMs, stageArrivedMs, watchedFromMs) + allowedMs;
    }
    if (!heater.on) return null;
    const { countedToArrivedMs = stageArrivedMs, heatedMs = 0 } = vessel.memory['condenser-warm'] ?? {};
    return Math.max(countedToArrivedMs, watchedFromMs) + allowedMs - heatedMs;
  },

  describe(facts, unit) {
    switch (facts.what) {
      case 'silent':
        return {
          because: 'No condensate reading while it heats: nobody knows whether the condenser cools.',
          todo: 'Turn the heat off. Look at the condenser’s cooling and its probe. Air the room, no flame.',
        };
      case 'unseen':
        return {
          because: 'Methanol is being recovered, and no probe shows the condensate.',
          todo: 'See for yourself, all the time, that the condenser cools: vapour that passes it goes into the room.',
        };
      default:
        return {
          because: `Condensate at ${formatTemperature(Number(facts.condensateC), unit)}: the condenser does not cool, methanol vapour goes into the room.`,
          todo: 'Turn the heat off. No flame, no spark. Air the room and restore the cooling before you heat again.',
        };
    }
  },
};

/** A probe measures the condensate in this stage, not a person now and then. */
function isMeasured(vessel: VesselState): boolean {
  const channel = vessel.channels[CHANNEL];
  return channel?.seenInStage === true && !channel.newest.typed;
}

/**
 * Counts for how long heat was asked for since the condensate was last heard of, by arrival: a thermostat's
 * pauses do not begin it anew.
 */
function countHeating({ wake, vessel, arrivedMs, memory }: Sight): void {
  const fromMs = memory.countedToArrivedMs;
  if (fromMs !== undefined) {
    memory.heatedMs =
      (memory.heatedMs ?? 0) + Math.max(0, arrivedMs - Math.max(fromMs, vessel.watchedFromMs));
  }
  if (wake === 'condensate' || wake === 'stage') memory.heatedMs = 0;
  if (heatAskedFor(vessel)) memory.countedToArrivedMs = arrivedMs;
  else delete memory.countedToArrivedMs;
}

function warm(what: 'warm' | 'silent' | 'unseen', condensateC: number | null, limit: number) {
  return {
    holds: true,
    priority: what === 'unseen' ? 'medium' : 'critical',
    value: condensateC,
    limit,
    facts: { what, condensateC, advice: what },
  } as const;
}
