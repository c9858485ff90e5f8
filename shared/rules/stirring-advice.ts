import { mixingChannel } from '../engine/channels.ts';
import type { StandingAlarm, VesselState } from '../engine/state.ts';
import type { AlarmFacts } from '../wire/api.ts';
import { MIXING_STAGES } from '../wire/names.ts';
import type { Sight, Verdict } from './rule.ts';

/** What must not go into a liquid that is too hot, by stage. */
const ADD_NOTHING: Record<string, string> = {
  esterify: ' Add no methanol.',
  methoxide: ' Add no more lye.',
  dose: ' Add no methoxide.',
  react: ' Add no methoxide.',
};

/** Stopped for so long over methoxide, a restart may set the whole charge off at once, ms. */
const LEAVE_STOPPED_AFTER_MS = 120_000;

/** Whether what is not mixed now is methoxide on oil. */
export const liesOnMethoxide = ({ stage }: VesselState): boolean => stage === 'dose' || stage === 'react';

/** From when on methoxide has lain still on the oil for too long to be stirred in at once; a short burst changes nothing. */
export const stillTooLongFromMs = (
  vessel: VesselState,
  stillSinceMs = vessel.mixing.restSinceMs,
): number | null =>
  liesOnMethoxide(vessel) && stillSinceMs !== null
    ? Math.max(stillSinceMs, vessel.reactingSinceMs ?? 0) + LEAVE_STOPPED_AFTER_MS
    : null;

/** Whether that time has come. */
export const hasLainStill = (vessel: VesselState, atMs: number, stillSinceMs?: number): boolean =>
  atMs >= (stillTooLongFromMs(vessel, stillSinceMs) ?? Number.POSITIVE_INFINITY);

type StirringAdvice = 'keep' | 'leave-stopped' | 'none';

/**
 * What a hot liquid wants of the stirrer: to go on, so that no layer forms; not to start again over
 * methoxide that has lain on the oil; nothing where it is not meant to move or another alarm says it.
 */
export function stirringAdvice(vessel: VesselState, atMs: number): StirringAdvice {
  const { stage, alarms, mixing } = vessel;
  if (!MIXING_STAGES.includes(stage) || alarms['restart-hot']?.priority === 'critical') return 'none';
  if (mixingChannel(vessel) === undefined || mixing.movingSinceMs !== null) return 'keep';
  return hasLainStill(vessel, atMs) ? 'leave-stopped' : 'none';
}

/** The same in words, to be put after another sentence. */
export function describeStirring({ advice }: AlarmFacts): string {
  switch (advice) {
    case 'keep':
      return ' Keep stirring.';
    case 'leave-stopped':
      return ' Do not start the stirring again.';
    default:
      return '';
  }
}

/** And what is not to be added in the stage of the facts. */
export const describeAdding = ({ stage }: AlarmFacts): string => ADD_NOTHING[String(stage)] ?? '';

/** A standing alarm, with what to do in the stage that has begun. */
export const inNewStage = (
  { priority, value, limit, facts }: StandingAlarm,
  { vessel, atMs }: Sight,
): Verdict => ({
  holds: true,
  priority,
  value,
  limit,
  facts: { ...facts, stage: vessel.stage, advice: stirringAdvice(vessel, atMs) },
});
