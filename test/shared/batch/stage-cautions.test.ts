import { expect, test } from 'vitest';
import { cautionsOf, stageCautions } from '../../../shared/batch/stage-cautions.ts';

test('what several stages share is said once, and local codes last', () => {
  const together = cautionsOf(['dose', 'react', 'methoxide'], true).map(({ text }) => text);
  expect(new Set(together).size).toBe(together.length);
  for (const stage of ['dose', 'react', 'methoxide'] as const)
    expect(together).toEqual(expect.arrayContaining(stageCautions(stage).map(({ text }) => text)));
  expect(together.at(-1)).toBe(stageCautions('settle').at(-1)!.text);
});

test('where nothing is to be minded there is no list; with methanol there is, whatever the stage', () => {
  expect(cautionsOf(['idle'], false)).toEqual([]);
  expect(cautionsOf(['test'], false)).toEqual([]);
  expect(cautionsOf(['test'], true).length).toBeGreaterThan(3);
});
