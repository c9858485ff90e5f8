import { formatTemperature } from '../units/temperature.ts';
import { describeOtherUnit } from './other-unit.ts';
import { byProbe, clear, off, type Rule, type Sight } from './rule.ts';

/** °C that the liquid must fall below the limit again. */
const HYSTERESIS_C = 2;
/** Oil that cools by so much a minute is on its way down, °C/min. */
const FALLING_C_PER_MIN = -0.1;
/** Oil that was dewatered is hot, and has so long to begin to cool, ms. */
const COOLS_AFTER_MS = 5 * 60_000;
const WATER_BOILS_C = 100;

export const oilOverheated: Rule = {
  alarm: 'oil-overheated',
  wakes: ['liquid', 'stage'],
  explainedBy: ['boiling-reached'],

  judge(sight) {
    const { wake, vessel, liquidC, probe } = sight;
    const limit = highestC(sight);
    if (limit === null) return off;
    if (wake !== 'liquid' || liquidC === null) return null;
    // What an earlier stage raised is over by its limit, too.
    const raisedAt = vessel.alarms['oil-overheated']?.limit ?? limit;
    if (liquidC <= Math.max(raisedAt, limit) - HYSTERESIS_C) return clear;
    if (liquidC <= limit || isCooling(sight)) return null;
    return {
      holds: true,
      priority: 'high',
      value: liquidC,
      limit,
      facts: { liquidC, limitC: limit, stage: vessel.stage, methanol: vessel.methanolPresent, probe },
    };
  },

  describe(facts, unit) {
    const highest = formatTemperature(Number(facts.limitC), unit);
    const hazard =
      Number(facts.liquidC) < WATER_BOILS_C
        ? 'Let it cool before methoxide comes near it.'
        : 'Stand back: water below hot oil erupts.';
    return {
      because: `${facts.stage === 'dry-fuel' ? 'Fuel' : 'Oil'} at ${formatTemperature(Number(facts.liquidC), unit)}${byProbe(facts)}, over the ${highest} of this stage.`,
      todo: `Turn the heat off. ${facts.methanol ? 'Keep flames and sparks away: it may still hold methanol.' : hazard}${describeOtherUnit(Number(facts.liquidC) - Number(facts.limitC))}`,
    };
  },
};

function highestC({ vessel, plan: { limits } }: Sight): number | null {
  switch (vessel.stage) {
    case 'warm':
      return limits.warmHighestC;
    case 'dry-oil':
      return limits.dryHighestC;
    case 'dry-fuel':
      return limits.dryFuelHighestC;
    default:
      return null;
  }
}

function isCooling({ vessel, atMs, trendCPerMin }: Sight): boolean {
  if (vessel.stage !== 'warm') return false;
  if (vessel.previousStage === 'dry-oil' && atMs - vessel.stageAtMs < COOLS_AFTER_MS) return true;
  return trendCPerMin !== null && trendCPerMin <= FALLING_C_PER_MIN;
}
