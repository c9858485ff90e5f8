import type { AlarmName } from '../rules/names.ts';
import type { AlarmChange } from './events.ts';
import type { StandingAlarm, VesselState } from './state.ts';

export const standingAlarms = (vessel: VesselState) =>
  Object.entries(vessel.alarms) as [AlarmName, StandingAlarm][];

/** What becomes of an alarm that was raised before. */
export function alarmChange(
  vessel: VesselState,
  alarm: AlarmName,
  event: AlarmChange['event'],
  { acknowledged: _, speaksFromMs: __, ...standing }: StandingAlarm,
  atMs: number,
): AlarmChange {
  return { type: 'alarm', vessel: vessel.name, alarm, event, ...standing, atMs };
}
