import type { Shelved } from '../../shared/engine/events.ts';
import type { AlarmRow, NewAlarmEvent } from './store.ts';

type AlarmBody = Pick<AlarmRow, 'late' | 'value' | 'limit' | 'because' | 'todo' | 'facts'> & {
  /** Not there where nothing explained an alarm yet when it was written. */
  explainedBy?: AlarmRow['explainedBy'];
};
type AcknowledgedBody = { by: string; reason: string | null };

/**
 * The state of an alarm after one more of its events; undefined as long as it was not raised.
 *
 * - Raised while it stands (with another priority): keeps its first time, takes the rest, and wants to be
 *   acknowledged anew, since what was acknowledged (or shelved) was less.
 * - Cleared: goes on saying what it was raised for.
 * - Back from the shelf: wants to be acknowledged anew.
 */
export function nextAlarmState(
  site: string,
  before: AlarmRow | undefined,
  event: NewAlarmEvent,
): AlarmRow | undefined {
  switch (event.event) {
    case 'raised': {
      const { late, value, limit, because, todo, facts, explainedBy = null } = event.body as AlarmBody;
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
        explainedBy,
        shelved: null,
      };
    }
    case 'cleared':
      return (
        before && { ...before, event: 'cleared', standing: false, clearedAtMs: event.atMs, shelved: null }
      );
    case 'acknowledged': {
      const { by, reason } = event.body as AcknowledgedBody;
      return before && { ...before, acknowledged: { by, reason, atMs: event.atMs } };
    }
    case 'shelved': {
      const { shelved } = event.body as { shelved: Shelved };
      return before && { ...before, shelved };
    }
    case 'unshelved':
      return before && { ...before, shelved: null, acknowledged: null };
    case 'explained': {
      const { explainedBy = null } = event.body as AlarmBody;
      return before && { ...before, explainedBy };
    }
    case 'unexplained':
      return before && { ...before, explainedBy: null };
  }
}
