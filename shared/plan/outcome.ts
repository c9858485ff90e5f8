import { usualHeightM } from '../chemistry/amounts.ts';
import { BASES } from '../chemistry/bases.ts';
import type { Band } from '../chemistry/formula.ts';
import { conversionPercent, reactionMinutes } from '../chemistry/kinetics.ts';
import { type Layer, type SettledLayers, settledLayers } from '../chemistry/layers.ts';
import { methanolRecoveredKg } from '../chemistry/recovery.ts';
import { glycerolSetsBelowC, settlingHours } from '../chemistry/settling.ts';
import { type Bounded, bounded } from './bounded.ts';
import type { ResolvedRequest } from './resolve.ts';
import type { WatchPlan } from './watch-plan.ts';
import type { Workings } from './workings.ts';

/** What comes out: how far it reacts, how it settles, what the two layers hold. All of it estimates. */

/** A settling vessel cools from the reaction to the room: the temperature taken for all of that, °C. */
const SETTLING_AT_C = 30;
/** Methanol is boiled off up to this, °C: well under the limit of the alarm. Common practice, no source. */
const RECOVER_TO_C = 100;

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
  'washedFuelL',
  'fuelMethanolPercent',
  'glycerolLayerL',
  'glycerolLayerKg',
  'glycerolLayerMethanolPercent',
  'glycerolKg',
  'methanolLeftKg',
  'yieldPercent',
  'fuelSoapPpm',
] as const;

export function settledOf(
  { oil, vessel, methanol: { purityPercent }, catalyst: { kind } }: ResolvedRequest,
  { oilKg, oilMolarMassGPerMol }: { oilKg: number; oilMolarMassGPerMol: number },
  { methanolKg, methanolL: litres }: { methanolKg: number; methanolL: number },
  { pureG }: { pureG: number },
  acid: { acidSoapG: number },
  reaction: Bounded<'expectedConversionPercent'>,
  { pressureHPa }: { pressureHPa: number },
  workings: Workings,
) {
  const liquidHeightM =
    vessel.liquidHeightM ?? workings.by('liquidHeightM', usualHeightM, { litres: oil.volumeL + litres });
  const of = (percent: number, soap: number) => ({
    oilKg,
    oilMolarMassGPerMol,
    methanolKg: (methanolKg * purityPercent) / 100,
    base: kind,
    baseG: pureG,
    soapG: soap,
    conversionPercent: percent,
  });
  // Of wet oil, or with too much catalyst, all of the catalyst can become soap.
  const { gPerMol, oleateGPerMol } = BASES[kind];
  const soap = { value: acid.acidSoapG, high: Math.max(acid.acidSoapG, (pureG / gPerMol) * oleateGPerMol) };
  const layers = workings.by(LAYER_FIELDS, settledLayers, of(reaction.expectedConversionPercent, soap.value));
  const corners = [reaction.expectedConversionPercentLow, reaction.expectedConversionPercentHigh].flatMap(
    (percent) => [settledLayers(of(percent, soap.value)), settledLayers(of(percent, soap.high))],
  );
  /** Widened by the bounds of the conversion and of the soap. */
  const wide = <Name extends string>(name: Name, pick: (layers: SettledLayers) => Band): Bounded<Name> =>
    bounded(name, {
      low: Math.min(...[layers, ...corners].map((corner) => pick(corner).low)),
      value: pick(layers).value,
      high: Math.max(...[layers, ...corners].map((corner) => pick(corner).high)),
    });
  const recovered = <Name extends string>(name: Name, from: 'glycerol' | 'ester'): Bounded<Name> => {
    const of = ({ kg, methanolKg }: Layer, bound: keyof Band) => ({
      in: from,
      temperatureC: RECOVER_TO_C,
      pressureHPa,
      restKg: kg.value - methanolKg.value,
      methanolKg: methanolKg[bound],
    });
    const layer = ({ fuel, glycerol }: SettledLayers) => (from === 'ester' ? fuel : glycerol);
    const { value, ...own } = workings.by(name, methanolRecoveredKg, of(layer(layers), 'value'));
    return bounded(name, {
      low: Math.min(own.low, ...corners.map((corner) => methanolRecoveredKg(of(layer(corner), 'low')).low)),
      value,
      high: Math.max(
        own.high,
        ...corners.map((corner) => methanolRecoveredKg(of(layer(corner), 'high')).high),
      ),
    });
  };
  const exact = (value: number): Band => ({ low: value, value, high: value });
  return {
    ...bounded('soapG', { low: soap.value, ...soap }),
    liquidHeightM,
    ...bounded(
      'settleHours',
      workings.by('settleHours', settlingHours, { liquidHeightM, temperatureC: SETTLING_AT_C }),
    ),
    glycerolSetsBelowC: glycerolSetsBelowC(kind),
    ...wide('fuelL', ({ fuel }) => fuel.litres),
    ...wide('fuelKg', ({ fuel }) => fuel.kg),
    ...wide('washedFuelL', ({ washedL }) => washedL),
    ...wide('fuelMethanolPercent', ({ fuel }) => fuel.methanolPercent),
    ...wide('glycerolLayerL', ({ glycerol }) => glycerol.litres),
    ...wide('glycerolLayerKg', ({ glycerol }) => glycerol.kg),
    ...wide('glycerolLayerMethanolPercent', ({ glycerol }) => glycerol.methanolPercent),
    ...wide('glycerolKg', ({ glycerolKg }) => exact(glycerolKg)),
    ...wide('methanolLeftKg', ({ methanolLeftKg }) => exact(methanolLeftKg)),
    ...wide('yieldPercent', ({ yieldPercent }) => exact(yieldPercent)),
    ...wide('fuelSoapPpm', ({ fuel: { soapKg, kg } }) => ({
      low: (soapKg.low / kg.high) * 1e6,
      value: (soapKg.value / kg.value) * 1e6,
      high: (soapKg.high / kg.low) * 1e6,
    })),
    recoverToC: RECOVER_TO_C,
    ...recovered('recoveredFromGlycerolKg', 'glycerol'),
    ...recovered('recoveredFromFuelKg', 'ester'),
  };
}
