import { expect, test } from 'vitest';
import { createFeed } from '../../dashboard/chart/feed.ts';
import { lackOf } from '../../dashboard/chart/said.ts';
import type { Columns } from '../../dashboard/chart/series.ts';
import type { Wanted } from '../../dashboard/chart/view.ts';
import { HISTORY } from '../../dashboard/texts/history.ts';

const NOW = Date.UTC(2026, 2, 2, 12);
const MINUTE = 60_000;
const sight = { width: 600, nowMs: NOW };
const lastTen = { fromMs: NOW - 10 * MINUTE, toMs: NOW };

const single = (rows: readonly [t: number, value: number][]): Columns => {
  const values = rows.map(([, value]) => value);
  return {
    t: rows.map(([t]) => t),
    min: values,
    mean: values,
    max: values,
    live: rows.map(() => 0),
    stepMs: 0,
  };
};

/** A store whose answers are given when a test says so. */
function store() {
  const asked: { wanted: Wanted; answer: (columns: Columns) => void; fail: () => void }[] = [];
  const feed = createFeed(
    (wanted) =>
      new Promise((resolve, reject) => {
        asked.push({ wanted, answer: resolve, fail: () => reject(new Error('gone')) });
      }),
  );
  return { feed, asked };
}
const soon = () => new Promise((resolve) => setTimeout(resolve, 0));

test('readings that come live while a fetch is under way are kept through it', async () => {
  const { feed, asked } = store();
  feed.see(lastTen, sight);
  expect(asked).toHaveLength(1);
  feed.add([{ t: NOW + 10, value: 61 }]);
  asked[0]!.answer(single([[NOW - 1000, 60]]));
  await feed.settled();
  expect(feed.columns.value?.t).toEqual([NOW - 1000, NOW + 10]);
  feed.add([{ t: NOW + 1010, value: 62 }]);
  expect(feed.columns.value?.mean).toEqual([60, 61, 62]);
  feed.see({ fromMs: lastTen.fromMs + 2000, toMs: NOW + 2000 }, { ...sight, nowMs: NOW + 2000 });
  expect(asked).toHaveLength(1);
});

test('of views that follow on each other while one is fetched only the last is fetched after it', async () => {
  const { feed, asked } = store();
  feed.see(lastTen, sight);
  for (const hours of [1, 2, 3]) {
    const shift = hours * 60 * MINUTE;
    feed.see({ fromMs: lastTen.fromMs - shift, toMs: lastTen.toMs - shift }, sight);
  }
  expect(asked).toHaveLength(1);
  asked[0]!.answer(single([]));
  await soon();
  expect(asked).toHaveLength(2);
  expect(asked[1]!.wanted.fromMs).toBeLessThanOrEqual(lastTen.fromMs - 3 * 60 * MINUTE);
  expect(asked[1]!.wanted.fromMs).toBeGreaterThan(lastTen.fromMs - 4 * 60 * MINUTE);
  asked[1]!.answer(single([]));
  await feed.settled();
  expect(asked).toHaveLength(2);
});

test('columns that are not in order are not drawn, and said to be unfit', async () => {
  const { feed, asked } = store();
  feed.see(lastTen, sight);
  asked[0]!.answer({ ...single([[NOW - 1000, 60]]), max: [] });
  await feed.settled();
  expect([feed.state.value, feed.columns.value]).toEqual(['unfit', undefined]);
  feed.renew(lastTen, sight);
  asked[1]!.answer(single([[NOW - 1000, 60]]));
  await feed.settled();
  expect([feed.state.value, feed.columns.value?.mean]).toEqual(['shown', [60]]);
});

test('a fetch that fails says so where nothing is there, and leaves what is', async () => {
  const { feed, asked } = store();
  feed.see(lastTen, sight);
  asked[0]!.fail();
  await feed.settled();
  expect(feed.state.value).toBe('failed');
  // Not with every movement, but when the link is back.
  feed.see(lastTen, sight);
  expect(asked).toHaveLength(1);
  feed.renew(lastTen, sight);
  asked[1]!.answer(single([[NOW - 1000, 60]]));
  await feed.settled();
  feed.renew(lastTen, sight);
  asked[2]!.fail();
  await feed.settled();
  expect([feed.state.value, feed.columns.value?.mean]).toEqual(['failed', [60]]);
});

test('what is fetched or could not be fetched is not taken for a time without readings', async () => {
  const { feed, asked } = store();
  feed.see(lastTen, sight);
  asked[0]!.answer(single([[NOW - 1000, 60]]));
  await feed.settled();
  const before = { fromMs: NOW - 600 * MINUTE, toMs: NOW - 590 * MINUTE };
  const said = () => lackOf(feed.state.value, true, before, NOW);
  feed.see(before, sight);
  expect(said()).toBe(HISTORY.loading);
  asked[1]!.fail();
  await feed.settled();
  expect(said()).toBe(HISTORY.failed);
  feed.see(before, sight);
  expect(asked).toHaveLength(2);
  feed.renew(before, sight);
  asked[2]!.answer(single([]));
  await feed.settled();
  expect(said()).toBe(HISTORY.none);
});

test('after the last word of the daemon it is not known whether there were readings', () => {
  expect(lackOf('shown', true, { fromMs: NOW - MINUTE, toMs: NOW }, NOW - 2 * MINUTE)).toBe(HISTORY.unheard);
  expect(lackOf('shown', false, lastTen, NOW - MINUTE)).toBeUndefined();
});

test('what is far from what is there comes first without its surroundings, then a drag finds them', async () => {
  const { feed, asked } = store();
  const view = { fromMs: NOW - 600 * MINUTE, toMs: NOW - 590 * MINUTE };
  feed.see(view, sight);
  expect(asked[0]!.wanted).toMatchObject(view);
  asked[0]!.answer(single([]));
  await feed.settled();
  feed.see({ fromMs: view.fromMs - MINUTE, toMs: view.toMs - MINUTE }, sight);
  expect(asked[1]!.wanted).toMatchObject({ fromMs: view.fromMs - 6 * MINUTE, toMs: view.toMs + 4 * MINUTE });
});

test('a feed that nobody looks at the end of does not grow for ever', async () => {
  const { feed, asked } = store();
  feed.see(lastTen, sight);
  asked[0]!.answer(single([[NOW - 1000, 60]]));
  await feed.settled();
  for (let s = 0; s < 9000; s += 100)
    feed.add(Array.from({ length: 100 }, (_, i) => ({ t: NOW + (s + i) * 1000, value: 60 })));
  expect(feed.columns.value!.t.length).toBeLessThan(8200);
  const late = NOW + 9_000_000;
  feed.see({ fromMs: late - 10 * MINUTE, toMs: late }, { ...sight, nowMs: late });
  expect(asked).toHaveLength(2);
});

test('while it follows the clock it forgets what is long past', async () => {
  const { feed, asked } = store();
  feed.see(lastTen, sight);
  asked[0]!.answer(single([[NOW - 9 * MINUTE, 60]]));
  await feed.settled();
  const later = NOW + 30 * MINUTE;
  feed.add([{ t: later, value: 61 }]);
  feed.see({ fromMs: later - 10 * MINUTE, toMs: later }, { ...sight, nowMs: later });
  expect(feed.columns.value?.t).toEqual([later]);
  expect(asked).toHaveLength(1);
});
