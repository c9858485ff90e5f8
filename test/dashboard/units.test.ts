import { describe, expect, it } from 'vitest';
import {
  clockTime,
  decimal,
  differenceToUnit,
  duration,
  feetToMetres,
  fromUnit,
  parseNumber,
  toUnit,
} from '../../dashboard/units.ts';

describe('numbers', () => {
  it('have a true minus sign and no minus at zero', () => {
    expect(decimal(-1.25, 1)).toMatch(/^−1\.[23]$/);
    expect(decimal(-0.04, 1)).toBe('0.0');
    expect(decimal(9.16, 1)).toBe('9.2');
  });

  it.each([
    ['54.2', 54.2],
    [' 54,2 ', 54.2],
    ['-3', -3],
    ['−3', -3],
    ['.5', 0.5],
    ['5.', 5],
  ])('reads %j as %d', (text, value) => {
    expect(parseNumber(text)).toBe(value);
  });

  it.each(['', ' ', '5e3', '1.2.3', '1,234,5', 'NaN', 'Infinity', '54 °C', '0x10', '-', '.'])(
    'takes %j for no number',
    (text) => {
      expect(parseNumber(text)).toBeUndefined();
    },
  );
});

describe('units', () => {
  it('turns temperatures both ways, and differences without the 32', () => {
    expect(toUnit(100, 'F')).toBe(212);
    expect(fromUnit(212, 'F')).toBe(100);
    expect(differenceToUnit(5, 'F')).toBe(9);
    expect(toUnit(54.2, 'C')).toBe(54.2);
    expect(fromUnit(54.2, 'C')).toBe(54.2);
    expect(differenceToUnit(5, 'C')).toBe(5);
  });

  it('has 5,280 ft in 1,609.34 m', () => {
    expect(feetToMetres(5280)).toBe(1609.34);
  });
});

describe('times', () => {
  const at = Date.UTC(2026, 2, 2, 0, 5, 9);

  it('are written with 24 or 12 hours', () => {
    expect(clockTime(at, '24', 'minute', 'UTC')).toBe('00:05');
    expect(clockTime(at, '24', 'second', 'UTC')).toBe('00:05:09');
    expect(clockTime(at, '12', 'minute', 'UTC')).toBe('12:05 am');
    expect(clockTime(at + 13 * 3_600_000, '12', 'second', 'UTC')).toBe('1:05:09 pm');
  });

  it('are the same in the reader’s own time zone, named or not', () => {
    const { timeZone } = new Intl.DateTimeFormat().resolvedOptions();
    // Every hour of a year, with the days on which clocks are changed.
    for (let ms = at; ms < at + 366 * 86_400_000; ms += 3_601_000)
      for (const cycle of ['24', '12'] as const)
        for (const detail of ['minute', 'second'] as const)
          expect(clockTime(ms, cycle, detail)).toBe(clockTime(ms, cycle, detail, timeZone));
  });

  it.each([
    [-500, '0 s'],
    [8_400, '8 s'],
    [99_000, '99 s'],
    [100_000, '2 min'],
    [59 * 60_000, '59 min'],
    [185 * 60_000, '3 h 5 min'],
    [180 * 60_000, '3 h'],
    [72 * 3_600_000, '3 days'],
  ])('writes %d ms as %j', (ms, text) => {
    expect(duration(ms)).toBe(text);
  });
});

it.each(['1,092', '12,345', '-1,092', '1,234,567'])(
  '%s may mean two numbers, and is taken for neither',
  (text) => {
    expect(parseNumber(text)).toBeUndefined();
  },
);

it.each([
  ['0,125', 0.125],
  ['1,09', 1.09],
  ['1.092', 1.092],
  ['1092', 1092],
] as const)('%s means one', (text, value) => {
  expect(parseNumber(text)).toBe(value);
});
