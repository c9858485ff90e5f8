import fc from 'fast-check';
import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { openStore } from '../../../daemon/store/open.ts';
import { photographHash } from '../../../daemon/store/photograph-hash.ts';
import type { EntryResult, NewEntry, NewReading, Store, StoredEntry } from '../../../daemon/store/store.ts';
import { share } from '../../support/thorough.ts';
import { action, alarmEvent, reading } from './entries.ts';
import { everyEntryOf, everyReadingOf, temporaryDir, temporaryStore } from './fixture.ts';

let store: Store;
let lastRun = 0;

beforeAll(async () => {
  store = await openStore(temporaryDir(afterAll));
  return () => store.close();
});

/** A site that no other test writes to. */
const newSite = (): string => `site-${++lastRun}`;

const write = async (site: string, ...entries: NewEntry[]): Promise<readonly EntryResult[]> => {
  const [result] = await store.write([{ site, entries }]);
  expect(result!.site).toBe(site);
  return result!.entries;
};

/** What a store must answer, in the plainest way: a list that is walked from its start each time. */
class ListStore {
  readonly entries: StoredEntry[] = [];

  write(entry: NewEntry): EntryResult {
    const position = this.entries.length + 1;
    if (entry.kind !== 'reading') {
      if (entry.kind === 'alarm' && this.entries.some((e) => e.kind === 'alarm' && e.key === entry.key)) {
        return { result: 'duplicate' };
      }
      this.entries.push({ position, ...entry });
      return { result: 'stored', position, atMs: entry.atMs };
    }
    const stored = { ...entry };
    const ofChannel = this.entries.filter(
      (e) => e.kind === 'reading' && e.vessel === entry.vessel && e.channel === entry.channel,
    );
    if (entry.stamped) {
      while (ofChannel.some((e) => e.atMs === stored.atMs)) stored.atMs++;
    } else {
      const same = ofChannel.find(
        (e) => e.kind === 'reading' && !e.stamped && e.atMs === entry.atMs && e.seq === entry.seq,
      ) as NewReading | undefined;
      if (same) {
        return same.value === entry.value
          ? { result: 'duplicate' }
          : { result: 'conflict', storedValue: same.value };
      }
    }
    this.entries.push({ position, ...stored });
    return { result: 'stored', position, atMs: stored.atMs };
  }
}

// What JSON can say: it writes -0 as 0, so a body never holds one.
const someJson = fc.jsonValue({ maxDepth: 2 }).map((value) => JSON.parse(JSON.stringify(value)) as unknown);

// Few times, numbers and values, so that the same comes often.
const someEntry: fc.Arbitrary<NewEntry> = fc.oneof(
  {
    weight: 8,
    arbitrary: fc
      .record({
        vessel: fc.constantFrom('r1', 'r2'),
        channel: fc.constantFrom('liquid-temperature', 'stirrer-speed'),
        atMs: fc.integer({ min: 1_750_000_000_000, max: 1_750_000_000_004 }),
        stamped: fc.boolean(),
        arrivedMs: fc.integer({ min: 1_750_000_000_000, max: 1_750_000_100_000 }),
        value: fc.constantFrom(0, 61.4, -127),
        seq: fc.constantFrom(null, 0, 1, 2 ** 40),
        source: fc.constantFrom('device' as const, 'typed' as const),
      })
      .map(reading),
  },
  { weight: 1, arbitrary: fc.record({ atMs: fc.nat(), body: someJson }).map(action) },
  {
    weight: 1,
    arbitrary: fc
      .record({ key: fc.constantFrom('k1', 'k2', 'k3'), id: fc.constantFrom('a1', 'a2') })
      .map(alarmEvent),
  },
);

describe('a write', () => {
  test('answers and keeps what a plain list would: each thing once, positions without gaps', async () => {
    const someWrites = fc.array(
      fc.array(fc.record({ site: fc.nat(1), entries: fc.array(someEntry, { maxLength: 12 }) }), {
        maxLength: 4,
      }),
      { maxLength: 6 },
    );
    await fc.assert(
      fc.asyncProperty(someWrites, fc.integer({ min: 1, max: 9 }), async (writes, page) => {
        const sites = [newSite(), newSite()];
        const lists = [new ListStore(), new ListStore()];
        for (const units of writes) {
          const results = await store.write(
            units.map(({ site, entries }) => ({ site: sites[site]!, entries })),
          );
          expect(results).toEqual(
            units.map(({ site, entries }) => ({
              site: sites[site]!,
              entries: entries.map((entry) => lists[site]!.write(entry)),
            })),
          );
        }
        for (const [index, site] of sites.entries()) {
          const entries = await everyEntryOf(store, site, page);
          expect(entries).toEqual(lists[index]!.entries);
          expect(entries.map((entry) => entry.position)).toEqual(entries.map((_, i) => i + 1));
        }
      }),
      { numRuns: share(150) },
    );
  });

  test('stores each reading once, however it is sent again', async () => {
    const readings = Array.from({ length: 40 }, (_, n) =>
      reading({ atMs: 1000 * (n >> 1), seq: n, value: n }),
    );
    await fc.assert(
      fc.asyncProperty(
        fc.array(fc.shuffledSubarray(readings, { minLength: 1 }), { minLength: 1, maxLength: 8 }),
        async (groups) => {
          const site = newSite();
          for (const group of [...groups, readings]) await write(site, ...group);
          const { seq, value } = await store.rawReadings(everyReadingOf(site));
          expect(seq.toSorted((a, b) => a! - b!)).toEqual(readings.map((r) => r.seq));
          expect(value).toEqual(seq);
        },
      ),
      { numRuns: share(40) },
    );
  });

  test('keeps the first value of a reading and names it', async () => {
    const site = newSite();
    await write(site, reading({ value: 61.4, seq: 7 }));
    expect(await write(site, reading({ value: 61.5, seq: 7 }))).toEqual([
      { result: 'conflict', storedValue: 61.4 },
    ]);
    expect((await store.rawReadings(everyReadingOf(site))).value).toEqual([61.4]);
  });

  test('tells no number, any number, and channels apart', async () => {
    const site = newSite();
    const results = await write(
      site,
      reading({ seq: null }),
      reading({ seq: 0 }),
      reading({ seq: 1 }),
      reading({ vessel: 'r2' }),
      reading({ channel: 'liquid-temperature-2' }),
      reading({ atMs: 1001 }),
    );
    expect(results.map((r) => r.result)).toEqual(Array(6).fill('stored'));
  });

  test('moves stamped readings on until they are distinct, and past those with a time of their own', async () => {
    const site = newSite();
    await write(site, reading({ atMs: 1002 }));
    const stamped = reading({ stamped: true, seq: 5 });
    const results = await write(site, stamped, stamped, stamped, reading({ atMs: 1000, value: 3 }));
    expect(results).toEqual([
      { result: 'stored', position: 2, atMs: 1000 },
      { result: 'stored', position: 3, atMs: 1001 },
      { result: 'stored', position: 4, atMs: 1003 },
      // A stamped reading has no identity that another could equal.
      { result: 'stored', position: 5, atMs: 1000 },
    ]);
    expect(await store.rawReadings(everyReadingOf(site))).toEqual({
      t: [1000, 1000, 1001, 1002, 1003],
      value: [20, 3, 20, 20, 20],
      seq: [5, null, 5, null, 5],
    });
  });

  test('takes a burst stamped with one millisecond in a time that grows with its length', async () => {
    const site = newSite();
    const burst = Array.from({ length: 20_000 }, () => reading({ stamped: true }));
    const results = await write(site, ...burst);
    // Looking from the first ms on for each would take 200 million look-ups, over the limit of the test.
    expect(results.at(-1)).toEqual({ result: 'stored', position: 20_000, atMs: 20_999 });
  }, 10_000);

  test('writes an alarm event once by its key, in each site', async () => {
    const [site, other] = [newSite(), newSite()];
    const results = await store.write([
      { site, entries: [alarmEvent(), alarmEvent({ atMs: 9 }), alarmEvent({ key: 'k2', event: 'cleared' })] },
      { site: other, entries: [alarmEvent()] },
      { site, entries: [alarmEvent()] },
    ]);
    expect(results.map((unit) => unit.entries.map((entry) => entry.result))).toEqual([
      ['stored', 'duplicate', 'stored'],
      ['stored'],
      ['duplicate'],
    ]);
  });

  test('keeps nothing of a write of which one part cannot be stored', async () => {
    const [site, other] = [newSite(), newSite()];
    await write(site, reading());
    await expect(
      store.write([
        { site: other, entries: [reading(), alarmEvent()] },
        { site, entries: [reading({ atMs: 2000 }), action(), reading({ atMs: 3000, value: Number.NaN })] },
      ]),
    ).rejects.toMatchObject({ name: 'StoreError', code: 'store-write-failed' });
    expect(await everyEntryOf(store, site)).toHaveLength(1);
    expect(await everyEntryOf(store, other)).toEqual([]);
    expect((await store.sites()).map((row) => row.site)).not.toContain(other);

    expect(await write(site, reading({ atMs: 2000 }))).toMatchObject([{ result: 'stored', position: 2 }]);
    expect(await write(other, alarmEvent())).toMatchObject([{ result: 'stored', position: 1 }]);
  });

  test('keeps how far a site is judged and where its rules go on from', async () => {
    const [site, other] = [newSite(), newSite()];
    await store.write([
      { site, entries: [reading(), action()], judged: { position: 1, atMs: 50 } },
      { site: other, entries: [reading()] },
    ]);
    await store.write([{ site, entries: [], snapshot: { position: 1, state: '{"n":1}' } }]);
    await store.write([
      { site, entries: [], judged: { position: 2, atMs: 60 }, snapshot: { position: 2, state: '{"n":2}' } },
    ]);
    const sites = (await store.sites()).filter((row) => [site, other].includes(row.site));
    expect(sites).toEqual([
      {
        site,
        lastPosition: 2,
        judged: { position: 2, atMs: 60 },
        snapshot: { position: 2, state: '{"n":2}' },
        isForwarded: false,
        isAsWritten: true,
      },
      { site: other, lastPosition: 1, judged: null, snapshot: null, isForwarded: false, isAsWritten: true },
    ]);
  });

  test('goes on while queries run, which see whole writes only', async () => {
    const { write, rawReadings } = await temporaryStore();
    const lengths: number[] = [];
    const groups = Array.from({ length: 60 }, (_, group) =>
      write([
        {
          site: 'busy',
          entries: Array.from({ length: 100 }, (_, n) => reading({ atMs: 1000 * (100 * group + n) })),
        },
      ]),
    );
    const allWritten = Promise.all(groups).then(() => 'written');
    while ((await Promise.race([allWritten, Promise.resolve()])) === undefined) {
      lengths.push((await rawReadings(everyReadingOf('busy'))).t.length);
    }
    lengths.push((await rawReadings(everyReadingOf('busy'))).t.length);
    expect(lengths.filter((length) => length % 100 !== 0)).toEqual([]);
    expect(lengths).toEqual(lengths.toSorted((a, b) => a - b));
    expect(lengths.at(-1)).toBe(6000);
    expect(new Set(lengths).size).toBeGreaterThan(2);
  });
});

test('a picture and the action that names it are stored together, or neither', async () => {
  const site = newSite();
  const of = (name: string, content: Uint8Array | null) => ({
    ...action({ action: 'entry', body: { name } }),
    photograph: { sha256: name, type: 'image/png' as const, content: content as Uint8Array },
  });
  await expect(
    store.write([{ site, entries: [of('one', Buffer.from('one')), of('two', null)] }]),
  ).rejects.toMatchObject({ code: 'store-write-failed' });
  expect(await everyEntryOf(store, site)).toEqual([]);
  expect(await store.photograph('one')).toBeNull();
  const content = Buffer.from('a picture');
  const sha256 = photographHash(content);
  await write(site, of(sha256, content));
  expect(await store.photograph(sha256)).toMatchObject({ sha256, type: 'image/png' });
  // What is read again has the hash only.
  expect(await everyEntryOf(store, site)).toEqual([
    { position: 1, ...action({ action: 'entry', body: { name: sha256 } }) },
  ]);
});
