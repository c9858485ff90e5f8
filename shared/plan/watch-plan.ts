import { z } from 'zod';
import { LIMIT_DEFAULTS, type Limits, limitsSchema } from '../rules/limits.ts';
import type { PlanRequest } from '../wire/api.ts';

/**
 * What the rules are told of a batch's plan: frozen when the batch starts, and the `plan` object of a
 * recorded run's vessel line. Every field is resolved.
 */
export interface WatchPlan {
  /** Planned temperature of the reaction, °C. */
  reactionTemperatureC: number;
  requiredReactionMinutes: number;
  requiredSettleHours: number;
  /** 1/min. */
  lowestStirrerSpeed: number | null;
  /** L/min; without it any flow counts as mixing. */
  lowestPumpFlow: number | null;
  readingEverySeconds: number;
  /** A person has stated that it is mixed, where no channel shows it. */
  mixingStated: boolean;
  /** The oil holds methanol from the start. */
  methanolInFeed: boolean;
  chemistry: Chemistry;
  limits: Limits;
}

export interface Chemistry {
  methanolToOilMolar: number;
  catalyst: 'NaOH' | 'KOH';
  catalystPercentOfOilMass: number;
}

/** Common practice, no source, but for the limits, whose reasons stand with their rules. */
export const WATCH_DEFAULTS: Omit<WatchPlan, 'limits'> = {
  reactionTemperatureC: 55,
  requiredReactionMinutes: 60,
  requiredSettleHours: 24,
  lowestStirrerSpeed: 200,
  lowestPumpFlow: null,
  readingEverySeconds: 1,
  mixingStated: false,
  methanolInFeed: false,
  chemistry: { methanolToOilMolar: 6, catalyst: 'NaOH', catalystPercentOfOilMass: 0.5 },
};

/** The fields of a plan's `watch`. */
export const watchFields = {
  requiredReactionMinutes: z
    .number()
    .min(0)
    .max(24 * 60)
    .optional(),
  requiredSettleHours: z
    .number()
    .min(0)
    .max(24 * 30)
    .optional(),
  lowestStirrerSpeed: z.number().positive().max(100_000).nullable().optional(),
  lowestPumpFlow: z.number().positive().max(100_000).nullable().optional(),
  readingEverySeconds: z.number().positive().max(3600).optional(),
  mixingStated: z.boolean().optional(),
  limits: limitsSchema.optional(),
};

/** A plan as a recorded run gives it; what is left out gets its default. */
export const watchPlanSchema = z.strictObject({
  reactionTemperatureC: z.number().min(0).max(150).optional(),
  methanolInFeed: z.boolean().optional(),
  chemistry: z
    .strictObject({
      methanolToOilMolar: z.number().positive().max(1000).optional(),
      catalyst: z.enum(['NaOH', 'KOH']).optional(),
      catalystPercentOfOilMass: z.number().min(0).max(100).optional(),
    })
    .optional(),
  ...watchFields,
});
export type PartialWatchPlan = z.infer<typeof watchPlanSchema>;

/** Fills in the defaults. `given` has passed `watchPlanSchema`. */
export function resolveWatchPlan(given: PartialWatchPlan = {}): WatchPlan {
  const { limits, chemistry, ...rest } = given;
  return {
    ...WATCH_DEFAULTS,
    ...withoutUndefined(rest),
    chemistry: { ...WATCH_DEFAULTS.chemistry, ...withoutUndefined(chemistry ?? {}) },
    limits: { ...LIMIT_DEFAULTS, ...withoutUndefined(limits ?? {}) },
  };
}

/** The part of a plan request that the rules watch by, resolved and to be frozen in the batch. */
export function watchPlanOfRequest(request: PlanRequest): WatchPlan {
  const watch = request.watch ?? {};
  const limits = watch.limits ?? {};
  return resolveWatchPlan({
    ...watch,
    ...withoutUndefined({
      reactionTemperatureC: request.reaction?.temperatureC,
      methanolInFeed: request.oil?.methanolInFeed,
    }),
    limits: { ...methoxideMinutes(request), ...limits },
  });
}

/**
 * How long methoxide is mixed, where the plan tells enough: with NaOH longer, in a jar less.
 * Common practice, no source.
 */
function methoxideMinutes(request: PlanRequest): { methoxideMinutes?: number } {
  const oilL = request.oil?.volumeL;
  const percent = request.methanol?.percentOfOilVolume;
  if (oilL !== undefined && percent !== undefined && (oilL * percent) / 100 < 1)
    return { methoxideMinutes: 3 };
  if (request.catalyst?.kind === 'NaOH') return { methoxideMinutes: 20 };
  return {};
}

function withoutUndefined<T extends object>(object: T): { [K in keyof T]: Exclude<T[K], undefined> } {
  return Object.fromEntries(Object.entries(object).filter(([, value]) => value !== undefined)) as {
    [K in keyof T]: Exclude<T[K], undefined>;
  };
}
