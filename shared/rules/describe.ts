import type { TemperatureUnit } from '../units/temperature.ts';
import type { AlarmFacts } from '../wire/api.ts';
import { RULES } from './index.ts';

/** In air that is full of methanol nothing is to be done in the room, a switch least of all. */
const LEAVE = 'Get out first, touch no switch: see the alarm of the room air. Cut the power from outside.';

/** What happened and what to do, in words, temperatures in the reader's unit. */
export function describeAlarm(
  alarm: string,
  facts: AlarmFacts,
  unit: TemperatureUnit,
): { because: string; todo: string } {
  const rule = RULES.find((candidate) => candidate.alarm === alarm);
  if (rule === undefined) return { because: alarm, todo: '' };
  const described = rule.describe(facts, unit);
  return facts.leave === true ? { ...described, todo: LEAVE } : described;
}
