import { type AlarmWhy, alarmWhySchema } from '../../../shared/wire/alarm-why.ts';
import { call } from '../../api.ts';

export const getAlarmWhy = (id: string): Promise<AlarmWhy> =>
  call(alarmWhySchema, `alarms/${encodeURIComponent(id)}`);
