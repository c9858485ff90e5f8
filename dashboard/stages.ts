import { ENDED_STAGES, STAGES, type Stage } from '../shared/wire/names.ts';

/** The way of a batch from oil to fuel, as a page shows it. */

/** Stages of an ordinary batch in its main vessel. */
const USUAL_WAY: readonly Stage[] = [
  'warm',
  'dry-oil',
  'dose',
  'react',
  'settle',
  'drain',
  'wash',
  'dry-fuel',
  'filter',
  'test',
  'finished',
];

/** Where a batch usually goes from stages that are not on the usual way. */
const DETOURS: Partial<Record<Stage, Stage>> = {
  idle: 'warm',
  prewash: 'settle',
  esterify: 'settle',
  methoxide: 'dose',
  recover: 'wash',
};

export const isEnded = (stage: Stage): boolean => ENDED_STAGES.includes(stage);

/** The stage that usually follows, or undefined after the last. Oil that was dewatered is not again. */
export function usualNext(stage: Stage, passed: readonly Stage[] = []): Stage | undefined {
  if (isEnded(stage)) return undefined;
  if (stage === 'warm' && passed.includes('dry-oil')) return 'dose';
  return DETOURS[stage] ?? USUAL_WAY[USUAL_WAY.indexOf(stage) + 1];
}

/** Not offered: nothing, a stage of another vessel, and what undoes a batch. */
const NOT_CHOSEN: readonly Stage[] = ['idle', 'methoxide', 'void'];

/** Stages a person can choose besides the usual next; what ends the batch comes last. */
export const OTHER_STAGES: readonly Stage[] = STAGES.filter((stage) => !NOT_CHOSEN.includes(stage));

export interface WayPoint {
  stage: Stage;
  state: 'done' | 'now' | 'to-come';
}

/**
 * What was done (as it happened, repeats included), the present stage, and what usually follows.
 * `passed` are the stages of the vessel so far in order, the present one last or not in it.
 */
export function way(passed: readonly Stage[], present: Stage): WayPoint[] {
  const done = passed.at(-1) === present ? passed.slice(0, -1) : passed;
  const points: WayPoint[] = done.map((stage) => ({ stage, state: 'done' }));
  if (present !== 'idle') points.push({ stage: present, state: 'now' });
  for (let next = usualNext(present, passed); next !== undefined; next = usualNext(next)) {
    points.push({ stage: next, state: 'to-come' });
  }
  return points;
}
