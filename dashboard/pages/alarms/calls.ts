import { z } from 'zod';
import { type AlarmMeasures, alarmMeasuresSchema } from '../../../shared/wire/alarm-measures.ts';
import { type Alarm, alarmSchema } from '../../../shared/wire/api.ts';
import { call } from '../../api.ts';

const alarmsSchema = z.object({ alarms: z.array(alarmSchema) });

/** The newest alarms of a choice, `limit` at most. */
export const getAlarms = async (query: Readonly<Record<string, string>>, limit: number): Promise<Alarm[]> =>
  (await call(alarmsSchema, `alarms?${new URLSearchParams({ ...query, limit: String(limit) })}`)).alarms;

export const getMeasures = (fromMs: number): Promise<AlarmMeasures> =>
  call(alarmMeasuresSchema, `alarms/measures?${new URLSearchParams({ from: String(Math.round(fromMs)) })}`);
