import { longestShelfMinutes } from '../wire/names.ts';
import type { EngineInput, EngineOutput } from './events.ts';
import { alarmChange, standingAlarms } from './standing.ts';
import { type SiteState, type VesselState, vesselNamed } from './state.ts';

/** A person puts a standing alarm aside. One that is over or has become too grave by now stays as it is. */
export function shelve(
  state: SiteState,
  input: Extract<EngineInput, { type: 'shelve' }>,
  out: EngineOutput[],
): void {
  const { by, reason, untilMs, arrivedMs } = input;
  const vessel = vesselNamed(state, input.vessel);
  if (vessel === undefined) return;
  for (const [name, alarm] of standingAlarms(vessel)) {
    if (alarm.number !== input.alarm) continue;
    // Put aside again before it is back, it is not for longer in all.
    const sinceMs = alarm.shelved?.sinceMs ?? arrivedMs;
    if (untilMs - sinceMs > longestShelfMinutes(alarm.priority) * 60_000) return;
    alarm.shelved = { by, reason, sinceMs, untilMs };
    out.push(alarmChange(vessel, name, 'shelved', alarm, arrivedMs));
  }
}

/** When the next shelved alarm of a vessel returns, by the arrival clock; null where none is shelved. */
export function nextReturnMs(vessel: VesselState): number | null {
  let next: number | null = null;
  for (const [, { shelved }] of standingAlarms(vessel)) {
    if (shelved !== null && (next === null || shelved.untilMs < next)) next = shelved.untilMs;
  }
  return next;
}

/** Alarms whose time on the shelf is over stand as if just raised: what was seen of them was before. */
export function endShelves(vessel: VesselState, nowMs: number, out: EngineOutput[]): void {
  for (const [name, alarm] of standingAlarms(vessel)) {
    if (alarm.shelved === null || alarm.shelved.untilMs > nowMs) continue;
    const { untilMs } = alarm.shelved;
    alarm.shelved = null;
    alarm.acknowledged = null;
    out.push(alarmChange(vessel, name, 'unshelved', alarm, untilMs));
  }
}
