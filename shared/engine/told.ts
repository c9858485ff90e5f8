import type { Alarm } from '../wire/api.ts';

/**
 * Whether anybody is to be told of an alarm: not while another one says enough of it, not while it is
 * shelved, and not of what came late and is over. It is kept and shown all the same.
 */
export const isTold = (alarm: {
  explainedBy: string | null;
  shelved: unknown;
  late: boolean;
  standing: boolean;
}): boolean => alarm.explainedBy === null && alarm.shelved === null && !(alarm.late && !alarm.standing);

/** An alarm with whether anybody is to be told of it. */
export const withTold = (alarm: Omit<Alarm, 'told'>): Alarm => ({ ...alarm, told: isTold(alarm) });
