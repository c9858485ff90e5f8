import { heatAskedFor } from '../engine/channels.ts';
import type { VesselState } from '../engine/state.ts';
import { ENDED_STAGES } from '../wire/names.ts';
import { clear, off, type Rule } from './rule.ts';

/** Heat asked for so long is no slip, ms. */
const AFTER_MS = 5000;
/** An emptied vessel holds methanol vapour for a while, ms. */
const EMPTIED_MS = 12 * 3_600_000;

export const heaterOnDraining: Rule = {
  alarm: 'heater-on-draining',
  wakes: ['heater', 'stage', 'silence'],

  judge({ vessel, atMs, wake }) {
    if (!isWatched(vessel, atMs)) return off;
    if (!heatAskedFor(vessel)) return clear;
    const askedMs = atMs - Math.max(vessel.heater!.sinceMs, vessel.stageAtMs);
    if (wake !== 'silence' && askedMs < AFTER_MS) return null;
    return {
      holds: true,
      priority: 'critical',
      value: 1,
      limit: 0,
      facts: { stage: vessel.stage },
    };
  },

  deadlineMs(vessel) {
    if (vessel.alarms['heater-on-draining'] !== undefined || !heatAskedFor(vessel)) return null;
    const sinceMs = Math.max(vessel.heater!.sinceArrivedMs, vessel.stageArrivedMs, vessel.watchedFromMs);
    const dueMs = sinceMs + AFTER_MS;
    return isWatched(vessel, dueMs) ? dueMs : null;
  },

  describe(facts, _unit) {
    return {
      because:
        facts.stage === 'drain'
          ? 'The heater is on while the vessel is drained.'
          : 'The heater is on in a vessel that was emptied.',
      todo: 'Turn the heat off at once: a bare element glows in methanol vapour. No flame, no spark, air the room.',
    };
  },
};

/** A batch that has just ended makes its vessels idle at once: what stands goes on through that. */
const isWatched = (vessel: VesselState, atMs: number): boolean =>
  vessel.stage === 'drain' ||
  ENDED_STAGES.includes(vessel.stage) ||
  (vessel.stage === 'idle' && vessel.batchEndedMs !== null && atMs - vessel.batchEndedMs < EMPTIED_MS);
