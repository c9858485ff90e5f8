import { z } from 'zod';
import { BASE_KINDS } from '../chemistry/bases.ts';
import { OIL_VERDICTS } from '../chemistry/oil-verdicts.ts';
import { CAUTION_CODES } from './caution-codes.ts';
import { resolvedWatchPlanSchema } from './watch-plan.ts';

/** A computed plan, as it is answered and stored. Plain JSON; °C, hPa, L, kg, g, minutes, hours. */

const number = z.number();

/** The fields of an estimate: `name`, `nameLow`, `nameHigh`. */
const estimate = <Name extends string>(
  name: Name,
  what: string,
): Record<Name | `${Name}Low` | `${Name}High`, z.ZodNumber> =>
  ({
    [name]: number.describe(what),
    [`${name}Low`]: number.describe('Its lower bound'),
    [`${name}High`]: number.describe('Its upper bound'),
  }) as Record<Name | `${Name}Low` | `${Name}High`, z.ZodNumber>;

export const cautionSchema = z.object({
  code: z.enum(CAUTION_CODES),
  text: z.string(),
  source: z.string(),
  field: z.string().nullable().describe('The field of the request that gives rise to it'),
});
export type Caution = z.infer<typeof cautionSchema>;

export const workingSchema = z.object({
  fields: z.array(z.string()).describe('Of the answer, that it gives: dots lead into objects'),
  gives: z.string(),
  unit: z.string(),
  formula: z.string(),
  inputs: z.record(
    z.string(),
    z.object({
      what: z.string(),
      value: z.union([number, z.string(), z.array(number)]),
      unit: z.string(),
      valid: z.string().describe('Where the formula holds'),
      extrapolated: z.boolean().describe('The value lies beyond that'),
    }),
  ),
  constants: z.record(z.string(), number),
  source: z.string(),
  uncertainty: z.string(),
  disagreement: z.string().nullable().describe('What other sources say'),
});
/** How a number came about. */
export type Working = z.infer<typeof workingSchema>;

/** What a batch keeps of its plan. */
export const planNumbersSchema = z.object({
  pressureHPa: number,
  pressureAssumed: z.boolean().describe('Neither altitude nor pressure was stated: sea level'),
  ...estimate('methanolBoilingC', 'Boiling point of methanol; the bounds are the weather’s'),
  ...estimate('waterBoilingC', 'Boiling point of water, to check a thermometer by and to dry'),
  highestDosingC: number.describe('The oil may not be hotter when methoxide goes in'),
  nearBoilingC: number,
  oilDensityKgPerM3: number.describe('At the temperature at which the volume was measured'),
  oilKg: number,
  oilMolarMassGPerMol: number,
  methanolL: number,
  methanolDensityKgPerM3: number,
  methanolKg: number,
  methanolToOilMolar: number,
  titration: z
    .object({ meanMl: number, spreadMl: number, runs: number, molPerL: number })
    .nullable()
    .describe('Null where the oil was not titrated'),
  acidNumberMgKOHPerG: number.describe('0 where the oil was not titrated'),
  freeFattyAcidPercent: number,
  oilVerdict: z.enum([...OIL_VERDICTS, 'not-titrated']),
  ...estimate('soapG', 'From the free fatty acid; the upper bound is all catalyst made soap of'),
  soapWaterG: number,
  esterification: z
    .object({
      methanolKg: number,
      methanolL: number.describe('At 20 °C'),
      sulphuricAcidKg: number.describe('As weighed'),
      sulphuricAcidPurityPercent: number,
      baseForSulphuricAcidMol: number.describe(
        'The most that the sulphuric acid takes; a new titration counts it',
      ),
      baseForSulphuricAcidG: number.describe('The same of the catalyst, as weighed'),
      waterKg: number,
      ...estimate('acidNumberLeftMgKOHPerG', 'Acid number that is left: titrate again'),
    })
    .nullable()
    .describe('With acid, before the base reaction; null where the oil does without'),
  catalyst: z.enum(BASE_KINDS),
  catalystG: number.describe('As weighed: the amount given, or else the amount needed'),
  catalystNeededG: number.describe('As weighed'),
  catalystForAcidG: number.describe('The part of it that the titration adds'),
  catalystPercentOfOilMass: number.describe('Pure'),
  methoxidePeakC: number.describe('All catalyst at once, no heat lost: an upper bound'),
  methoxideAllowedC: number.describe(
    'The highest that methoxide should reach: the plan’s margin below boiling on a day of low pressure',
  ),
  methoxidePurePortionG: number.describe('Largest portion, were it pure and were there enough'),
  methoxidePortionG: number.describe('Largest portion of catalyst, as weighed; no more than there is'),
  methoxidePortions: number.nullable().describe('Null where no portion keeps the margin'),
  methoxideNextBelowC: number.describe('The next portion goes in when it is back under this'),
  mixedC: number.describe('Just after the first methoxide is mixed in, without the heat of reaction'),
  passes: z.array(
    z.object({ sharePercent: number, methanolL: number, methanolKg: number, catalystG: number }),
  ),
  ...estimate('reactionMinutes', 'Of the first pass; 1440 says: not within a day'),
  ...estimate(
    'expectedConversionPercent',
    'After the required minutes of each pass: no substitute for a test',
  ),
  liquidHeightM: number,
  ...estimate('settleHours', 'For a drop of glycerol to fall the whole height'),
  glycerolSetsBelowC: number.nullable().describe('Null where it stays liquid'),
  ...estimate('fuelL', 'Crude, at 20 °C, in the settling vessel'),
  ...estimate('fuelKg', 'The same'),
  ...estimate('washedFuelL', 'The same without its methanol and soap: washed and dry, nothing lost'),
  ...estimate('fuelMethanolPercent', 'Methanol in it, of its mass'),
  ...estimate('glycerolLayerL', 'Crude, at 20 °C, in the settling vessel'),
  ...estimate('glycerolLayerKg', 'The same'),
  ...estimate('glycerolLayerMethanolPercent', 'Methanol in it, of its mass'),
  ...estimate('glycerolKg', 'Pure, in the glycerol layer'),
  ...estimate('methanolLeftKg', 'In both layers'),
  ...estimate('yieldPercent', 'Ester’s mass by the oil’s'),
  ...estimate('fuelSoapPpm', 'Soap in the fuel before it is washed, of its mass'),
  recoverToC: number.describe('Methanol is boiled off up to this, at the pressure above'),
  ...estimate('recoveredFromGlycerolKg', 'Methanol that comes off the glycerol layer'),
  ...estimate('recoveredFromFuelKg', 'Methanol that comes off the fuel, before it is washed'),
  watch: resolvedWatchPlanSchema,
  cautions: z.array(cautionSchema),
});
export type PlanNumbers = z.infer<typeof planNumbersSchema>;

export const planAnswerSchema = planNumbersSchema.extend({
  workings: z.array(workingSchema),
});
export type PlanAnswer = z.infer<typeof planAnswerSchema>;
