import { oilVerdict } from '../chemistry/titration.ts';
import type { PlanNumbers } from '../plan/answer.ts';
import { computePlan } from '../plan/compute.ts';
import type { PlanRequest } from '../plan/request.ts';
import type { Batch } from '../wire/batch.ts';
import type { EntryWhat } from '../wire/entries.ts';
import { newestTest, type Standing, standing, sum } from './standing.ts';

/** What is to be weighed for a batch by its plan, and what was: the daemon answers by it, the page asks by it. */

export type Weighing = Extract<EntryWhat, { kind: 'weighing' }>;
export type Titration = Extract<EntryWhat, { test: 'titration' }>;
export type PlannedBatch = Pick<Batch, 'request' | 'computed' | 'entries'>;
type Weighed = PlannedBatch & Pick<Batch, 'stages'>;

/** Scales and spills make so much of a difference, of what was planned: common practice, no source. */
const RIGHT_WITHIN = 0.01;

/** What methanol for an esterification is weighed for: no pass with a base. */
const ESTERIFICATION = 0;

/** Whether so much is as much as was planned. */
export const isRight = (kg: number, plannedKg: number): boolean =>
  plannedKg > 0 && Math.abs(kg - plannedKg) <= RIGHT_WITHIN * plannedKg;

/** The plan as it was frozen, its lye by what was titrated since, as after an esterification. */
function planInForce({ request, computed, entries }: PlannedBatch): PlanNumbers | null {
  const titration = newestTest(entries, 'titration')?.what;
  if (computed === null || titration === undefined) return computed;
  return planWith(titration, request, computed);
}

export function planWith(
  titration: Titration,
  request: PlanRequest,
  { pressureHPa }: PlanNumbers,
): PlanNumbers {
  const { kind: _, test: __, ...made } = titration;
  return computePlan({ site: { pressureHPa }, ...request, oil: { ...request.oil, titration: made } });
}

/**
 * The pass that something is weighed for, from 1: as it says itself, or that of the next dose. Methanol before the
 * titration that follows a planned esterification is for that.
 */
export function passOf({ what, pass }: Pick<Weighing, 'what' | 'pass'>, batch: Weighed, at: string): number {
  if (pass !== undefined) return pass;
  const doses = dosesBefore(batch, at);
  const titrated = newestTest(batch.entries, 'titration', { until: at }) !== undefined;
  const esterifies = what === 'methanol' && batch.computed?.esterification != null;
  return esterifies && doses === 0 && !titrated ? ESTERIFICATION : doses + 1;
}

/** What the plan wants of a thing, kg; null where it says nothing of it, or of that pass. */
export function plannedKg(what: Weighing['what'], batch: PlannedBatch, pass: number): number | null {
  const { computed } = batch;
  if (computed === null) return null;
  switch (what) {
    case 'oil':
      return computed.oilKg;
    case 'sulphuric-acid':
      return computed.esterification?.sulphuricAcidKg ?? 0;
    case 'methanol':
      return pass === ESTERIFICATION
        ? (computed.esterification?.methanolKg ?? null)
        : (computed.passes[pass - 1]?.methanolKg ?? null);
    case 'catalyst': {
      const grams = planInForce(batch)!.passes[pass - 1]?.catalystG;
      return grams === undefined ? null : grams / 1000;
    }
    default:
      return null;
  }
}

/** By a titration that was noted; what a plan was opened with, its cautions told. */
export function isTooAcid(batch: PlannedBatch): boolean {
  const plan = planInForce(batch);
  return plan !== batch.computed && oilVerdict(plan!.freeFattyAcidPercent) === 'too-acid';
}

/** What was weighed of a thing for a pass by a time: a second scoop adds to the first. */
export const weighedFor = (
  what: Weighing['what'],
  pass: number,
  batch: Weighed,
  at: string,
): Standing<'weighing'>[] =>
  standing(batch.entries, 'weighing').filter(
    (one) => one.what.what === what && one.at <= at && passOf(one.what, batch, one.at) === pass,
  );

export interface ToWeigh {
  what: Weighing['what'];
  pass: number;
  /** Its pass has been dosed: what was weighed for it has gone in, and what is noted now has to name the pass. */
  isDosed: boolean;
  plannedKg: number;
  weighedKg: number;
  /** As the daemon answers a weighing: short, right, or more than was planned. */
  state: 'short' | 'right' | 'over';
  /** Entries that it was weighed in, in their order. */
  entries: string[];
}

/** After all that was noted. */
const IN_THE_END = '~';

/**
 * What goes into the next pass by the plan, in the order in which it is weighed, or, once all have been dosed, what
 * went into the last; none where there is no plan.
 */
export function toWeigh(batch: Weighed, at = IN_THE_END): ToWeigh[] {
  const esterifies = passOf({ what: 'methanol' }, batch, at) === ESTERIFICATION;
  const things: Weighing['what'][] = esterifies
    ? ['oil', 'methanol', 'sulphuric-acid']
    : ['oil', 'methanol', 'catalyst'];
  return things.flatMap((what) => {
    const next = passOf({ what }, batch, at);
    const last = batch.computed?.passes.length ?? 0;
    const isDosed = next > last;
    const pass = isDosed ? last : next;
    // Oil and acid are weighed once.
    if (what === 'oil' && pass > 1) return [];
    const planned = plannedKg(what, batch, pass);
    if (planned === null || planned === 0) return [];
    const weighed = weighedFor(what, pass, batch, at);
    const weighedKg = sum(weighed.map((one) => one.what.kg));
    const state = isRight(weighedKg, planned) ? 'right' : weighedKg < planned ? 'short' : 'over';
    return [
      { what, pass, isDosed, plannedKg: planned, weighedKg, state, entries: weighed.map(({ id }) => id) },
    ];
  });
}

export const dosesBefore = ({ stages }: Pick<Batch, 'stages'>, at: string): number =>
  stages.filter((one) => one.stage === 'dose' && one.at <= at).length;
