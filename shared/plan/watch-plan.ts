import { z } from 'zod';
import { BASE_KINDS, type BaseKind } from '../chemistry/bases.ts';
import { LIMIT_DEFAULTS, LIMIT_NAMES, type Limits, limitsSchema } from '../rules/limits.ts';
import { withoutUndefined } from './without-undefined.ts';

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

/** What the estimate of the conversion goes by. */
export interface Chemistry {
  methanolToOilMolar: number;
  catalyst: BaseKind;
  /** Pure catalyst, with what the acid of the oil takes. */
  catalystPercentOfOilMass: number;
  acidNumberMgKOHPerG: number;
  /** Of methanol and catalyst, each pass; they sum to 100. */
  passSharesPercent: number[];
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
  chemistry: {
    methanolToOilMolar: 6,
    catalyst: 'NaOH',
    catalystPercentOfOilMass: 0.5,
    acidNumberMgKOHPerG: 0,
    passSharesPercent: [100],
  },
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

const chemistrySchema = z.strictObject({
  methanolToOilMolar: z.number().positive().max(1000).optional(),
  catalyst: z.enum(BASE_KINDS).optional(),
  catalystPercentOfOilMass: z.number().min(0).max(100).optional(),
  acidNumberMgKOHPerG: z.number().min(0).max(600).optional(),
  passSharesPercent: z
    .array(z.number().positive().max(100))
    .min(1)
    .max(10)
    .refine((shares) => Math.abs(shares.reduce((sum, share) => sum + share, 0) - 100) < 1e-6, {
      error: 'shares that sum to 100 %',
    })
    .optional(),
});

/** A plan as a recorded run gives it; what is left out gets its default. */
export const watchPlanSchema = z.strictObject({
  reactionTemperatureC: z.number().min(0).max(150).optional(),
  methanolInFeed: z.boolean().optional(),
  chemistry: chemistrySchema.optional(),
  ...watchFields,
});
export type PartialWatchPlan = z.input<typeof watchPlanSchema>;

/** The same with everything filled in: a `WatchPlan`. */
export const resolvedWatchPlanSchema = watchPlanSchema.required().extend({
  chemistry: chemistrySchema.required(),
  limits: z.record(z.enum(LIMIT_NAMES), z.number()),
});

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
