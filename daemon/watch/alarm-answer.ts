import { withTold } from '../../shared/engine/told.ts';
import type { Alarm } from '../../shared/wire/api.ts';
import { isoTime } from '../../shared/wire/time.ts';
import type { AlarmRow } from '../store/store.ts';

/** A stored alarm as it is told. */
export function alarmAnswer({ atMs, clearedAtMs, acknowledged, shelved, ...alarm }: AlarmRow): Alarm {
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
