import type { NewAction, NewAlarmEvent, NewReading } from '../../../daemon/store/store.ts';

export const reading = (some: Partial<NewReading> = {}): NewReading => ({
  kind: 'reading',
  vessel: 'r1',
  channel: 'liquid-temperature',
  atMs: 1000,
  stamped: false,
  arrivedMs: 1_750_000_000_000,
  value: 20,
  seq: null,
  source: 'device',
  ...some,
});

export const action = (some: Partial<NewAction> = {}): NewAction => ({
  kind: 'action',
  action: 'site-altitude',
  atMs: 1000,
  arrivedMs: 1000,
  by: 'p1',
  body: { altitudeM: 340 },
  ...some,
});

export const alarmEvent = (some: Partial<NewAlarmEvent> = {}): NewAlarmEvent => ({
  kind: 'alarm',
  key: 'k1',
  id: 'a1',
  vessel: 'r1',
  alarm: 'boiling-near',
  event: 'raised',
  priority: 'high',
  atMs: 1000,
  arrivedMs: 1000,
  body: { late: false, value: 62.1, limit: 61.6, because: 'b', todo: 't', facts: { headroomC: 2.5 } },
  ...some,
});
