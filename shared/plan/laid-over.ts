import type { PlanRequest } from './request.ts';
import { PLAN_DEFAULTS } from './resolve.ts';
import { withoutUndefined } from './without-undefined.ts';

/**
 * An earlier request with what a new one says laid over it: a section that the new one has stands for the
 * whole earlier section, but of the oil each field for itself. Of another volume of oil (L) it is the same to
 * scale: catalyst that was given as grams becomes more or less with it, and the height of the liquid is left to
 * be worked out. What it comes to may be out of range.
 */
export function laidOver(earlier: PlanRequest, over: PlanRequest): PlanRequest {
  const oil = { ...earlier.oil, ...withoutUndefined(over.oil ?? {}) };
  const merged: PlanRequest = { ...earlier, ...withoutUndefined(over) };
  if (earlier.oil !== undefined || over.oil !== undefined) merged.oil = oil;
  const scale = volumeL(merged) / volumeL(earlier);
  if (scale === 1) return merged;
  if (over.vessel === undefined) delete merged.vessel;
  const grams = earlier.catalyst?.grams;
  if (over.catalyst === undefined && grams != null)
    merged.catalyst = { ...earlier.catalyst, grams: grams * scale };
  return merged;
}

/**
 * A request without what it says of the vessel that it was for: how high the liquid stands in it, and that a
 * person sees it mix. Neither is so in another vessel.
 */
export function forAnotherVessel({ vessel: _, ...request }: PlanRequest): PlanRequest {
  if (request.watch === undefined) return request;
  const { mixingStated: __, ...watch } = request.watch;
  return { ...request, watch };
}

const volumeL = ({ oil }: PlanRequest): number => oil?.volumeL ?? PLAN_DEFAULTS.oil.volumeL;
