import { z } from 'zod';
import { BASE_KINDS } from '../chemistry/bases.ts';
import { OIL_KINDS } from '../chemistry/oil-kinds.ts';
import { watchFields } from './watch-plan.ts';

/**
 * What a person asks a plan for. Everything may be left out; `resolvePlanRequest` states what stands in
 * for it.
 */

/** By mass. */
export const purityPercent = z.number().min(1).max(100);
export const waterPpm = z.number().min(0).max(1_000_000);
/** Station pressure a site can have: 200 hPa (work under vacuum) to 1,100 hPa. */
export const pressureHPa = z.number().min(200).max(1100);
/** Geopotential altitude, m; from the Dead Sea's shore to the highest towns. */
export const altitudeM = z.number().min(-500).max(6000);
/** Largest batch, L. */
const MOST_LITRES = 100_000;
const SHARES_SUM_TO = 100;

/** How much titrant, as weighed, a sample of the oil took; a list is several runs of the same. */
export const titrationSchema = z.strictObject({
  mL: z.union([z.number().min(0).max(1000), z.array(z.number().min(0).max(1000)).min(1).max(100)]),
  blankMl: z.number().min(0).max(1000).optional(),
  titrant: z.enum(BASE_KINDS),
  gPerL: z.number().min(0.01).max(100).optional(),
  sampleMl: z.number().min(0.1).max(1000).optional(),
  purityPercent: purityPercent.optional(),
});
export type Titration = z.infer<typeof titrationSchema>;

export const planRequestSchema = z.strictObject({
  oil: z
    .strictObject({
      volumeL: z.number().min(0.01).max(MOST_LITRES).optional(),
      volumeAtC: z.number().min(-20).max(150).optional(),
      kind: z.enum(OIL_KINDS).optional(),
      titration: titrationSchema.nullable().optional(),
      waterPpm: waterPpm.nullable().optional(),
      methanolInFeed: z.boolean().optional(),
    })
    .optional(),
  methanol: z
    .strictObject({
      percentOfOilVolume: z.number().min(1).max(300).optional(),
      purityPercent: z.number().min(50).max(100).optional(),
      startC: z.number().min(-40).max(60).optional(),
    })
    .optional(),
  catalyst: z
    .strictObject({
      kind: z.enum(BASE_KINDS).optional(),
      purityPercent: purityPercent.optional(),
      baseGPerL: z.number().min(0).max(100).optional(),
      grams: z.number().min(0).max(10_000_000).nullable().optional(),
    })
    .optional(),
  passes: z
    .array(z.strictObject({ sharePercent: z.number().positive().max(100) }))
    .min(1)
    .max(10)
    .refine((passes) => Math.abs(sharesOf(passes) - SHARES_SUM_TO) < 1e-6, {
      error: `shares that sum to ${SHARES_SUM_TO} %`,
    })
    .optional(),
  site: z
    .strictObject({ altitudeM: altitudeM.optional(), pressureHPa: pressureHPa.optional() })
    .refine((site) => site.altitudeM !== undefined || site.pressureHPa !== undefined, {
      error: 'altitudeM, pressureHPa or both',
    })
    .optional(),
  reaction: z.strictObject({ temperatureC: z.number().min(0).max(150).optional() }).optional(),
  vessel: z.strictObject({ liquidHeightM: z.number().min(0.001).max(20).optional() }).optional(),
  watch: z.strictObject(watchFields).optional(),
});
export type PlanRequest = z.infer<typeof planRequestSchema>;

const sharesOf = (passes: readonly { sharePercent: number }[]): number =>
  passes.reduce((sum, { sharePercent }) => sum + sharePercent, 0);
