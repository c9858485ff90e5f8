import { expect, test } from 'vitest';
import { newlyHeard, repeats, TUNES, unseenOf } from '../../dashboard/sound/tunes.ts';
import type { Alarm } from '../../shared/wire/api.ts';
import { PRIORITIES, type Priority } from '../../shared/wire/names.ts';

const alarm = (id: string, priority: Priority, what: Partial<Alarm> = {}) =>
  ({ id, priority, standing: true, told: true, acknowledged: null, ...what }) as Alarm;
const seen = { acknowledged: { by: 'Ada Brook', reason: null, at: '2026-03-02T10:00:00.000Z' } };
const unseen = (...alarms: Alarm[]) => unseenOf(alarms);

test('what stands, is told and was not seen is heard, and nothing else', () => {
  const alarms = [
    alarm('a', 'high'),
    alarm('b', 'critical', seen),
    alarm('c', 'high', { standing: false }),
    alarm('d', 'high', { told: false }),
  ];
  expect([...unseenOf(alarms)]).toEqual([['a', 'high']]);
});

test('of what is new the gravest is heard once; what was there before is not', () => {
  const before = unseen(alarm('a', 'high'));
  expect(newlyHeard(before, before)).toBeUndefined();
  expect(newlyHeard(before, unseen(alarm('a', 'high'), alarm('b', 'low')))).toBe('low');
  expect(newlyHeard(before, unseen(alarm('a', 'high'), alarm('b', 'medium'), alarm('c', 'critical')))).toBe(
    'critical',
  );
  expect(newlyHeard(before, unseen())).toBeUndefined();
});

test('one that becomes graver is heard again, one that becomes less grave is not', () => {
  expect(newlyHeard(unseen(alarm('a', 'high')), unseen(alarm('a', 'critical')))).toBe('critical');
  expect(newlyHeard(unseen(alarm('a', 'high')), unseen(alarm('a', 'medium')))).toBeUndefined();
});

test('only a danger that nobody has seen repeats', () => {
  expect(repeats(unseen(alarm('a', 'critical')))).toBe(true);
  expect(repeats(unseen(alarm('a', 'critical', seen), alarm('b', 'high')))).toBe(false);
});

test('each priority has a tune of its own, the graver the higher and the more notes', () => {
  const tunes = PRIORITIES.map((priority) => TUNES[priority]);
  for (const [i, tune] of tunes.entries()) {
    if (i === 0) continue;
    expect(tune.length).toBeGreaterThan(tunes[i - 1]!.length);
    expect(tune[0]!.hz).toBeGreaterThan(tunes[i - 1]![0]!.hz);
  }
  for (const tune of Object.values(TUNES)) {
    for (const [i, note] of tune.entries()) {
      const last = tune[i - 1];
      if (last !== undefined) expect(note.atMs).toBeGreaterThanOrEqual(last.atMs + last.forMs);
    }
  }
});
