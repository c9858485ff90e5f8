import { join } from 'node:path';
import fc from 'fast-check';
import { afterAll, beforeAll, describe, expect, onTestFinished, test } from 'vitest';
import { openStore } from '../../../daemon/store/open.ts';
import { openReadable } from '../../../daemon/store/sqlite/database.ts';
import { isDifference, verifyDatabase } from '../../../daemon/store/sqlite/verify.ts';
import type { CsvPlace, NewEntry, Store } from '../../../daemon/store/store.ts';
import { share } from '../../support/thorough.ts';

const RUNS = share(60);

import { action, alarmEvent, reading } from './entries.ts';
import { everyEntryOf, temporaryDir } from './fixture.ts';

const HOUR_MS = 3_600_000;
const START_MS = Date.UTC(2026, 2, 2, 10);
const CHANNELS = ['liquid-temperature', 'stirrer-speed'] as const;

let sealed: Store;
let plain: Store;
let sealedDir: string;
let lastRun = 0;
beforeAll(async () => {
  sealedDir = join(temporaryDir(afterAll), 'data');
  [sealed, plain] = await Promise.all([
    openStore(sealedDir),
    openStore(join(temporaryDir(afterAll), 'data')),
  ]);
});
afterAll(async () => {
  await Promise.all([sealed?.close(), plain?.close()]);
});

const place = { vessel: 'r1', fromMs: -8.64e15, toMs: 8.64e15 };

/** A range as CSV, part by part. */
async function csvOf(store: Store, query: Parameters<Store['rawReadings']>[0]): Promise<string> {
  let text = '';
  for (let after: CsvPlace | null = null; ; ) {
    const { csv, endsAt }: Awaited<ReturnType<Store['readingsCsv']>> = await store.readingsCsv({
      ...query,
      after,
    });
    text += Buffer.from(csv).toString();
    if (endsAt === null) return text;
    after = endsAt;
  }
}

/** What arrives together, some hours after the start; a reading lies so many minutes before its arrival. */
const arrival = fc.record({
  afterMinutes: fc.integer({ min: 0, max: 200 }),
  entries: fc.array(
    fc.oneof(
      {
        weight: 8,
        arbitrary: fc.record({
          kind: fc.constant('reading' as const),
          channel: fc.constantFrom(...CHANNELS),
          minutesOld: fc.oneof(fc.constant(0), fc.integer({ min: 0, max: 600 })),
          seq: fc.option(fc.nat(3)),
          value: fc.oneof(
            fc.integer({ min: 0, max: 5 }),
            fc.double({ noNaN: true, noDefaultInfinity: true, min: -50, max: 50 }),
          ),
          stamped: fc.boolean(),
          typed: fc.boolean(),
        }),
      },
      { weight: 1, arbitrary: fc.record({ kind: fc.constant('action' as const) }) },
      { weight: 1, arbitrary: fc.record({ kind: fc.constant('alarm' as const), key: fc.nat(5) }) },
    ),
    { maxLength: 12 },
  ),
  /** How many hours before the arrival everything is sealed, afterwards. */
  sealHours: fc.option(fc.integer({ min: 0, max: 4 })),
});

test('sealing at any moment changes nothing that is asked or stored', { timeout: 120_000 }, async () => {
  let seals = 0;
  await fc.assert(
    fc.asyncProperty(fc.array(arrival, { minLength: 1, maxLength: 12 }), async (arrivals) => {
      const site = `site-${++lastRun}`;
      let nowMs = START_MS;
      for (const { afterMinutes, entries, sealHours } of arrivals) {
        nowMs += afterMinutes * 60_000;
        const times = { arrivedMs: nowMs };
        const group: NewEntry[] = entries.map((one) => {
          if (one.kind === 'action') return action({ ...times, atMs: nowMs });
          if (one.kind === 'alarm') return alarmEvent({ ...times, atMs: nowMs, key: `k${one.key}` });
          const { channel, seq, stamped } = one;
          const atMs = stamped ? nowMs : nowMs - one.minutesOld * 60_000;
          const value = one.value === 0 ? 0 : one.value;
          const source = one.typed ? 'typed' : 'device';
          return reading({ ...times, atMs, channel, seq: stamped ? null : seq, value, stamped, source });
        });
        const unit = { site, entries: group, judged: { position: 1, atMs: nowMs } };
        expect(await sealed.write([unit])).toEqual(await plain.write([unit]));
        if (sealHours === null) continue;
        while (await sealed.seal(site, nowMs - sealHours * HOUR_MS)) seals++;
      }
      expect(await everyEntryOf(sealed, site, 7)).toEqual(await everyEntryOf(plain, site, 7));
      expect(await sealed.channels(site)).toEqual(await plain.channels(site));
      for (const channel of CHANNELS) {
        const query = { ...place, site, channel };
        expect(await sealed.rawReadings(query)).toEqual(await plain.rawReadings(query));
        expect(await csvOf(sealed, query)).toBe(await csvOf(plain, query));
        for (const points of [1, 2, 7, 100, 2000]) {
          for (const range of [
            { fromMs: START_MS - 5 * HOUR_MS, toMs: nowMs },
            { fromMs: START_MS - 37 * 60_000, toMs: nowMs - 11 * 60_000 },
          ]) {
            if (range.fromMs > range.toMs) continue;
            const [a, b] = await Promise.all(
              [sealed, plain].map((store) => store.buckets({ ...query, ...range, points })),
            );
            expect(a).toEqual({ ...b!, mean: b!.mean.map((mean) => expect.closeTo(mean, 9)) });
          }
        }
      }
    }),
    { numRuns: RUNS },
  );
  expect(seals).toBeGreaterThan(RUNS / 2);
  const reader = openReadable(sealedDir);
  onTestFinished(() => void reader.close());
  expect(verifyDatabase(reader)).toMatchObject({ sites: expect.anything() });
  expect(isDifference(verifyDatabase(reader))).toBe(false);
});

describe('sealing', () => {
  const filled = async () => {
    const dir = join(temporaryDir(), 'data');
    const store = await openStore(dir);
    onTestFinished(() => store.close());
    for (let i = 0; i < 4; i++) {
      const atMs = START_MS + i * HOUR_MS;
      await store.write([
        {
          site: 'barn',
          entries: [reading({ atMs, arrivedMs: atMs, value: i }), action({ arrivedMs: atMs })],
        },
      ]);
    }
    return { dir, store };
  };

  test('takes whole commits that arrived before, and says whether there was any', async () => {
    const { store } = await filled();
    expect(await store.seal('barn', START_MS)).toBe(false);
    expect(await store.seal('barn', START_MS + HOUR_MS + 1)).toBe(true);
    expect(await store.seal('barn', START_MS + HOUR_MS + 1)).toBe(false);
    expect(await store.seal('nowhere', START_MS + HOUR_MS)).toBe(false);
  });

  test('does not leave more unsealed than memory is for, though it is new', { timeout: 60_000 }, async () => {
    const { store } = await filled();
    for (let group = 0; group < 20; group++) {
      const atMs = START_MS + 10_000 * group;
      const entries = Array.from({ length: 10_000 }, (_, i) => reading({ atMs: atMs + i, arrivedMs: atMs }));
      await store.write([{ site: 'mill', entries }]);
    }
    let sealed = 0;
    while (await store.seal('mill', 0))
      sealed = (await store.heads()).find(({ site }) => site === 'mill')!.sealed!.entries;
    expect(200_000 - sealed).toBeLessThanOrEqual(100_000);
    expect(sealed).toBeLessThan(160_000);
    expect(await store.seal('barn', 0)).toBe(false);
  });

  test('keeps values whose sum is beyond all numbers, and draws them', async () => {
    const { store } = await filled();
    const huge = [0, 1, 2].map((i) => reading({ atMs: START_MS + i, arrivedMs: START_MS, value: 1.5e308 }));
    await store.write([{ site: 'mill', entries: huge }]);
    const query = {
      site: 'mill',
      vessel: 'r1',
      channel: 'liquid-temperature',
      fromMs: START_MS,
      toMs: START_MS + HOUR_MS,
    };
    const asked = () => store.buckets({ ...query, points: 12 });
    const before = await asked();
    expect(before).toMatchObject({ min: [1.5e308], max: [1.5e308] });
    expect(before.mean[0]).toBeLessThan(Number.POSITIVE_INFINITY);
    expect(await store.seal('mill', START_MS + HOUR_MS)).toBe(true);
    expect(await asked()).toEqual(before);
    expect((await store.rawReadings(query)).value).toEqual([1.5e308, 1.5e308, 1.5e308]);
  });

  test('gives another head, that verify finds and the next commit goes on from', async () => {
    const { dir, store } = await filled();
    const [before] = await store.heads();
    await store.seal('barn', START_MS + 10 * HOUR_MS);
    const [after] = await store.heads();
    expect(after).toMatchObject({ entries: 8 });
    expect(after!.head).not.toBe(before!.head);
    const reader = openReadable(dir);
    onTestFinished(() => void reader.close());
    expect(verifyDatabase(reader)).toMatchObject({ sites: [after] });
    await store.write([{ site: 'barn', entries: [reading({ atMs: 5, value: 5 })] }]);
    expect(verifyDatabase(reader)).toMatchObject({ sites: await store.heads() });
  });

  test('goes on after the store is opened again', async () => {
    const { dir, store } = await filled();
    await store.seal('barn', START_MS + 2 * HOUR_MS);
    await store.close();
    const again = await openStore(dir);
    onTestFinished(() => again.close());
    const same = reading({ atMs: START_MS, arrivedMs: START_MS + 9 * HOUR_MS, value: 0 });
    const [written] = await again.write([{ site: 'barn', entries: [same, { ...same, value: 9 }] }]);
    expect(written!.entries).toEqual([{ result: 'duplicate' }, { result: 'conflict', storedValue: 0 }]);
    expect(await again.seal('barn', START_MS + 10 * HOUR_MS)).toBe(true);
    const reader = openReadable(dir);
    onTestFinished(() => void reader.close());
    expect(isDifference(verifyDatabase(reader))).toBe(false);
  });
});
