import { mkdtempSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterEach, beforeEach, expect, test } from 'vitest';
import { Numbers } from '../../probe/numbers.ts';

let folder: string;
let told: string[];
beforeEach(() => {
  folder = mkdtempSync(join(tmpdir(), 'numbers-'));
  told = [];
});
afterEach(() => rmSync(folder, { recursive: true, force: true }));

const log = { info: (text: string) => void told.push(text), warn: (text: string) => void told.push(text) };
const open = () => Numbers.open(folder, log);
const take = (numbers: Numbers, count: number, to = 'r1/a') =>
  Array.from({ length: count }, () => numbers.next(to));

test('each channel has its own, from 0, without a gap over a clean stop', () => {
  const first = open();
  expect(take(first, 3)).toEqual([0, 1, 2]);
  expect(take(first, 2, 'r1/b')).toEqual([0, 1]);
  first.close();
  const second = open();
  expect(take(second, 2)).toEqual([3, 4]);
  expect(take(second, 1, 'r1/b')).toEqual([2]);
});

test.for([1, 999, 1000, 1001, 2500])(
  'after a kill at %d none comes twice: it goes on at the next thousand',
  (count) => {
    const given = take(open(), count);
    expect(given).toEqual(given.map((_, i) => i));
    const next = open().next('r1/a');
    expect(next).toBe(Math.ceil(count / 1000) * 1000);
    // And so on.
    expect(open().next('r1/a')).toBe(next + 1000);
  },
);

test.for(['', '{', '[]', '{"r1/a":-1}', '{"r1/a":1.5}', '{"r1/a":"5"}'])(
  'a file with %s in it is told',
  (text) => {
    writeFileSync(join(folder, 'numbers.json'), text);
    expect(open().next('r1/a')).toBe(0);
    expect(told).toHaveLength(1);
  },
);
