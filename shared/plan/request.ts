import { z } from 'zod';
import { BASE_KINDS, type BaseKind } from '../chemistry/bases.ts';
import { OIL_KINDS, type OilKind } from '../chemistry/oils.ts';
import { BASE_DOSE_G_PER_L, sameMolesG } from '../chemistry/titration.ts';
import { WATCH_DEFAULTS, watchFields } from './watch-plan.ts';
import { withoutUndefined } from './without-undefined.ts';

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

/** A request with everything filled in. */
export interface ResolvedRequest {
  oil: {
    volumeL: number;
    volumeAtC: number;
    kind: OilKind;
    /** Null: not titrated, and taken to be free of acid. */
    titration: {
      mL: number | number[];
      blankMl: number;
      titrant: BaseKind;
      gPerL: number;
      sampleMl: number;
      purityPercent: number;
    } | null;
    waterPpm: number | null;
  };
  methanol: { percentOfOilVolume: number; startC: number };
  catalyst: { kind: BaseKind; purityPercent: number; baseGPerL: number; grams: number | null };
  passes: { sharePercent: number }[];
  /** Both may be stated: the pressure counts, the altitude checks it. Null where neither is. */
  site: { altitudeM: number | null; pressureHPa: number | null };
  reaction: { temperatureC: number };
  vessel: { liquidHeightM: number | null };
}

/**
 * What stands in for what a request leaves out. Common practice, no source: 22 % of methanol, flake of
 * 98 % (NaOH) and 90 % (KOH), titrant of 1 g/L on 1 mL of oil. Not practice but an assumption: 100 L of
 * soybean oil, measured at 20 °C.
 */
export const PLAN_DEFAULTS = {
  oil: { volumeL: 100, volumeAtC: 20, kind: 'soybean', waterPpm: null },
  titration: { blankMl: 0, gPerL: 1, sampleMl: 1 },
  methanol: { percentOfOilVolume: 22, startC: 20 },
  catalyst: { kind: 'NaOH', purityPercent: { NaOH: 98, KOH: 90 } },
  passes: [{ sharePercent: 100 }],
} as const;

/** Fills a valid request in. */
export function resolvePlanRequest(request: PlanRequest): ResolvedRequest {
  const { titration, methanolInFeed: _, ...oil } = withoutUndefined(request.oil ?? {});
  // Whoever titrates with KOH has KOH: the trade makes its titrant from the same flakes.
  const kind = request.catalyst?.kind ?? titration?.titrant ?? PLAN_DEFAULTS.catalyst.kind;
  const purityPercent = request.catalyst?.purityPercent ?? PLAN_DEFAULTS.catalyst.purityPercent[kind];
  const oilKind = oil.kind ?? PLAN_DEFAULTS.oil.kind;
  const base = oilKind === 'used' ? BASE_DOSE_G_PER_L.used : BASE_DOSE_G_PER_L.fresh;
  return {
    oil: {
      ...PLAN_DEFAULTS.oil,
      ...oil,
      titration: titration
        ? {
            ...PLAN_DEFAULTS.titration,
            purityPercent: titration.titrant === kind ? purityPercent : 100,
            ...withoutUndefined(titration),
          }
        : null,
    },
    methanol: { ...PLAN_DEFAULTS.methanol, ...withoutUndefined(request.methanol ?? {}) },
    catalyst: {
      kind,
      purityPercent,
      baseGPerL: request.catalyst?.baseGPerL ?? sameMolesG({ grams: base, from: 'NaOH', to: kind }),
      grams: request.catalyst?.grams ?? null,
    },
    passes: request.passes ?? [...PLAN_DEFAULTS.passes],
    site: {
      altitudeM: request.site?.altitudeM ?? null,
      pressureHPa: request.site?.pressureHPa ?? null,
    },
    reaction: { temperatureC: request.reaction?.temperatureC ?? WATCH_DEFAULTS.reactionTemperatureC },
    vessel: { liquidHeightM: request.vessel?.liquidHeightM ?? null },
  };
}
