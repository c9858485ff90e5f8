import { expect, test } from 'vitest';
import { whyFailed } from '../../dashboard/texts/way-codes.ts';

test.each([
  'EDNS',
  'ECONNECTION',
  'ESOCKET',
  'ETLS 500',
  'EAUTH 535',
  'EENVELOPE 451',
  'ETIMEDOUT',
  'timeout',
])('what %s means stands beside it', (because) => {
  expect(whyFailed(because)).toMatch(/^\S+ \S+ .+ \(.+\)$/);
  expect(whyFailed(because)).toContain(`(${because})`);
});

test('a status is told as what it says', () => {
  const said = ['status 302', 'status 403', 'status 404', 'status 500'].map(whyFailed);
  expect(new Set(said.map((words) => words.replace(/ \(.*/, ''))).size).toBe(4);
  expect(whyFailed('status 418')).toBe('status 418');
});

test.each(['failed', 'toString', 'the browser’s key cannot be used'])('%s stays as it is', (because) => {
  expect(whyFailed(because)).toBe(because);
});
