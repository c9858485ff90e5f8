import type { AlarmRow, NewAlarmEvent } from './store.ts';

type AlarmBody = Pick<AlarmRow, 'late' | 'value' | 'limit' | 'because' | 'todo' | 'facts'>;
type AcknowledgedBody = { by: string; reason: string | null };

/**
 * The state of an alarm after one more of its events; undefined as long as it was not raised.
 *
 * - Raised while it stands (with another priority): keeps its first time, takes the rest, and wants to be
 *   acknowledged anew, since what was acknowledged was less.
 * - Cleared: goes on saying what it was raised for.
 */
export function nextAlarmState(
  site: string,
  before: AlarmRow | undefined,
  event: NewAlarmEvent,
): AlarmRow | undefined {
  switch (event.event) {
    case 'raised': {
      const { late, value, limit, because, todo, facts } = event.body as AlarmBody;
      return {
        site,
        id: event.id,
        vessel: event.vessel,
        alarm: event.alarm,
        event: 'raised',
        priority: event.priority,
        late,
        value,
        limit,
        because,
        todo,
        facts,
        standing: true,
        atMs: before?.standing ? before.atMs : event.atMs,
        clearedAtMs: null,
        acknowledged: null,
      };
    }
    case 'cleared':
      return before && { ...before, event: 'cleared', standing: false, clearedAtMs: event.atMs };
    case 'acknowledged': {
      const { by, reason } = event.body as AcknowledgedBody;
      return before && { ...before, acknowledged: { by, reason, atMs: event.atMs } };
    }
  }
}
