import { join } from 'node:path';
import Database from 'better-sqlite3';
import fc from 'fast-check';
import { expect, onTestFinished, test } from 'vitest';
import { openStore } from '../../../daemon/store/open.ts';
import { photographHash } from '../../../daemon/store/photograph-hash.ts';
import { databasePath, openReadable } from '../../../daemon/store/sqlite/database.ts';
import { isDifference, verifyDatabase } from '../../../daemon/store/sqlite/verify.ts';
import type { NewAction, NewEntry, Store, TakenSeal } from '../../../daemon/store/store.ts';
import { share } from '../../support/thorough.ts';
import { action, alarmEvent, reading } from './entries.ts';
import { everyEntryOf, everyReadingOf, temporaryDir } from './fixture.ts';

const START_MS = Date.UTC(2026, 2, 2, 10);
const HOUR_MS = 3_600_000;
const FAR_MS = 8e15;

async function storeWithFolder(): Promise<{ store: Store; data: string }> {
  const data = join(temporaryDir(), 'data');
  const store = await openStore(data);
  onTestFinished(() => store.close());
  return { store, data };
}

const times = (ms: number) => ({ atMs: ms, arrivedMs: ms });

/** What one hour of a site is: readings of two channels, a deed, and an alarm that comes and goes. */
function hour(site: string, n: number): NewEntry[] {
  const startMs = START_MS + n * HOUR_MS;
  const id = `${site}.r1.${n + 1}`;
  return [
    ...Array.from({ length: 40 }, (_, i) =>
      reading({
        ...times(startMs + 60_000 * i),
        channel: i % 2 === 0 ? 'liquid-temperature' : 'stirrer-speed',
        value: 50 + Math.sin(i) * 3,
      }),
    ),
    action({ action: 'site-stated', body: { site: { altitudeM: 300 + n } }, ...times(startMs + 1000) }),
    alarmEvent({ key: `${id} raised`, id, ...times(startMs + 2000) }),
    alarmEvent({ key: `${id} cleared`, id, event: 'cleared', body: {}, ...times(startMs + 3000) }),
  ];
}

async function fill(store: Store, site: string, hours: number): Promise<void> {
  for (let n = 0; n < hours; n++) {
    await store.write([{ site, entries: hour(site, n) }]);
    while (await store.seal(site, FAR_MS));
  }
}

async function forwardAll(from: Store, to: Store, site: string): Promise<TakenSeal[]> {
  const taken: TakenSeal[] = [];
  for (let position = 0; ; ) {
    const copy = await from.sealAfter(site, position);
    if (copy === null) return taken;
    taken.push(await to.takeSeal(site, copy.bytes));
    position = copy.to;
  }
}

function verified(data: string) {
  const database = openReadable(data);
  try {
    return verifyDatabase(database);
  } finally {
    database.close();
  }
}

const alarmsOf = (store: Store, site: string) => store.alarms({ site, limit: 100 });

test('what was taken in seal by seal is the same history with the same head, and whole', async () => {
  const [site, centre] = [await storeWithFolder(), await storeWithFolder()];
  await fill(site.store, 'barn', 5);
  // The centre has a site of its own, with the same names of channels.
  await centre.store.write([{ site: 'attic', entries: hour('attic', 0) }]);
  expect((await forwardAll(site.store, centre.store, 'barn')).every(({ taken }) => taken)).toBe(true);

  const headOf = async (store: Store) => (await store.heads()).find((head) => head.site === 'barn')!.sealed;
  expect(await headOf(centre.store)).toEqual(await headOf(site.store));
  expect(await everyEntryOf(centre.store, 'barn')).toEqual(await everyEntryOf(site.store, 'barn'));
  expect(await alarmsOf(centre.store, 'barn')).toEqual(await alarmsOf(site.store, 'barn'));
  const query = { ...everyReadingOf('barn'), points: 50 };
  expect(await centre.store.buckets(query)).toEqual(await site.store.buckets(query));
  expect((await centre.store.sites()).map(({ site, isForwarded }) => ({ site, isForwarded }))).toEqual([
    { site: 'attic', isForwarded: false },
    { site: 'barn', isForwarded: true },
  ]);
  await centre.store.write([{ site: 'attic', entries: hour('attic', 1) }]);
  expect(verified(centre.data)).toMatchObject({ sites: [{ site: 'attic' }, { site: 'barn', dropped: 0 }] });
});

test('only the next of a site is taken in, and none of one that is watched here', async () => {
  const [site, centre] = [await storeWithFolder(), await storeWithFolder()];
  await fill(site.store, 'barn', 2);
  const first = (await site.store.sealAfter('barn', 0))!;
  const second = (await site.store.sealAfter('barn', first.to))!;
  expect(await centre.store.takeSeal('barn', second.bytes)).toMatchObject({ taken: false, code: 'not-next' });
  expect(await centre.store.takeSeal('barn', first.bytes)).toMatchObject({ taken: true, to: first.to });
  expect(await centre.store.takeSeal('barn', first.bytes)).toMatchObject({ taken: false, code: 'not-next' });
  expect(await centre.store.takeSeal('shed', first.bytes)).toMatchObject({ taken: false, code: 'not-whole' });
  await expect(centre.store.write([{ site: 'barn', entries: hour('barn', 9) }])).rejects.toMatchObject({
    code: 'store-write-failed',
  });
  expect(await centre.store.drop('barn', { beforeMs: FAR_MS, kept: [] }, START_MS)).toBe(false);

  await centre.store.write([{ site: 'loft', entries: hour('loft', 0) }]);
  await fill(site.store, 'loft', 1);
  const loft = (await site.store.sealAfter('loft', 0))!;
  expect(await centre.store.takeSeal('loft', loft.bytes)).toMatchObject({ taken: false });
  expect(isDifference(verified(centre.data))).toBe(false);
});

test('a seal of which any byte was changed, added or cut off is refused, and nothing of it is kept', async () => {
  const [site, centre] = [await storeWithFolder(), await storeWithFolder()];
  await fill(site.store, 'barn', 2);
  const [first] = [(await site.store.sealAfter('barn', 0))!];
  await centre.store.takeSeal('barn', first.bytes);
  const { bytes } = (await site.store.sealAfter('barn', first.to))!;
  const refused = async (changed: Uint8Array) =>
    expect(await centre.store.takeSeal('barn', changed)).toMatchObject({ taken: false });
  await fc.assert(
    fc.asyncProperty(fc.nat(bytes.length - 1), fc.integer({ min: 1, max: 255 }), async (at, by) => {
      const changed = Uint8Array.from(bytes);
      changed[at] = changed[at]! ^ by;
      await refused(changed);
    }),
    { numRuns: share(600) },
  );
  for (const length of [0, 1, bytes.length >> 1, bytes.length - 1]) await refused(bytes.slice(0, length));
  await refused(Buffer.concat([bytes, Buffer.of(0)]));
  expect(await centre.store.takeSeal('barn', bytes)).toMatchObject({ taken: true });
  expect(isDifference(verified(centre.data))).toBe(false);
});

/** Whoever has a site whole can make a chain of what they like; it must still be of the form that is gone by. */
const HOSTILE: [string, Partial<NewAction>][] = [
  ['an action that is none', { action: 'lights-off', body: {} }],
  [
    'a stage of no batch that is no stage',
    { action: 'stage', body: { batch: 'b', vessel: 'r1', stage: 'x' } },
  ],
  ['a batch without a vessel', { action: 'batch-opened', body: { id: 'b', name: 'B' } }],
  [
    'a batch without a recipe',
    { action: 'batch-opened', body: { id: 'b', name: 'B', vessel: 'r1', site: null } },
  ],
  ['an entry of nothing', { action: 'entry', body: null }],
  ['a drop of no form', { action: 'readings-dropped', body: { fromMs: 'yesterday' } }],
  ['a time in no year', { action: 'signed-out', body: {}, atMs: 8e15 }],
  [
    'a photograph that never came',
    {
      action: 'entry',
      body: {
        batch: 'b',
        id: 'e',
        vessel: 'r1',
        stage: 'warm',
        result: null,
        corrects: null,
        what: { kind: 'photograph', sha256: 'a'.repeat(64), type: 'image/png' },
      },
    },
  ],
];
for (const [what, hostile] of HOSTILE)
  test(`a seal with ${what} is refused, though its link is right`, async () => {
    const [site, centre] = [await storeWithFolder(), await storeWithFolder()];
    await site.store.write([
      { site: 'barn', entries: [...hour('barn', 0), action({ ...times(START_MS), ...hostile })] },
    ]);
    while (await site.store.seal('barn', FAR_MS));
    const { bytes } = (await site.store.sealAfter('barn', 0))!;
    expect(await centre.store.takeSeal('barn', bytes)).toMatchObject({ taken: false, code: 'not-whole' });
    expect(await centre.store.sites()).toEqual([]);
  });

for (const [what, hostile] of [
  ['of another site', { id: 'shed.r1.1' }],
  ['with no sentence', { body: { late: false } }],
  ['with a number for a reason', { event: 'acknowledged' as const, body: { by: 'p1', reason: 7 } }],
] as const)
  test(`an alarm ${what} is refused, though its link is right`, async () => {
    const [site, centre] = [await storeWithFolder(), await storeWithFolder()];
    const odd = alarmEvent({ id: 'barn.r1.7', key: 'odd', ...times(START_MS), ...hostile });
    await site.store.write([{ site: 'barn', entries: [...hour('barn', 0), odd] }]);
    while (await site.store.seal('barn', FAR_MS));
    const { bytes } = (await site.store.sealAfter('barn', 0))!;
    expect(await centre.store.takeSeal('barn', bytes)).toMatchObject({ taken: false, code: 'not-whole' });
  });

test('pages whose readings were dropped go without them, also before their drop has come', async () => {
  const [site, centre] = [await storeWithFolder(), await storeWithFolder()];
  await fill(site.store, 'barn', 4);
  while (
    await site.store.drop('barn', { beforeMs: START_MS + 2 * HOUR_MS, kept: [] }, START_MS + 4 * HOUR_MS)
  );
  const first = (await site.store.sealAfter('barn', 0))!;
  expect(await centre.store.takeSeal('barn', first.bytes)).toMatchObject({ taken: true });
  expect(verified(centre.data)).toMatchObject({ sites: [{ dropped: 40 }] });
  while (await site.store.seal('barn', FAR_MS));
  for (let position = first.to; ; ) {
    const copy = await site.store.sealAfter('barn', position);
    if (copy === null) break;
    expect(await centre.store.takeSeal('barn', copy.bytes)).toMatchObject({ taken: true });
    position = copy.to;
  }
  expect(verified(centre.data)).toMatchObject({ sites: [{ dropped: 80 }] });
  const query = { ...everyReadingOf('barn'), points: 50 };
  expect(await centre.store.buckets(query)).toEqual(await site.store.buckets(query));
  // What came is not taken out unseen.
  await centre.store.close();
  const database = new Database(databasePath(centre.data));
  const { sealedTo } = database
    .prepare<[], { sealedTo: number }>('SELECT max(sealed_to) AS sealedTo FROM page')
    .get()!;
  database.prepare('UPDATE page SET offset = 0, length = 0 WHERE sealed_to = ?').run(sealedTo);
  database.prepare("UPDATE seal SET content = x'' WHERE to_position = ?").run(sealedTo);
  database.close();
  expect(isDifference(verified(centre.data))).toBe(true);
});

test('a photograph goes ahead of the seal whose entry names it', async () => {
  const [site, centre] = [await storeWithFolder(), await storeWithFolder()];
  const content = Buffer.from('not looked at here');
  const photograph = { sha256: photographHash(content), type: 'image/png' as const, content };
  const what = { kind: 'photograph', sha256: photograph.sha256, type: photograph.type };
  const body = { batch: 'b', id: 'e', vessel: 'r1', stage: 'warm', what, result: null, corrects: null };
  await site.store.write([
    { site: 'barn', entries: [action({ action: 'entry', body, photograph, ...times(START_MS) })] },
  ]);
  while (await site.store.seal('barn', FAR_MS));
  const copy = (await site.store.sealAfter('barn', 0))!;
  expect(copy.photographs).toEqual([photograph.sha256]);
  expect(await centre.store.takeSeal('barn', copy.bytes)).toMatchObject({ taken: false, code: 'not-whole' });
  for (const _ of [1, 2]) expect(await centre.store.awaitPhotograph('barn', photograph)).toBe(true);
  expect(isDifference(verified(centre.data))).toBe(false);
  expect(await centre.store.takeSeal('barn', copy.bytes)).toMatchObject({ taken: true });
  expect(Buffer.from((await centre.store.photograph(photograph.sha256))!.content)).toEqual(content);
  expect(isDifference(verified(centre.data))).toBe(false);
});
