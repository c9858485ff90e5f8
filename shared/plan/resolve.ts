import type { BaseKind } from '../chemistry/bases.ts';
import type { OilKind } from '../chemistry/oil-kinds.ts';
import { BASE_DOSE_G_PER_L, sameMolesG } from '../chemistry/titration.ts';
import type { PlanRequest } from './request.ts';
import { WATCH_DEFAULTS } from './watch-plan.ts';
import { withoutUndefined } from './without-undefined.ts';

/** What stands in for what a request leaves out: apart from its schema, which a page loads before any formula. */

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
  /** What is not methanol is taken for water. */
  methanol: { percentOfOilVolume: number; purityPercent: number; startC: number };
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
  methanol: { percentOfOilVolume: 22, purityPercent: 100, startC: 20 },
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
