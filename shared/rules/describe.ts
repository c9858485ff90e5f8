import type { TemperatureUnit } from '../units/temperature.ts';
import type { AlarmFacts } from '../wire/api.ts';
import { RULES } from './index.ts';

/** What happened and what to do, in words, temperatures in the reader's unit. */
export function describeAlarm(
  alarm: string,
  facts: AlarmFacts,
  unit: TemperatureUnit,
): { because: string; todo: string } {
  const rule = RULES.find((candidate) => candidate.alarm === alarm);
  return rule === undefined ? { because: alarm, todo: '' } : rule.describe(facts, unit);
}
