import { describeAlarm } from '../shared/rules/describe.ts';
import type { TemperatureUnit } from '../shared/units/temperature.ts';
import type { Alarm } from '../shared/wire/api.ts';

/** An alarm's sentence and what to do, in the reader's unit. */
export function alarmSentence(alarm: Alarm, unit: TemperatureUnit): { because: string; todo: string } {
  return describeAlarm(alarm.alarm, alarm.facts, unit);
}
