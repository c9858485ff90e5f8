import { celsiusFromFahrenheit, type TemperatureUnit } from '../shared/units/temperature.ts';
import type { Stage } from '../shared/wire/names.ts';

/** What deserves a second look in a liquid temperature that a person typed; pure. */

/** Further above methanol's boiling point hardly any liquid here is meant to be, °C. */
const ABOVE_BOILING_C = 20;
/** Stages that are meant to be hotter, up to where water and methanol are long gone, °C. */
const HOT_STAGES: readonly Stage[] = ['dry-oil', 'recover', 'dry-fuel'];
const HOT_STAGE_MOST_C = 130;
/** In the other unit it would be so near to the last reading, and in this one so far away, °C. */
const NEAR_C = 5;
const FAR_C = 20;

export type Doubt = 'hot' | 'other-unit';

export function doubtOf(
  typed: number,
  unit: TemperatureUnit,
  vessel: { boilingC: number; stage: Stage; lastC: number | undefined },
): Doubt | undefined {
  const typedC = unit === 'C' ? typed : celsiusFromFahrenheit(typed);
  const { boilingC, stage, lastC } = vessel;
  const otherC = unit === 'C' ? celsiusFromFahrenheit(typed) : typed;
  const isNear = lastC !== undefined && Math.abs(otherC - lastC) <= NEAR_C;
  if (isNear && Math.abs(typedC - lastC) >= FAR_C) return 'other-unit';
  const mostC = HOT_STAGES.includes(stage) ? HOT_STAGE_MOST_C : boilingC + ABOVE_BOILING_C;
  return typedC > mostC ? 'hot' : undefined;
}
