import { expect, test } from 'vitest';
import { MENDS, mendOf } from '../../dashboard/texts/mends.ts';
import { REFUSALS } from '../../shared/wire/refusals.ts';

test('every code of refusal has a mend of its own, and no other', () => {
  expect(Object.keys(MENDS).sort()).toEqual(Object.keys(REFUSALS).sort());
  const mends = Object.values(MENDS);
  expect(new Set(mends).size).toBe(mends.length);
  for (const mend of mends) expect(mend.trim().length).toBeGreaterThan(10);
  expect(mendOf('a-later-code')).toBeUndefined();
  expect(mendOf('constructor')).toBeUndefined();
});
