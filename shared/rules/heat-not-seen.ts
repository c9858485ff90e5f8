import { heatAskedFor, pastC } from '../engine/channels.ts';
import { formatTemperature, formatTemperatureDifference } from '../units/temperature.ts';
import { byProbe, clear, off, type Rule, type Sight, type Verdict } from './rule.ts';

/** After the cold methoxide the reaction warms up for so long, ms. */
const REACT_GRACE_MS = 5 * 60_000;
/** °C under plan beyond which heat has to be seen. */
const UNDER_PLAN_C = 2;
/** °C that heat has to show, and that end the alarm. Colder by so much, the reading falls. */
const SEEN_C = 0.5;
/** Falling faster than this, °C/min, the probe is in another medium. */
const FALLING_C_PER_MIN = -3;

export const heatNotSeen: Rule = {
  alarm: 'heat-not-seen',
  wakes: ['liquid', 'heater'],
  stages: ['warm', 'react'],

  judge(sight) {
    const { wake, vessel, atMs, liquidC, memory } = sight;
    if (!heatAskedFor(vessel)) return off;
    if (wake !== 'liquid' || liquidC === null) return null;
    const standing = vessel.alarms['heat-not-seen'];
    if (standing !== undefined) {
      memory.lowestC = Math.min(memory.lowestC ?? standing.value!, liquidC);
      if (liquidC >= memory.lowestC + SEEN_C) {
        // Ten new minutes have to show it again: noise about the limit would come and go all the time.
        delete memory.lowestC;
        memory.clearedSinceMs = atMs;
        return clear;
      }
    }
    if (vessel.stage === 'react' && atMs - vessel.stageAtMs < REACT_GRACE_MS) return null;
    return dropping(sight) ?? staying(sight);
  },

  describe(facts, unit) {
    const liquid = `${formatTemperature(Number(facts.liquidC), unit)}${byProbe(facts)}`;
    switch (facts.what) {
      case 'dropping': {
        const rate = formatTemperatureDifference(-Number(facts.rateCPerMin), unit);
        return {
          because: `Falling by ${rate} a minute, at ${liquid}, while heat is asked for: the probe may not be in the liquid.`,
          todo: 'Turn the heat off first: the liquid may be hotter than it says. Then look at the probe.',
        };
      }
      case 'falling':
        return {
          because: `Heat asked for over ${Number(facts.minutes).toFixed(0)} min, and the reading falls, to ${liquid}.`,
          todo: 'Turn the heat off first: if the probe is not in the liquid, that is hotter than it says. Then look at the probe, and at the heater.',
        };
      default:
        return {
          because: `Heat asked for over ${Number(facts.minutes).toFixed(0)} min, and the liquid stays at ${liquid}.`,
          todo: 'Look whether the probe is in the liquid before you heat on: it may be hotter than it says. Then at the heater.',
        };
    }
  },
};

/** The reaction, heated, falls as no liquid does. */
function dropping(sight: Sight): Verdict {
  if (sight.vessel.stage !== 'react') return null;
  const rate = sight.surgeCPerMin;
  return rate !== null && rate < FALLING_C_PER_MIN ? unseen(sight, 'dropping', rate) : null;
}

/** Heat was asked for throughout, in this stage, far under plan, and none was seen. */
function staying(sight: Sight): Verdict {
  const { vessel, plan, atMs, liquidC, liquidChannel, memory } = sight;
  const spanMs = plan.limits.heatSeenMinutes * 60_000;
  const sinceMs = Math.max(vessel.heater!.sinceMs, vessel.stageAtMs, memory.clearedSinceMs ?? 0);
  if (atMs - sinceMs < spanMs || liquidC! >= plan.reactionTemperatureC - UNDER_PLAN_C) return null;
  const past = pastC(vessel, vessel.channels[liquidChannel!]!, atMs - spanMs);
  if (past === null || liquidC! - past.lowestC >= SEEN_C) return null;
  return unseen(sight, past.thenC - liquidC! >= SEEN_C ? 'falling' : 'staying', null);
}

function unseen(
  { vessel, plan, liquidC, probe }: Sight,
  what: 'dropping' | 'falling' | 'staying',
  rateCPerMin: number | null,
): Verdict {
  return {
    holds: true,
    priority: vessel.methanolPresent && what !== 'staying' ? 'critical' : 'high',
    value: liquidC,
    limit: plan.reactionTemperatureC,
    facts: { what, liquidC, rateCPerMin, minutes: plan.limits.heatSeenMinutes, probe },
  };
}
