import { belowBoilingC } from '../chemistry/amounts.ts';
import { mixedC } from '../chemistry/dosing.ts';
import { LIMIT_DEFAULTS } from '../rules/limits.ts';
import type { TemperatureUnit } from '../units/temperature.ts';
import type { PlanAnswer } from './answer.ts';
import { cautionsOf } from './cautions.ts';
import { acidOf, airOf, catalystOf, methanolOf, methoxideOf, oilOf } from './ingredients.ts';
import { reactionOf, settledOf } from './outcome.ts';
import type { PlanRequest } from './request.ts';
import { type ResolvedRequest, resolvePlanRequest } from './resolve.ts';
import { resolveWatchPlan, type WatchPlan } from './watch-plan.ts';
import { Workings } from './workings.ts';

/** Less methanol than this in a charge is mixed in a jar, L; and for so many minutes. Common practice, no source. */
const JAR_METHANOL_L = 1;
const JAR_MINUTES = 3;
/** Minutes that NaOH takes to dissolve, and more in winter. Common practice, no source. */
const NAOH_MINUTES = 20;
/**
 * The plan of a batch: amounts, temperatures, times and what comes out of it, with a working for each
 * number and the cautions that it gives rise to. Any valid request has one. Pure; about 1 ms. The sentences of
 * the cautions are in `unit`; all else is in °C.
 *
 * @throws OutOfRange where single fields are valid and their sum is not: a titration that comes to more
 * acid than an oil can have (`oil.titration.mL`), more catalyst than oil (`catalyst.grams`).
 */
export function computePlan(request: PlanRequest, unit: TemperatureUnit = 'C'): PlanAnswer {
  const given = resolvePlanRequest(request);
  const workings = new Workings();
  const air = airOf(given, workings);
  const oil = oilOf(given, workings);
  const acid = acidOf(given, oil.oilKg, workings);
  const methanol = methanolOf(given, oil, workings);
  const catalyst = catalystOf(given, oil.oilKg, acid.molPerL, workings);
  const watch = watchOf(request, given, { ...methanol, ...acid, ...catalyst });
  const { limits } = watch;
  const margins = {
    highestDosingC: workings.by('highestDosingC', belowBoilingC, {
      boilingC: air.methanolBoilingC,
      marginC: limits.dosingMarginC,
    }),
    nearBoilingC: workings.by('nearBoilingC', belowBoilingC, {
      boilingC: air.methanolBoilingC,
      marginC: limits.nearMarginC,
    }),
  };
  const methoxide = methoxideOf(given, air, methanol, catalyst, limits.methoxideMarginC, workings);
  const dosed = workings.by('mixedC', mixedC, {
    oilKg: oil.oilKg,
    // No hotter than methoxide may go in.
    oilC: Math.max(-20, Math.min(given.reaction.temperatureC, margins.highestDosingC)),
    methoxideKg: (methanol.methanolKg * given.passes[0]!.sharePercent) / 100,
    methoxideC: given.methanol.startC,
  });
  const reaction = reactionOf(watch, given, workings);
  const settled = settledOf(given, oil, methanol, catalyst, acid, reaction, air, workings);
  const answer = {
    ...air,
    ...margins,
    ...oil,
    ...methanol,
    titration: acid.titration,
    acidNumberMgKOHPerG: acid.acidNumberMgKOHPerG,
    freeFattyAcidPercent: acid.freeFattyAcidPercent,
    oilVerdict: acid.verdict,
    soapWaterG: acid.soapWaterG,
    esterification: acid.esterification,
    catalyst: given.catalyst.kind,
    catalystG: catalyst.catalystG,
    catalystNeededG: catalyst.catalystNeededG,
    catalystForAcidG: catalyst.catalystForAcidG,
    catalystPercentOfOilMass: catalyst.catalystPercentOfOilMass,
    ...methoxide,
    mixedC: dosed,
    passes: given.passes.map(({ sharePercent }) => ({
      sharePercent,
      methanolL: (methanol.methanolL * sharePercent) / 100,
      methanolKg: (methanol.methanolKg * sharePercent) / 100,
      catalystG: (catalyst.catalystG * sharePercent) / 100,
    })),
    ...reaction,
    ...settled,
    watch,
  };
  return { ...answer, cautions: cautionsOf(given, answer, workings.list, unit), workings: workings.list };
}

/** What the rules watch by, resolved and to be frozen in the batch. */
function watchOf(
  request: PlanRequest,
  { catalyst, passes, reaction }: ResolvedRequest,
  computed: {
    methanolL: number;
    methanolToOilMolar: number;
    catalystPercentOfOilMass: number;
    acidNumberMgKOHPerG: number;
  },
): WatchPlan {
  const watch = request.watch ?? {};
  const methoxideMinutes =
    computed.methanolL < JAR_METHANOL_L
      ? JAR_MINUTES
      : catalyst.kind === 'NaOH'
        ? NAOH_MINUTES
        : LIMIT_DEFAULTS.methoxideMinutes;
  return resolveWatchPlan({
    ...watch,
    reactionTemperatureC: reaction.temperatureC,
    methanolInFeed: request.oil?.methanolInFeed,
    chemistry: {
      methanolToOilMolar: computed.methanolToOilMolar,
      catalyst: catalyst.kind,
      catalystPercentOfOilMass: computed.catalystPercentOfOilMass,
      acidNumberMgKOHPerG: computed.acidNumberMgKOHPerG,
      passSharesPercent: passes.map(({ sharePercent }) => sharePercent),
    },
    limits: { methoxideMinutes, ...watch.limits },
  });
}
