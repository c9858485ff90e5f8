import { RULES } from '../rules/index.ts';
import type { AlarmName } from '../rules/names.ts';
import type { AlarmFacts } from '../wire/api.ts';
import { isGraver, type Priority } from '../wire/names.ts';
import type { EngineOutput } from './events.ts';
import { alarmChange, standingAlarms } from './standing.ts';
import type { VesselState } from './state.ts';

/**
 * So long after its cause an alarm speaks for itself, ms: what follows from a cause often ends a moment
 * after it, as late readings do when a device is back. Ours, no source.
 */
const SPEAKS_AFTER_MS = 15_000;

const RULE_OF = new Map(RULES.map((rule) => [rule.alarm, rule]));

/** The standing alarm that says enough of this one, if there is one. */
export function explanation(
  vessel: VesselState,
  alarm: AlarmName,
  priority: Priority,
  facts: AlarmFacts,
): AlarmName | null {
  const rule = RULE_OF.get(alarm)!;
  const cause = rule.explainedBy?.find((name) => {
    const standing = vessel.alarms[name];
    if (standing === undefined || isGraver(priority, standing.priority)) return false;
    return rule.followsFrom?.(vessel, facts, name) ?? true;
  });
  return cause ?? null;
}

/** What stands already and follows from an alarm that has come, nobody needs to be told of any more. */
export function explainOthers(vessel: VesselState, atMs: number, out: EngineOutput[]): void {
  for (const [name, alarm] of standingAlarms(vessel)) {
    if (alarm.explainedBy !== null || alarm.acknowledged !== null) continue;
    alarm.explainedBy = explanation(vessel, name, alarm.priority, alarm.facts);
    if (alarm.explainedBy !== null) out.push(alarmChange(vessel, name, 'explained', alarm, atMs));
  }
}

/** A cause is over: what it explained speaks for itself a little later. */
export function causeOver(vessel: VesselState, cause: AlarmName, arrivedMs: number): void {
  for (const [, alarm] of standingAlarms(vessel)) {
    if (alarm.explainedBy === cause) alarm.speaksFromMs = arrivedMs + SPEAKS_AFTER_MS;
  }
}

/** When the next alarm of a vessel begins to speak for itself, by the arrival clock; null where none does. */
export function nextSpeakingMs(vessel: VesselState): number | null {
  let next: number | null = null;
  for (const [, { speaksFromMs }] of standingAlarms(vessel)) {
    if (speaksFromMs !== null && (next === null || speaksFromMs < next)) next = speaksFromMs;
  }
  return next;
}

/** Alarms whose cause has been over for long enough are told, unless something explains them again. */
export function endExplanations(vessel: VesselState, nowMs: number, out: EngineOutput[]): void {
  for (const [name, alarm] of standingAlarms(vessel)) {
    const { speaksFromMs } = alarm;
    if (speaksFromMs === null || speaksFromMs > nowMs) continue;
    alarm.speaksFromMs = null;
    alarm.explainedBy = explanation(vessel, name, alarm.priority, alarm.facts);
    if (alarm.explainedBy === null) out.push(alarmChange(vessel, name, 'unexplained', alarm, speaksFromMs));
  }
}
