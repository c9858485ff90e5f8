import { join } from 'node:path';
import fc from 'fast-check';
import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { openStore } from '../../../daemon/store/open.ts';
import { AlarmProjection } from '../../../daemon/store/sqlite/alarm-projection.ts';
import { openWritable } from '../../../daemon/store/sqlite/database.ts';
import type { Store } from '../../../daemon/store/store.ts';
import { share } from '../../support/thorough.ts';
import { action, alarmEvent, reading } from './entries.ts';
import { everyReadingOf, temporaryDir, temporaryStore } from './fixture.ts';

let store: Store;
let lastRun = 0;

beforeAll(async () => {
  store = await openStore(temporaryDir(afterAll));
  return () => store.close();
});

const newSite = (): string => `site-${++lastRun}`;

describe('raw readings', () => {
  test('come back as the same doubles, ascending by time and then by arrival', async () => {
    const someReadings = fc.array(
      fc.record({
        atMs: fc.oneof(fc.nat(20), fc.integer({ min: -8.64e15, max: 8.64e15 })),
        value: fc.double({ noNaN: true, noDefaultInfinity: true }),
      }),
      { maxLength: 60 },
    );
    await fc.assert(
      fc.asyncProperty(someReadings, async (readings) => {
        const site = newSite();
        // Numbers run against arrival, so that an order by them would not pass for it.
        await store.write([{ site, entries: readings.map((r, n) => reading({ ...r, seq: 1000 - n })) }]);
        const { t, value, seq } = await store.rawReadings({ ...everyReadingOf(site), fromMs: -8.64e15 });
        const expected = readings.map((r, n) => ({ ...r, n })).sort((a, b) => a.atMs - b.atMs || a.n - b.n);
        expect(t).toEqual(expected.map((r) => r.atMs));
        expect(seq).toEqual(expected.map((r) => 1000 - r.n));
        // Zero has one sign in the store.
        expect(value).toEqual(expected.map((r) => (r.value === 0 ? 0 : r.value)));
      }),
      { numRuns: share(60) },
    );
  });

  test('include those at both ends of the range and no others', async () => {
    const site = newSite();
    await store.write([{ site, entries: [1, 2, 3, 4, 5].map((atMs) => reading({ atMs, value: atMs })) }]);
    expect((await store.rawReadings({ ...everyReadingOf(site), fromMs: 2, toMs: 4 })).t).toEqual([2, 3, 4]);
    expect((await store.rawReadings({ ...everyReadingOf(site), fromMs: 4, toMs: 2 })).t).toEqual([]);
    expect(await store.rawReadings(everyReadingOf(site, 'r2'))).toEqual({ t: [], value: [], seq: [] });
    expect(await store.rawReadings(everyReadingOf('nowhere'))).toEqual({ t: [], value: [], seq: [] });
  });
});

describe('buckets', () => {
  const SECOND = 1000;
  const DAY = 86_400 * SECOND;
  const LADDER = [
    100,
    200,
    500,
    1e3,
    2e3,
    5e3,
    10e3,
    15e3,
    20e3,
    30e3,
    60e3,
    120e3,
    300e3,
    600e3,
    900e3,
    1800e3,
    3600e3,
    7200e3,
    10800e3,
    21600e3,
    43200e3,
    DAY,
    2 * DAY,
    7 * DAY,
    14 * DAY,
    30 * DAY,
    60 * DAY,
    120 * DAY,
    240 * DAY,
    480 * DAY,
    960 * DAY,
    1920 * DAY,
  ];

  test('say of every bucket what going through its readings one by one says', async () => {
    const someQuery = fc.record({
      fromMs: fc.oneof(
        fc.integer({ min: 1.6e12, max: 1.8e12 }),
        fc.integer({ min: 0, max: 5000 }),
        fc.integer({ min: -1e10, max: 1e10 }),
      ),
      lengthMs: fc.oneof(
        fc.integer({ min: 0, max: 5 * SECOND }),
        fc.integer({ min: 0, max: DAY }),
        fc.integer({ min: 0, max: 5 * 365 * DAY }),
      ),
      points: fc.oneof(fc.integer({ min: 1, max: 5 }), fc.integer({ min: 1, max: 600 })),
      // Sixteenths, whose sums and so whose means are exact in any order.
      readings: fc.array(
        fc.record({
          share: fc.double({ min: -0.1, max: 1.1, noNaN: true }),
          sixteenths: fc.integer({ min: -2000, max: 3200 }),
        }),
        { maxLength: 120 },
      ),
      isSealed: fc.boolean(),
    });
    await fc.assert(
      fc.asyncProperty(someQuery, async ({ fromMs, lengthMs, points, readings, isSealed }) => {
        const toMs = fromMs + lengthMs;
        const at = [fromMs, toMs, ...readings.map(({ share }) => fromMs + Math.round(share * lengthMs))];
        const values = [1000, -1000, ...readings.map(({ sixteenths }) => sixteenths / 16)];
        const site = newSite();
        await store.write([
          { site, entries: at.map((atMs, seq) => reading({ atMs, value: values[seq]!, seq })) },
        ]);
        if (isSealed) while (await store.seal(site, Number.MAX_SAFE_INTEGER));
        const query = { ...everyReadingOf(site), fromMs, toMs, points };
        const { stepMs, ...columns } = await store.buckets(query);
        // What was kept from the first time gives the same.
        if (isSealed) expect(await store.buckets(query)).toEqual({ stepMs, ...columns });

        const covering = (step: number): number => Math.floor(toMs / step) - Math.floor(fromMs / step) + 1;
        if (points > 1) expect(stepMs).toBe(LADDER.find((step) => covering(step) <= points));
        const inBucket = new Map<number, number[]>();
        for (const [n, atMs] of at.entries()) {
          if (atMs < fromMs || atMs > toMs) continue;
          const start = points === 1 ? fromMs : Math.max(fromMs, Math.floor(atMs / stepMs) * stepMs);
          inBucket.set(start, [...(inBucket.get(start) ?? []), values[n]!]);
        }
        const starts = [...inBucket.keys()].sort((a, b) => a - b);
        expect(columns).toEqual({
          t: starts,
          min: starts.map((start) => Math.min(...inBucket.get(start)!)),
          mean: starts.map((start) => {
            const inside = inBucket.get(start)!;
            return inside.reduce((sum, value) => sum + value, 0) / inside.length;
          }),
          max: starts.map((start) => Math.max(...inBucket.get(start)!)),
        });
        expect(columns.t.length).toBeLessThanOrEqual(points);
        // The readings at `from` and at `to` are the most and the least of all.
        expect(Math.max(...columns.max)).toBe(1000);
        expect(Math.min(...columns.min)).toBe(-1000);
      }),
      { numRuns: share(200) },
    );
  });

  test('are as fine as the number of points lets them be', async () => {
    const step = async (lengthMs: number, points: number): Promise<number> =>
      (await store.buckets({ ...everyReadingOf('nowhere'), fromMs: 1.7e12, toMs: 1.7e12 + lengthMs, points }))
        .stepMs;
    expect(await step(5 * SECOND, 500)).toBe(100);
    expect(await step(3600 * SECOND, 500)).toBe(10 * SECOND);
    expect(await step(DAY, 500)).toBe(300 * SECOND);
    expect(await step(365 * DAY, 500)).toBe(DAY);
    expect(await step(50 * 365 * DAY, 100)).toBe(240 * DAY);
  });

  test('are empty where there is nothing', async () => {
    const query = { ...everyReadingOf('nowhere'), fromMs: 0, toMs: 1000, points: 10 };
    expect(await store.buckets(query)).toEqual({ t: [], min: [], mean: [], max: [], stepMs: 200 });
  });
});

describe('lists', () => {
  test('of actions: those of one site in the order of their positions, bodies as given', async () => {
    const [site, other] = [newSite(), newSite()];
    const first = action({ atMs: 5000, body: { stage: 'react', plan: [1, null, { deep: 'ü' }] } });
    const second = action({ atMs: 1000, action: 'stage', by: 'p2', body: null });
    await store.write([
      { site, entries: [reading(), first, alarmEvent(), second] },
      { site: other, entries: [action()] },
    ]);
    expect(await store.actions(site)).toEqual([
      { position: 2, ...first },
      { position: 4, ...second },
    ]);
    expect(await store.actions('nowhere')).toEqual([]);
  });

  test('of channels: each once', async () => {
    const site = newSite();
    await store.write([
      {
        site,
        entries: [
          reading({ vessel: 'r2', channel: 'pump' }),
          reading(),
          reading({ atMs: 2000 }),
          reading({ channel: 'heater' }),
        ],
      },
    ]);
    expect(await store.channels(site)).toEqual([
      { vessel: 'r1', channel: 'heater' },
      { vessel: 'r1', channel: 'liquid-temperature' },
      { vessel: 'r2', channel: 'pump' },
    ]);
    expect(await store.channels('nowhere')).toEqual([]);
  });
});

describe('alarms', () => {
  const raised = alarmEvent({ atMs: 1000 });
  const graver = alarmEvent({
    key: 'k2',
    priority: 'critical',
    atMs: 2000,
    body: { late: false, value: 64, limit: 64.1, because: 'b2', todo: 't2', facts: { headroomC: 0.4 } },
  });
  const acknowledged = alarmEvent({
    key: 'k3',
    event: 'acknowledged',
    atMs: 3000,
    body: { by: 'p1', reason: 'lid opened' },
  });
  const onShelf = { by: 'p2', reason: 'the probe comes tomorrow', untilMs: 9000 };
  const shelved = alarmEvent({ key: 'k5', event: 'shelved', atMs: 3000, body: { shelved: onShelf } });
  const unshelved = alarmEvent({ key: 'k6', event: 'unshelved', atMs: 9000, body: { shelved: null } });
  const explained = alarmEvent({ body: { ...(raised.body as object), explainedBy: 'device-gone' } });
  const unexplained = alarmEvent({ key: 'k7', event: 'unexplained', atMs: 3000, body: {} });
  const cleared = alarmEvent({ key: 'k4', event: 'cleared', atMs: 4000, body: { because: 'cooler' } });

  const state = {
    id: 'a1',
    vessel: 'r1',
    alarm: 'boiling-near',
    event: 'raised',
    priority: 'high',
    late: false,
    value: 62.1,
    limit: 61.6,
    because: 'b',
    todo: 't',
    facts: { headroomC: 2.5 },
    standing: true,
    atMs: 1000,
    clearedAtMs: null,
    acknowledged: null,
    explainedBy: null,
    shelved: null,
  };
  const graverState = {
    ...state,
    priority: 'critical',
    value: 64,
    limit: 64.1,
    because: 'b2',
    todo: 't2',
    facts: { headroomC: 0.4 },
  };
  const answer = { by: 'p1', reason: 'lid opened', atMs: 3000 };
  const ended = { event: 'cleared', standing: false, clearedAtMs: 4000 };

  test.each([
    { events: [raised], is: state },
    { events: [raised, graver], is: graverState },
    { events: [raised, acknowledged], is: { ...state, acknowledged: answer } },
    { events: [raised, acknowledged, graver], is: graverState },
    { events: [raised, cleared], is: { ...state, ...ended } },
    { events: [raised, cleared, acknowledged], is: { ...state, ...ended, acknowledged: answer } },
    { events: [raised, acknowledged, cleared], is: { ...state, ...ended, acknowledged: answer } },
    {
      events: [raised, cleared, acknowledged, graver],
      is: { ...graverState, atMs: 2000 },
    },
    { events: [raised, shelved], is: { ...state, shelved: onShelf } },
    { events: [raised, acknowledged, shelved, unshelved], is: state },
    { events: [raised, shelved, graver], is: graverState },
    { events: [raised, shelved, cleared], is: { ...state, ...ended } },
    { events: [explained], is: { ...state, explainedBy: 'device-gone' } },
    { events: [explained, unexplained], is: state },
    { events: [explained, cleared], is: { ...state, ...ended, explainedBy: 'device-gone' } },
  ])('after $events.length events ($is.event, acknowledged $is.acknowledged.by)', async ({ events, is }) => {
    const site = newSite();
    await store.write([{ site, entries: events }]);
    expect(await store.alarms({ site, limit: 10 })).toEqual([{ site, ...is }]);
  });

  test('that were never raised are none', async () => {
    const site = newSite();
    await store.write([{ site, entries: [cleared, acknowledged] }]);
    expect(await store.alarms({ site, limit: 10 })).toEqual([]);
  });

  test('come newest first, by site, by vessel, open ones, at most so many', async () => {
    const { write, alarms } = await temporaryStore();
    const of = (id: string, some: object) =>
      alarmEvent({ id, key: `${id}-${JSON.stringify(some)}`, ...some });
    await write([
      { site: 'barn', entries: [of('a', { atMs: 100 }), of('b', { atMs: 300, vessel: 'r2' })] },
      { site: 'shed', entries: [of('a', { atMs: 200 }), of('c', { atMs: 200 })] },
      {
        site: 'barn',
        entries: [
          of('d', { atMs: 400 }),
          of('d', { event: 'cleared', atMs: 500 }),
          of('e', { atMs: 50 }),
          of('e', { event: 'cleared', atMs: 600 }),
          of('e', { event: 'acknowledged', atMs: 700, body: { by: 'p1', reason: null } }),
        ],
      },
    ]);
    const list = async (query: object): Promise<string[]> =>
      (await alarms({ limit: 100, ...query })).map((alarm) => `${alarm.site} ${alarm.id}`);
    expect(await list({})).toEqual(['barn d', 'barn b', 'shed c', 'shed a', 'barn a', 'barn e']);
    expect(await list({ limit: 2 })).toEqual(['barn d', 'barn b']);
    expect(await list({ site: 'barn' })).toEqual(['barn d', 'barn b', 'barn a', 'barn e']);
    expect(await list({ vessel: 'r2' })).toEqual(['barn b']);
    expect(await list({ open: true, site: 'barn' })).toEqual(['barn d', 'barn b', 'barn a']);
    expect(await list({ site: 'nowhere' })).toEqual([]);
  });

  test('give a history of what came, told people and went, by arrival', async () => {
    const { write, alarmHistory } = await temporaryStore();
    const of = (arrivedMs: number, some: object) =>
      alarmEvent({ key: `k${arrivedMs}`, arrivedMs, atMs: arrivedMs - 5, ...some });
    await write([
      {
        site: 'barn',
        entries: [
          reading({ arrivedMs: 1000 }),
          of(1100, { id: 'a', body: raised.body }),
          of(1200, { id: 'a', event: 'acknowledged', body: { by: 'p1', reason: null } }),
          of(1300, { id: 'b', body: { ...(raised.body as object), late: true, explainedBy: 'device-gone' } }),
          of(1400, { id: 'b', event: 'unexplained', body: raised.body }),
          of(1500, { id: 'a', event: 'shelved', body: { ...(raised.body as object), shelved: onShelf } }),
          of(1600, { id: 'a', event: 'unshelved', body: raised.body }),
          of(1700, { id: 'b', event: 'cleared', body: raised.body }),
          of(1800, { id: 'c', body: { ...(raised.body as object), explainedBy: 'device-gone' } }),
        ],
      },
    ]);
    const all = await alarmHistory({ fromMs: 0, toMs: 2000 });
    // Nothing is recorded before the first reading.
    expect(all).toMatchObject({ fromMs: 1000, toMs: 2000, complete: true, moreSpans: false });
    expect(
      all.moments.map(({ arrivedMs, id, event, late, told }) => [arrivedMs, id, event, late, told]),
    ).toEqual([
      [1100, 'a', 'raised', false, true],
      [1300, 'b', 'raised', true, false],
      [1400, 'b', 'unexplained', false, true],
      [1600, 'a', 'unshelved', false, true],
      [1700, 'b', 'cleared', false, true],
      [1800, 'c', 'raised', false, false],
    ]);
    // What is explained is in none of these.
    const which = { site: 'barn', vessel: 'r1', alarm: 'boiling-near' };
    expect(all.spans).toEqual([
      { ...which, id: 'a', atMs: 1095, clearedAtMs: null },
      { ...which, id: 'b', atMs: 1295, clearedAtMs: 1695 },
    ]);
    const some = await alarmHistory({ fromMs: 1700, toMs: 1750 });
    expect(some.moments.map(({ id }) => id)).toEqual(['b']);
    expect(some.spans.map(({ id }) => id)).toEqual(['a']);
    expect(await alarmHistory({ fromMs: 0, toMs: 900 })).toMatchObject({
      fromMs: 900,
      moments: [],
      spans: [],
    });
  });

  test('of which there are too many give the newest of their history, and say so', async () => {
    const { write, alarmHistory } = await temporaryStore();
    const many = Array.from({ length: 40_002 }, (_, i) =>
      alarmEvent({ key: `k${i}`, id: `a${i}`, atMs: 1000 + i, arrivedMs: 1000 + i }),
    );
    await write([{ site: 'barn', entries: [reading({ arrivedMs: 1000 }), ...many] }]);
    const history = await alarmHistory({ fromMs: 0, toMs: 100_000 });
    expect(history).toMatchObject({ fromMs: 1002, complete: false, moreSpans: true });
    expect(history.moments).toHaveLength(40_000);
    expect(history.spans).toHaveLength(1000);
    expect(history.spans[0]).toMatchObject({ id: 'a0' });
  });

  // Hundreds of commits, each synced: on a busy disk that takes long.
  test('are what making them again from all events gives', { timeout: 120_000 }, async () => {
    const someEvents = fc.array(
      fc.record({
        site: fc.constantFrom('barn', 'shed'),
        id: fc.constantFrom('a1', 'a2', 'a3'),
        event: fc.constantFrom(
          ...(['raised', 'cleared', 'acknowledged', 'shelved', 'unshelved', 'unexplained'] as const),
        ),
        priority: fc.constantFrom('medium' as const, 'critical' as const),
        atMs: fc.nat(9),
      }),
      { minLength: 20, maxLength: 60 },
    );
    await fc.assert(
      fc.asyncProperty(someEvents, async (events) => {
        const dir = join(temporaryDir(), 'data');
        const opened = await openStore(dir);
        for (const [n, { site, ...event }] of events.entries()) {
          const body = {
            ...(raised.body as object),
            ...(event.event === 'acknowledged' && { by: `p${n}`, reason: null }),
            ...(event.event === 'shelved' && { shelved: { ...onShelf, untilMs: n } }),
          };
          await opened.write([{ site, entries: [alarmEvent({ ...event, key: `k${n}`, body })] }]);
        }
        await opened.close();

        const { database, close } = openWritable(dir);
        const table = () => database.prepare('SELECT * FROM alarm ORDER BY site_id, id').all();
        const kept = table();
        database.exec('UPDATE alarm SET open = 1 - open'); // so that doing nothing does not pass
        database.transaction(() => new AlarmProjection(database).remake())();
        expect(table()).toEqual(kept);
        expect(kept.length).toBeGreaterThan(0);
        close();
      }),
      { numRuns: 5 },
    );
  });
});
