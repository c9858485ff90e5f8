import { isHeard, mixingChannel, mixingRatio } from '../engine/channels.ts';
import { isCouplingLost } from '../engine/drive.ts';
import { formatTemperature } from '../units/temperature.ts';
import { MIXING_STAGES } from '../wire/names.ts';
import { clear, heldMs, off, type Rule, type Sight } from './rule.ts';

/** °C apart that a mixed liquid has nowhere, and under which it is over. */
const APART_C = 3;
const OVER_C = 2;
const FOR_MS = 60_000;

export const probesDisagree: Rule = {
  alarm: 'probes-disagree',
  wakes: ['liquid', 'stage'],
  explainedBy: ['probe-frozen'],

  judge(sight) {
    const { wake, vessel, atMs, memory } = sight;
    if (wake !== 'liquid') return vessel.stage === 'idle' ? off : null;
    const extremes = farthestApart(sight);
    // One that has fallen silent says nothing of both.
    if (extremes === null) return null;
    const [cold, hot] = extremes;
    const apartC = hot.value - cold.value;
    const apartMs = heldMs(memory, apartC > APART_C && isMixed(sight), atMs);
    if (apartC < OVER_C) return clear;
    if (apartMs < FOR_MS) return null;
    return {
      holds: true,
      priority: 'medium',
      value: apartC,
      limit: APART_C,
      facts: { channel: hot.name, hotC: hot.value, coldC: cold.value, stage: vessel.stage },
    };
  },

  describe(facts, unit) {
    return {
      because: `Two probes in one mixed liquid say ${formatTemperature(Number(facts.hotC), unit)} and ${formatTemperature(Number(facts.coldC), unit)}.`,
      todo: 'The hotter one counts until you know better. Look whether both are in the liquid.',
    };
  },
};

function isMixed({ vessel, plan, arrivedMs }: Sight): boolean {
  const name = mixingChannel(vessel);
  if (name === undefined) return plan.mixingStated && MIXING_STAGES.includes(vessel.stage);
  const channel = vessel.channels[name]!;
  if (!isHeard(vessel, channel, arrivedMs)) return false;
  return mixingRatio(vessel, name, channel.sound!.value) >= 1 && !isCouplingLost(vessel);
}

/** The coldest and the hottest of the probes that are heard; null of fewer than two. */
function farthestApart({ vessel, arrivedMs }: Sight) {
  let cold: { name: string; value: number } | null = null;
  let hot: { name: string; value: number } | null = null;
  for (const name in vessel.channels) {
    const channel = vessel.channels[name]!;
    if (!channel.isLiquid || !isHeard(vessel, channel, arrivedMs)) continue;
    const { value } = channel.sound!;
    if (cold === null || value < cold.value) cold = { name, value };
    if (hot === null || value >= hot.value) hot = { name, value };
  }
  return cold === null || hot === null || cold.name === hot.name ? null : ([cold, hot] as const);
}
