import { expect, test } from 'vitest';
import { isOnlyKeeper, isTaken, noteSaid, rightsSaid } from '../../dashboard/pages/people/rights.ts';
import { RIGHT_WORDS } from '../../dashboard/texts/people.ts';
import { secondsLeft } from '../../dashboard/waiting.ts';

const AT = '2026-03-02T10:15:00.000Z';

test.for([
  [1000, 1000, 0],
  [1000, 1001, 0],
  [1001, 1000, 1],
  [2000, 1000, 1],
  [2001, 1000, 2],
])('until %i ms at %i ms it is %i s', ([untilMs, nowMs, seconds]) => {
  expect(secondsLeft(untilMs!, nowMs!)).toBe(seconds);
});

test('rights are said in one order, whatever theirs is', () => {
  expect(rightsSaid(['keep', 'look'])).toBe(`${RIGHT_WORDS.look}; ${RIGHT_WORDS.keep}`);
  expect(rightsSaid([])).toBe('');
});

test('the only one who sets up people is told from one of two, and from one who does not', () => {
  const ada = { name: 'Ada', rights: ['look', 'keep'] as const };
  const tom = { name: 'Tom', rights: ['look', 'work'] as const };
  const people = [ada, tom].map(({ name, rights }) => ({ name, rights: [...rights] }));
  expect(isOnlyKeeper(people, 'Ada')).toBe(true);
  expect(isOnlyKeeper(people, 'Tom')).toBe(false);
  expect(isOnlyKeeper(people, 'Nobody')).toBe(false);
  const two = people.map(({ name }) => ({ name, rights: ['look' as const, 'keep' as const] }));
  expect(isOnlyKeeper(two, 'Ada')).toBe(false);
});

test('names that nobody could tell apart are one', () => {
  expect(isTaken(['Ada Brook'], ' ada brook ')).toBe(true);
  expect(isTaken(['Ada Brook'], 'Ada')).toBe(false);
});

test('what was noted is said by whom and of whom, and never with a name that nobody has', () => {
  const refused = { what: 'sign-in-refused', at: AT, by: 'someone', from: '192.0.2.7' } as const;
  expect(noteSaid({ ...refused, person: 'Ada' })).toMatch(/Ada.*192\.0\.2\.7/);
  expect(noteSaid({ ...refused, person: null })).toContain('192.0.2.7');
  expect(noteSaid({ ...refused, person: 'Ada', tooMany: true })).toMatch(/too many.*Ada.*192\.0\.2\.7/);
  expect(noteSaid({ ...refused, person: null, tooMany: true })).toMatch(/too many.*192\.0\.2\.7/);
  const changed = { what: 'access-changed', at: AT, by: 'Ada', name: 'Tom' } as const;
  expect(noteSaid({ ...changed, kind: 'person', may: 'look,work' })).toContain(rightsSaid(['look', 'work']));
  expect(noteSaid({ ...changed, kind: 'device', may: 'larkfield' })).toContain('larkfield');
  const gone = (['person', 'token', 'device'] as const).map((kind) =>
    noteSaid({ ...changed, kind, may: null }),
  );
  expect(new Set(gone).size).toBe(3);
  for (const said of gone) expect(said).toMatch(/Ada removed .*Tom/);
});
