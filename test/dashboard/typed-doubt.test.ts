import { describe, expect, test } from 'vitest';
import { isolated } from '../../dashboard/texts/isolated.ts';
import { doubtOf } from '../../dashboard/typed-doubt.ts';

const vessel = { boilingC: 64.5, stage: 'warm', lastC: 54 } as const;

describe('a temperature that is typed', () => {
  test('is doubted from 20 °C above boiling on', () => {
    expect(doubtOf(84.5, 'C', vessel)).toBeUndefined();
    expect(doubtOf(84.6, 'C', vessel)).toBe('hot');
    expect(doubtOf(184.1, 'F', { ...vessel, lastC: undefined })).toBeUndefined();
    expect(doubtOf(184.3, 'F', { ...vessel, lastC: undefined })).toBe('hot');
  });

  test('is not where a stage is meant to be hot, up to where no stage is', () => {
    for (const stage of ['dry-oil', 'recover', 'dry-fuel'] as const) {
      expect(doubtOf(130, 'C', { ...vessel, stage, lastC: 100 })).toBeUndefined();
      expect(doubtOf(130.1, 'C', { ...vessel, stage, lastC: 100 })).toBe('hot');
    }
  });

  test('is where it goes on from the last reading in the other unit only', () => {
    // 129 °F is 53.9 °C.
    expect(doubtOf(129, 'C', vessel)).toBe('other-unit');
    expect(doubtOf(54, 'F', vessel)).toBe('other-unit');
    expect(doubtOf(68, 'C', { ...vessel, lastC: 20 })).toBe('other-unit');
    expect(doubtOf(129, 'F', vessel)).toBeUndefined();
    expect(doubtOf(20, 'C', vessel)).toBeUndefined();
    expect(doubtOf(129, 'C', { ...vessel, lastC: undefined })).toBe('hot');
  });
});

describe('a name in a sentence', () => {
  test('stays as it is where it turns nothing', () => {
    for (const name of ['Ada Brook', 'Łódź 2', '夏の油', 'Ada 🌻']) expect(isolated(name)).toBe(name);
  });
  test('is isolated where it is written from right to left, and cannot end that itself', () => {
    expect(isolated('ندى')).toBe('\u2068ندى\u2069');
    expect(isolated('\u202eadA\u2069\u202e')).toBe('\u2068adA\u2069');
  });
});
