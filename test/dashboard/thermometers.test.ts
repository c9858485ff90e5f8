import { describe, expect, test } from 'vitest';
import { previewOf } from '../../dashboard/pages/thermometers/preview.ts';

const WATER_C = 95;
const standing = { ice: { readC: 1, sentC: 1, trueC: 0 }, boiling: null };

describe('what a check would make of a thermometer', () => {
  test('is nothing before a bath is known', () => {
    expect(previewOf({}, null, WATER_C)).toBeUndefined();
    expect(previewOf({ boiling: { readC: 95 } }, null, null)).toBeUndefined();
  });

  test('is the error in each bath, and what becomes of a temperature', () => {
    expect(previewOf({ ice: { readC: 0.5 }, boiling: { readC: 95.5 } }, null, WATER_C)).toEqual({
      errors: [
        { bath: 'ice', errorC: 0.5 },
        { bath: 'boiling', errorC: 0.5 },
      ],
      exampleC: 60,
      becomesC: 59.5,
      size: 'ordinary',
    });
  });

  test('goes by what was sent, where it is corrected already', () => {
    expect(previewOf({ ice: { readC: 0.5 } }, standing, WATER_C)).toMatchObject({
      errors: [{ bath: 'ice', errorC: 1.5 }],
      becomesC: 59.5,
    });
  });

  test.for([
    [2, 'ordinary'],
    [2.01, 'large'],
    [-2.01, 'large'],
    [10, 'large'],
    [10.01, 'too-large'],
    [32, 'too-large'],
  ] as const)('of %d °C is %s', ([readC, size]) => {
    expect(previewOf({ ice: { readC } }, null, null)?.size).toBe(size);
  });
});
