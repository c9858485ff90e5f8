import { join } from 'node:path';
import fc from 'fast-check';
import { afterAll, beforeAll, expect, test } from 'vitest';
import { DROP_ACTION, type WantedDrop } from '../../../daemon/store/drops.ts';
import { openStore } from '../../../daemon/store/open.ts';
import { openReadable } from '../../../daemon/store/sqlite/database.ts';
import {
  type Difference,
  isDifference,
  verifyDatabase,
  type Whole,
} from '../../../daemon/store/sqlite/verify.ts';
import type { Store, StoredEntry } from '../../../daemon/store/store.ts';
import { share } from '../../support/thorough.ts';
import { action, reading } from './entries.ts';
import { everyEntryOf, everyReadingOf, temporaryDir } from './fixture.ts';

const HOUR_MS = 3_600_000;
const MINUTE_MS = 60_000;
const START_MS = Date.UTC(2026, 2, 2);
const HOURS = 10;

let dir: string;
let store: Store;
let site: string;
let lastSite = 0;
beforeAll(async () => {
  dir = join(temporaryDir(afterAll), 'data');
  store = await openStore(dir);
});
afterAll(() => store?.close());

/** Begins a site: readings a minute for some hours, each sealed, and an action each. */
async function beginSite(): Promise<void> {
  site = `site-${++lastSite}`;
  for (let hour = 0; hour < HOURS; hour++) {
    const readings = Array.from({ length: 60 }, (_, minute) => {
      const atMs = START_MS + hour * HOUR_MS + minute * MINUTE_MS;
      return reading({ atMs, arrivedMs: atMs, value: hour + minute / 60 });
    });
    const arrivedMs = START_MS + hour * HOUR_MS;
    await store.write([{ site, entries: [action({ arrivedMs, body: { hour } }), ...readings] }]);
    await store.seal(site, Number.MAX_SAFE_INTEGER);
  }
}

const whole = (head?: string): Whole | Difference => {
  const reader = openReadable(dir);
  try {
    return verifyDatabase(reader, head);
  } finally {
    reader.close();
  }
};

const hourOf = (ms: number): number => Math.floor((ms - START_MS) / HOUR_MS);

async function dropAll(wanted: WantedDrop, nowMs = START_MS + 1000 * HOUR_MS): Promise<number> {
  let times = 0;
  while (await store.drop(site, wanted, nowMs)) times++;
  return times;
}

const dropsIn = (entries: readonly StoredEntry[]) =>
  entries.filter((entry) => entry.kind === 'action' && entry.action === DROP_ACTION);

test('what is old is gone, what is kept stays, and the chain holds', { timeout: 60_000 }, async () => {
  const span = fc
    .tuple(fc.integer({ min: 0, max: HOURS * 60 }), fc.integer({ min: 0, max: 90 }))
    .map(([from, length]) => ({
      fromMs: START_MS + from * MINUTE_MS,
      toMs: START_MS + (from + length) * MINUTE_MS,
    }));
  await fc.assert(
    fc.asyncProperty(
      fc.integer({ min: -1, max: HOURS * 60 + 30 }),
      fc.array(span, { maxLength: 2 }),
      fc.integer({ min: 1, max: 700 }),
      async (beforeMinutes, kept, page) => {
        await beginSite();
        const beforeMs = START_MS + beforeMinutes * MINUTE_MS;
        const all = await store.rawReadings({ ...everyReadingOf(site) });
        const wholeDay = { ...everyReadingOf(site), fromMs: START_MS, toMs: START_MS + 24 * HOUR_MS };
        const drawn = await store.buckets({ ...wholeDay, points: 24 });
        const before = await store.heads();
        await dropAll({ beforeMs, kept });
        // By hours: one is dropped where all of it is old and no kept time touches it.
        const isKept = (t: number) => {
          const startMs = START_MS + hourOf(t) * HOUR_MS;
          const isOld = startMs + 59 * MINUTE_MS < beforeMs;
          return !isOld || kept.some(({ fromMs, toMs }) => fromMs < startMs + HOUR_MS && toMs >= startMs);
        };
        const left = await store.rawReadings({ ...everyReadingOf(site) });
        expect(left.t).toEqual(all.t.filter(isKept));
        expect(left.dropped ?? 0).toBe(all.t.length - left.t.length);
        const anyDropped = left.t.length < all.t.length;
        // Lines over a long time are what they were.
        expect(await store.buckets({ ...wholeDay, points: 24 })).toEqual(drawn);
        const entries = await everyEntryOf(store, site, page);
        expect(entries.filter(({ kind }) => kind === 'reading')).toHaveLength(left.t.length);
        expect(entries.filter(({ kind }) => kind === 'action')).toHaveLength(HOURS + (anyDropped ? 1 : 0));
        expect(entries.map(({ position }) => position)).toEqual(
          entries.map(({ position }) => position).sort((a, b) => a - b),
        );
        expect(await dropAll({ beforeMs, kept })).toBe(0);
        const { sealed } = before.find((one) => one.site === site)!;
        const verified = whole(sealed!.head) as Whole;
        expect(verified.found).toMatchObject({ site, entries: HOURS * 61 });
        expect(verified.sites.find((one) => one.site === site)!.dropped).toBe(all.t.length - left.t.length);
      },
    ),
    { numRuns: share(30) },
  );
});

test('a part of an hour is drawn from its steps where its readings are gone', async () => {
  await beginSite();
  await dropAll({ beforeMs: START_MS + 5 * HOUR_MS, kept: [] });
  const range = { fromMs: START_MS + 10 * MINUTE_MS, toMs: START_MS + 30 * MINUTE_MS - 1 };
  const drawn = await store.buckets({ ...everyReadingOf(site), ...range, points: 1 });
  expect(drawn).toMatchObject({ min: [10 / 60], max: [29 / 60] });
});

test('it is said once in the history for what goes at once, and is found by verify if it is not', async () => {
  await beginSite();
  const drop = { beforeMs: START_MS + 3 * HOUR_MS, kept: [] };
  await dropAll(drop);
  const further = { beforeMs: START_MS + 4 * HOUR_MS, kept: [] };
  await dropAll(further, START_MS + 2000 * HOUR_MS);
  expect(dropsIn(await everyEntryOf(store, site))).toMatchObject([
    { body: { ...drop, fromMs: -8.64e15 }, arrivedMs: START_MS + 1000 * HOUR_MS },
    { body: { ...further, fromMs: drop.beforeMs }, arrivedMs: START_MS + 2000 * HOUR_MS },
  ]);
  expect(isDifference(whole())).toBe(false);
});

test('nothing is dropped that is not sealed, of another site, or not there', async () => {
  await beginSite();
  await store.write([{ site: 'shed', entries: [reading({ atMs: START_MS })] }]);
  const everything = { beforeMs: Number.MAX_SAFE_INTEGER, kept: [] };
  expect(await store.drop('shed', everything, START_MS)).toBe(false); // not sealed
  expect(await store.drop('nowhere', everything, START_MS)).toBe(false);
  await dropAll(everything);
  expect((await store.rawReadings(everyReadingOf('shed'))).t).toEqual([START_MS]);
});

test('one that comes again after it was dropped is a new one', async () => {
  await beginSite();
  await dropAll({ beforeMs: START_MS + HOUR_MS, kept: [] });
  const [written] = await store.write([{ site, entries: [reading({ atMs: START_MS, value: 0 })] }]);
  expect(written!.entries).toMatchObject([{ result: 'stored' }]);
});

test('a drop of the readings of a batch is found, whoever said it', async () => {
  const own = join(temporaryDir(), 'data');
  const other = await openStore(own);
  const at = (hour: number) => ({ atMs: START_MS + hour * HOUR_MS, arrivedMs: START_MS + hour * HOUR_MS });
  const body = { id: 'b1', name: 'Old oil', vessel: 'r1', request: {}, site: null };
  const end = { batch: 'b1', vessel: 'r1', stage: 'finished', deviation: null };
  await other.write([
    {
      site: 'barn',
      entries: [
        action({ action: 'batch-opened', ...at(5), body }),
        reading({ ...at(6), value: 55 }),
        action({ action: 'stage', ...at(7), body: end }),
      ],
    },
  ]);
  await other.seal('barn', Number.MAX_SAFE_INTEGER);
  const kept = [{ fromMs: at(4).atMs, toMs: at(8).atMs }];
  expect(await other.drop('barn', { beforeMs: at(100).atMs, kept }, at(200).atMs)).toBe(false);
  expect(await other.drop('barn', { beforeMs: at(101).atMs, kept: [] }, at(201).atMs)).toBe(true);
  await other.close();
  const reader = openReadable(own);
  expect(verifyDatabase(reader)).toMatchObject({ what: expect.stringContaining('batch'), site: 'barn' });
  reader.close();
});
