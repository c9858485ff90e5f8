import { usualHeightM } from '../chemistry/amounts.ts';
import type { Band } from '../chemistry/formula.ts';
import { conversionPercent, reactionMinutes } from '../chemistry/kinetics.ts';
import { type SettledLayers, settledLayers } from '../chemistry/layers.ts';
import { glycerolSetsBelowC, settlingHours } from '../chemistry/settling.ts';
import { type Bounded, bounded } from './bounded.ts';
import type { ResolvedRequest } from './request.ts';
import type { WatchPlan } from './watch-plan.ts';
import type { Workings } from './workings.ts';

/** What comes out: how far it reacts, how it settles, what the two layers hold. All of it estimates. */

/** A settling vessel cools from the reaction to the room: the temperature taken for all of that, °C. */
const SETTLING_AT_C = 30;

export function reactionOf(
  watch: WatchPlan,
  { reaction: { temperatureC }, passes }: ResolvedRequest,
  workings: Workings,
) {
  const chemistry = { ...watch.chemistry, temperatureC };
  return {
    ...bounded('reactionMinutes', workings.by('reactionMinutes', reactionMinutes, chemistry)),
    ...bounded(
      'expectedConversionPercent',
      workings.by('expectedConversionPercent', conversionPercent, {
        ...chemistry,
        minutes: passes.map(() => watch.requiredReactionMinutes),
      }),
    ),
  };
}

/** What the balance of the settled layers gives of the answer, the bounds by those of the conversion as well. */
const LAYER_FIELDS = [
  'fuelL',
  'fuelKg',
  'fuelMethanolPercent',
  'glycerolLayerL',
  'glycerolLayerKg',
  'glycerolLayerMethanolPercent',
  'glycerolKg',
  'methanolLeftKg',
  'yieldPercent',
] as const;

export function settledOf(
  { oil, vessel, catalyst: { kind } }: ResolvedRequest,
  { oilKg, oilMolarMassGPerMol }: { oilKg: number; oilMolarMassGPerMol: number },
  { methanolKg, methanolL: litres }: { methanolKg: number; methanolL: number },
  { pureG }: { pureG: number },
  acid: { soapG: number },
  reaction: Bounded<'expectedConversionPercent'>,
  workings: Workings,
) {
  const liquidHeightM =
    vessel.liquidHeightM ?? workings.by('liquidHeightM', usualHeightM, { litres: oil.volumeL + litres });
  const of = (percent: number) => ({
    oilKg,
    oilMolarMassGPerMol,
    methanolKg,
    base: kind,
    baseG: pureG,
    soapG: acid.soapG,
    conversionPercent: percent,
  });
  const layers = workings.by(LAYER_FIELDS, settledLayers, of(reaction.expectedConversionPercent));
  const others = [
    layers,
    settledLayers(of(reaction.expectedConversionPercentLow)),
    settledLayers(of(reaction.expectedConversionPercentHigh)),
  ];
  /** Widened by the bounds of the conversion. */
  const wide = <Name extends string>(name: Name, pick: (layers: SettledLayers) => Band): Bounded<Name> =>
    bounded(name, {
      low: Math.min(...others.map((other) => pick(other).low)),
      value: pick(layers).value,
      high: Math.max(...others.map((other) => pick(other).high)),
    });
  const exact = (value: number): Band => ({ low: value, value, high: value });
  return {
    liquidHeightM,
    ...bounded(
      'settleHours',
      workings.by('settleHours', settlingHours, { liquidHeightM, temperatureC: SETTLING_AT_C }),
    ),
    glycerolSetsBelowC: glycerolSetsBelowC(kind),
    ...wide('fuelL', ({ fuel }) => fuel.litres),
    ...wide('fuelKg', ({ fuel }) => fuel.kg),
    ...wide('fuelMethanolPercent', ({ fuel }) => fuel.methanolPercent),
    ...wide('glycerolLayerL', ({ glycerol }) => glycerol.litres),
    ...wide('glycerolLayerKg', ({ glycerol }) => glycerol.kg),
    ...wide('glycerolLayerMethanolPercent', ({ glycerol }) => glycerol.methanolPercent),
    ...wide('glycerolKg', ({ glycerolKg }) => exact(glycerolKg)),
    ...wide('methanolLeftKg', ({ methanolLeftKg }) => exact(methanolLeftKg)),
    ...wide('yieldPercent', ({ yieldPercent }) => exact(yieldPercent)),
  };
}
