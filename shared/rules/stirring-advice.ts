import type { StandingAlarm, VesselState } from '../engine/state.ts';
import type { AlarmFacts } from '../wire/api.ts';
import { MIXING_STAGES } from '../wire/names.ts';
import type { Verdict } from './rule.ts';

/** What must not go into a liquid that is too hot, by stage. */
const ADD_NOTHING: Record<string, string> = {
  esterify: ' Add no methanol.',
  methoxide: ' Add no more lye.',
  dose: ' Add no methoxide.',
  react: ' Add no methoxide.',
};

type StirringAdvice = 'keep' | 'leave-stopped' | 'none';

/**
 * What a hot liquid wants of the stirrer: to go on, so that no layer forms; not to start again over
 * methoxide that has lain on the oil; nothing where it is not meant to move or another alarm says it.
 */
export function stirringAdvice({ stage, alarms }: VesselState): StirringAdvice {
  if (!MIXING_STAGES.includes(stage) || alarms['restart-hot']?.priority === 'critical') return 'none';
  return alarms['mixing-stopped']?.facts.advice === 'leave-stopped' ? 'leave-stopped' : 'keep';
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
  vessel: VesselState,
): Verdict => ({
  holds: true,
  priority,
  value,
  limit,
  facts: { ...facts, stage: vessel.stage, advice: stirringAdvice(vessel) },
});
