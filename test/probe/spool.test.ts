import { spawnSync } from 'node:child_process';
import {
  appendFileSync,
  mkdirSync,
  mkdtempSync,
  readdirSync,
  readFileSync,
  rmSync,
  truncateSync,
} from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import fc from 'fast-check';
import { afterEach, beforeEach, expect, onTestFinished, test } from 'vitest';
import type { Reading } from '../../probe/reading.ts';
import { DEFAULT_BOUNDS, Spool, type SpoolBounds } from '../../probe/spool.ts';
import { withReadOnlySwitch } from '../support/read-only-folder.ts';

let folder: string;
let told: string[];
let opened: Spool[];
beforeEach(() => {
  opened = [];
  folder = mkdtempSync(join(tmpdir(), 'spool-'));
  told = [];
});
afterEach(async () => {
  for (const spool of opened) await spool.close();
  rmSync(folder, { recursive: true, force: true });
});

const log = { info: (text: string) => void told.push(text), warn: (text: string) => void told.push(text) };
/** One that is not closed before the next is opened is as one that was killed. */
function open(bounds: Partial<SpoolBounds> = {}, at = folder): Spool {
  const spool = Spool.open(at, log, { ...DEFAULT_BOUNDS, ...bounds });
  opened.push(spool);
  return spool;
}
const reading = (seq: number): Reading => ({
  to: 'r1/liquid-temperature',
  value: 40 + seq / 8,
  atMs: Date.UTC(2026, 2, 2) + 1000 * seq,
  seq,
});
const numbers = (from: number, to: number) => Array.from({ length: to - from }, (_, i) => from + i);

/** Takes everything out, some at a time. */
async function takeAll(spool: Spool, most = 7): Promise<Reading[]> {
  const all: Reading[] = [];
  while (!spool.isEmpty) {
    const { readings, letGo } = await spool.oldest(most);
    all.push(...readings);
    await letGo();
  }
  return all;
}

test('what was kept comes out in its order, over a start, and then nothing is left', async () => {
  const first = open({ segmentBytes: 500 });
  for (const seq of numbers(0, 60)) await first.keep([reading(seq)]);
  // Not closed: as after a kill.
  const second = open({ segmentBytes: 500 });
  expect(second.isEmpty).toBe(false);
  await second.keep(numbers(60, 70).map(reading));
  expect(await takeAll(second)).toEqual(numbers(0, 70).map(reading));
  expect(readdirSync(folder)).toEqual([]);
  expect(open().isEmpty).toBe(true);
});

test('until it is let go of it comes again', async () => {
  const spool = open();
  await spool.keep(numbers(0, 10).map(reading));
  await spool.oldest(4);
  const { readings, letGo } = await spool.oldest(4);
  expect(readings).toEqual(numbers(0, 4).map(reading));
  await letGo();
  expect((await spool.oldest(4)).readings).toEqual(numbers(4, 8).map(reading));
  // The start does not know how far it was: a daemon knows what it has.
  expect((await open().oldest(4)).readings).toEqual(numbers(0, 4).map(reading));
});

test('cut off anywhere, all whole lines are there, and what is kept later is not spoilt', async () => {
  const before = open();
  await before.keep(numbers(0, 5).map(reading));
  await before.close();
  const file = join(folder, readdirSync(folder)[0]!);
  const text = readFileSync(file, 'utf8');
  for (let length = text.length - 1; length >= 0; length--) {
    truncateSync(file, length);
    const whole = text.slice(0, length).split('\n').length - 1;
    // A line that lacks nothing but its end is whole.
    const isWhole = text[length] === '\n';
    const { readings } = await open().oldest(100);
    expect(readings).toEqual(numbers(0, whole + (isWhole ? 1 : 0)).map(reading));
  }
  const after = open();
  await after.keep([reading(9)]);
  expect((await takeAll(after)).at(-1)).toEqual(reading(9));
});

test('garbage in the middle is passed over and told', async () => {
  const before = open();
  await before.keep([reading(0)]);
  await before.close();
  const file = join(folder, readdirSync(folder)[0]!);
  appendFileSync(file, '\0\0\0\0\n["r1/c",null,1,2]\n{"to":"r1/c"}\n');
  const after = open();
  await after.keep([reading(1)]);
  expect(await takeAll(after)).toEqual([reading(0), reading(1)]);
  expect(told).toHaveLength(1);
  expect(told[0]).toMatch(/^3 line/);
});

test('beyond its bound the oldest go, told once, and the newest stay', async () => {
  const spool = open({ segmentBytes: 500, mostBytes: 2000 });
  for (const seq of numbers(0, 200)) await spool.keep([reading(seq)]);
  const bytes = readdirSync(folder).reduce((sum, name) => sum + readFileSync(join(folder, name)).length, 0);
  expect(bytes).toBeLessThanOrEqual(2000);
  const { dropped } = spool;
  expect(dropped).toBeGreaterThan(100);
  expect(await takeAll(spool)).toEqual(numbers(dropped, 200).map(reading));
  expect(told).toHaveLength(1);
});

/** A folder in place of a file cannot be read by anybody, the superuser included. */
function makeUnreadable(name: string): void {
  rmSync(join(folder, name));
  mkdirSync(join(folder, name));
}

test('a first file that cannot be read is set aside and told once; the rest comes, and it stays aside', async () => {
  const before = open({ segmentBytes: 200 });
  for (const seq of numbers(0, 20)) await before.keep([reading(seq)]);
  const [first] = readdirSync(folder).sort();
  const lost = readFileSync(join(folder, first!), 'utf8').split('\n').length - 1;
  makeUnreadable(first!);
  const after = open({ segmentBytes: 200 });
  expect(await takeAll(after)).toEqual(numbers(lost, 20).map(reading));
  expect(told).toHaveLength(1);
  expect(told[0]).toMatch(/0000000001\.kept cannot be read .*bytes.*0000000001\.unreadable/);
  expect(readdirSync(folder)).toEqual(['0000000001.unreadable']);
  // Nothing is named as it was, so that nothing is put over it.
  const later = open();
  await later.keep([reading(20)]);
  expect(await takeAll(later)).toEqual([reading(20)]);
  expect(told).toHaveLength(1);
});

test('one that becomes unreadable in the middle, or is being added to, stops nothing', async () => {
  const spool = open({ segmentBytes: 200 });
  for (const seq of numbers(0, 20)) await spool.keep([reading(seq)]);
  for (const name of readdirSync(folder)) if (/0000000002|0000000004/.test(name)) makeUnreadable(name);
  const taken = await takeAll(spool);
  expect(taken.length).toBeGreaterThan(5);
  expect(taken.length).toBeLessThan(20);
  await spool.keep([reading(20)]);
  makeUnreadable(readdirSync(folder).find((name) => name.endsWith('.kept'))!);
  expect(await takeAll(spool)).toEqual([]);
  await spool.keep([reading(21)]);
  expect(await takeAll(spool)).toEqual([reading(21)]);
  expect(told).toHaveLength(3);
});

test('a file that is removed while it is added to: what comes later goes to a new one', async () => {
  const spool = open();
  await spool.keep([reading(0)]);
  rmSync(join(folder, readdirSync(folder)[0]!));
  await spool.keep([reading(1)]);
  expect(await takeAll(open())).toEqual([reading(1)]);
  await spool.keep([reading(2)]);
  for (const name of readdirSync(folder)) rmSync(join(folder, name));
  expect(await takeAll(spool)).toEqual([]);
  expect(spool.isEmpty).toBe(true);
  expect(told).toHaveLength(3);
  expect(told[0]).toMatch(/is gone, with .*about 1 reading/);
});

test('the bound holds with files that cannot be read, those set aside included', async () => {
  const bounds = { segmentBytes: 500, mostBytes: 2000 };
  const before = open(bounds);
  for (const seq of numbers(0, 30)) await before.keep([reading(seq)]);
  const names = readdirSync(folder).sort();
  appendFileSync(join(folder, names[0]!.replace('kept', 'unreadable')), 'x'.repeat(1000));
  const spool = open(bounds);
  makeUnreadable(names[0]!);
  for (const seq of numbers(30, 200)) await spool.keep([reading(seq)]);
  const files = readdirSync(folder, { withFileTypes: true }).filter((one) => one.isFile());
  const bytes = files.reduce((sum, { name }) => sum + readFileSync(join(folder, name)).length, 0);
  expect(bytes).toBeLessThanOrEqual(2000);
  expect((await takeAll(spool)).at(-1)).toEqual(reading(199));
});

test('what goes while it is being sent takes nothing newer with it', async () => {
  const spool = open({ segmentBytes: 200, mostBytes: 600 });
  await spool.keep(numbers(0, 3).map(reading));
  const { letGo } = await spool.oldest(2);
  for (const seq of numbers(3, 60)) await spool.keep([reading(seq)]);
  await letGo();
  const left = await takeAll(spool);
  expect(left).toEqual(numbers(60 - left.length, 60).map(reading));
  expect(left.length).toBe(60 - spool.dropped);
});

test('a disk that takes nothing: they wait in memory, can be sent from there, and go to it when it takes again', async ({
  skip,
}) => {
  const own = mkdtempSync(join(tmpdir(), 'spool-'));
  const place = withReadOnlySwitch(own);
  if (place === undefined) return skip('there is no way here to make a folder read-only');
  onTestFinished(() => {
    place.remove();
    rmSync(own, { recursive: true, force: true });
  });
  place.makeReadOnly();
  const spool = open({ mostWaiting: 50 }, own);
  for (const seq of numbers(0, 60)) await spool.keep([reading(seq)]);
  expect(told[0]).toMatch(/cannot be kept in/);
  expect(spool.dropped).toBe(10);
  expect(await takeAll(spool)).toEqual(numbers(10, 60).map(reading));
});

test('a full disk: what is on it stays, the rest waits, and all come out once there is room', async ({
  skip,
}) => {
  const own = mkdtempSync(join(tmpdir(), 'spool-'));
  const mounted = spawnSync('mount', ['-t', 'tmpfs', '-o', 'size=16k', 'tmpfs', own]).status === 0;
  if (!mounted) return skip('there is no way here to make a small disk');
  onTestFinished(() => {
    spawnSync('umount', ['--lazy', own]);
    rmSync(own, { recursive: true, force: true });
  });
  const spool = open({ segmentBytes: 4096 }, own);
  for (const seq of numbers(0, 400)) await spool.keep([reading(seq)]);
  expect(told).toHaveLength(1);
  expect(told[0]).toMatch(/ENOSPC/);
  // Five files of 4 KiB do not fit, and no try leaves another one behind.
  expect(readdirSync(own).length).toBeLessThanOrEqual(5);
  spawnSync('mount', ['-o', 'remount,size=1m', own]);
  await spool.keep([reading(400)]);
  expect(told[1]).toMatch(/takes readings again/);
  expect(spool.dropped).toBe(0);
  expect(await takeAll(open({}, own))).toEqual(numbers(0, 401).map(reading));
});

test('whatever is kept, taken, let go of and started again: nothing is lost, and the order stays', async () => {
  const step = fc.oneof(
    fc.record({ do: fc.constant('keep' as const), count: fc.integer({ min: 1, max: 12 }) }),
    fc.record({ do: fc.constant('send' as const), count: fc.integer({ min: 1, max: 12 }) }),
    fc.record({ do: fc.constant('break' as const), count: fc.integer({ min: 1, max: 12 }) }),
    fc.record({ do: fc.constant('start' as const), count: fc.constant(0) }),
  );
  await fc.assert(
    fc.asyncProperty(fc.array(step, { maxLength: 40 }), async (steps) => {
      const own = mkdtempSync(join(tmpdir(), 'spool-'));
      try {
        let spool = open({ segmentBytes: 200 }, own);
        let next = 0;
        const sent: number[] = [];
        for (const { do: what, count } of steps) {
          if (what === 'keep') {
            // Not waited for one by one: as several sensors do.
            await Promise.all(numbers(next, next + count).map((seq) => spool.keep([reading(seq)])));
            next += count;
          } else if (what === 'start') {
            spool = open({ segmentBytes: 200 }, own);
          } else {
            const { readings, letGo } = await spool.oldest(count);
            sent.push(...readings.map(({ seq }) => seq));
            if (what === 'send') await letGo();
          }
        }
        sent.push(...(await takeAll(spool)).map(({ seq }) => seq));
        // A daemon takes each once.
        expect([...new Set(sent)].sort((a, b) => a - b)).toEqual(numbers(0, next));
        expect(readdirSync(own)).toEqual([]);
      } finally {
        rmSync(own, { recursive: true, force: true });
      }
    }),
    { numRuns: 40 },
  );
});
