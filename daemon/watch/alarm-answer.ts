import { withTold } from '../../shared/engine/told.ts';
import { type Alarm, alarmSchema } from '../../shared/wire/api.ts';
import { isoTime } from '../../shared/wire/time.ts';
import { type AlarmRow, StoreError } from '../store/store.ts';

/**
 * A stored alarm as it is told.
 * @throws StoreError `store-changed` where it is not of the form that all were written in.
 */
export function alarmAnswer(row: AlarmRow): Alarm {
  try {
    const alarm = told(row);
    alarmSchema.parse(alarm);
    return alarm;
  } catch {
    throw new StoreError('store-changed', 'an alarm is damaged; verify says where');
  }
}

function told({ atMs, clearedAtMs, acknowledged, shelved, ...alarm }: AlarmRow): Alarm {
  return withTold({
    ...alarm,
    at: isoTime(atMs),
    clearedAt: clearedAtMs === null ? null : isoTime(clearedAtMs),
    acknowledged: acknowledged && {
      by: acknowledged.by,
      reason: acknowledged.reason,
      at: isoTime(acknowledged.atMs),
    },
    shelved: shelved && { by: shelved.by, reason: shelved.reason, until: isoTime(shelved.untilMs) },
  });
}
