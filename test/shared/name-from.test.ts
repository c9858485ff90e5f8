import { describe, expect, test } from 'vitest';
import { nameFrom } from '../../shared/wire/name-from.ts';
import { isName } from '../../shared/wire/names.ts';

describe('a name', () => {
  test.each([
    ['Garden shed', 'garden-shed'],
    ['  R1 ', 'r1'],
    ['r_1', 'r-1'],
    ['Grünes Haus', 'grunes-haus'],
    ['--a--', 'a'],
    [`${'a'.repeat(39)} b`, 'a'.repeat(39)],
  ])('%j goes by %s', (text, name) => {
    expect(nameFrom(text)).toBe(name);
    expect(isName(name)).toBe(true);
  });
  test.each(['', '   ', '---', '中文'])('of %j nothing is left', (text) => {
    expect(nameFrom(text)).toBeUndefined();
  });
});
