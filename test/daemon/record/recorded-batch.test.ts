import { describe, expect, test } from 'vitest';
import { recordedBatch } from '../../../daemon/record/recorded-batch.ts';
import type { NewEntry, Store } from '../../../daemon/store/store.ts';
import { type ActionBodies, type ActionName, newAction } from '../../../daemon/watch/actions.ts';
import { alarmId } from '../../../shared/engine/view.ts';
import { resolveWatchPlan } from '../../../shared/plan/watch-plan.ts';
import type { AlarmName } from '../../../shared/rules/names.ts';
import type { Stage } from '../../../shared/wire/names.ts';
import { gather } from '../replay-sources/gather.ts';
import { reading } from '../store/entries.ts';
import { temporaryStore } from '../store/fixture.ts';

const START_MS = Date.parse('2026-03-02T10:00:00.000Z');
const SITE = 'barn';
const PLAN = resolveWatchPlan({ reactionTemperatureC: 52 });

const atMs = (minutes: number): number => START_MS + minutes * 60_000;

const act = <Name extends ActionName>(minutes: number, name: Name, body: ActionBodies[Name]): NewEntry =>
  newAction(name, body, { by: 'p1', atMs: atMs(minutes), arrivedMs: atMs(minutes) });

const opened = (minutes: number, id: string, vessel = 'r1', site: { pressureHPa: number } | null = null) =>
  act(minutes, 'batch-opened', {
    id,
    name: id,
    vessel,
    request: {},
    computed: { watch: PLAN },
    site,
  } as unknown as ActionBodies['batch-opened']);

const joined = (minutes: number, batch: string, vessel: string) =>
  act(minutes, 'vessel-joined', { batch, vessel, plan: PLAN, site: null });

const entered = (minutes: number, batch: string, stage: Stage, vessel = 'r1') =>
  act(minutes, 'stage', { batch, vessel, stage, deviation: null });

const read = (minutes: number, vessel = 'r1', channel = 'liquid-temperature', value = minutes) =>
  reading({ vessel, channel, value, atMs: atMs(minutes) - 1000, arrivedMs: atMs(minutes) });

async function stored(...entries: NewEntry[]): Promise<Store> {
  const store = await temporaryStore();
  const judged = { position: entries.length, atMs: atMs(1000) };
  await store.write([
    { site: 'attic', entries: [opened(0, 'elsewhere')] },
    { site: SITE, entries, judged },
  ]);
  return store;
}

type Line = Record<string, unknown>;

async function linesOf(store: Store, id: string): Promise<Line[]> {
  const run = await recordedBatch(store, id);
  return (await gather(run!)).map((line) => JSON.parse(line));
}

/** Readings as `VESSEL MINUTE`, vessel lines as `VESSEL known` or `VESSEL plan`, stages and the end. */
async function courseOf(store: Store, id: string): Promise<string[]> {
  return (await linesOf(store, id)).map(({ type, vessel, value, stage, plan }) => {
    if (type === 'reading') return `${vessel} ${value}`;
    if (type === 'vessel') return `${vessel} ${plan === undefined ? 'known' : 'plan'}`;
    return type === 'stage' ? `${vessel} ${stage}` : String(type);
  });
}

describe('a stored batch as a run', () => {
  test('has each thing with its own time and its arrival', async () => {
    const store = await stored(
      act(-100, 'site-stated', { site: { altitudeM: 340 } }),
      act(-90, 'vessel-added', { vessel: 'r1', role: 'settling' }),
      opened(0, 'b1'),
      read(1, 'r1', 'liquid-temperature', 50.0625),
      reading({ ...read(2), source: 'typed', channel: 'stirrer-speed', value: 200 } as never),
      entered(3, 'b1', 'warm'),
    );
    const minute = (n: number) => `2026-03-02T10:0${n}:00.000Z`;
    const second59 = (n: number) => `2026-03-02T10:0${n}:59.000Z`;
    expect(await linesOf(store, 'b1')).toEqual([
      {
        type: 'vessel',
        arrived: minute(0),
        vessel: 'r1',
        batch: null,
        role: 'settling',
        site: { altitudeM: 340 },
      },
      { type: 'vessel', arrived: minute(0), vessel: 'r1', batch: 'b1', plan: PLAN },
      {
        type: 'reading',
        at: second59(0),
        arrived: minute(1),
        vessel: 'r1',
        channel: 'liquid-temperature',
        value: 50.0625,
      },
      {
        type: 'reading',
        at: second59(1),
        arrived: minute(2),
        vessel: 'r1',
        channel: 'stirrer-speed',
        value: 200,
        typed: true,
      },
      { type: 'stage', at: minute(3), arrived: minute(3), vessel: 'r1', stage: 'warm' },
      { type: 'end', at: new Date(atMs(1000)).toISOString() },
    ]);
  });

  test('begins ten minutes before, with each vessel that came in later ten minutes before that', async () => {
    const store = await stored(
      read(-11),
      read(-9),
      read(-8, 'm1'),
      opened(0, 'b1'),
      read(1),
      read(2, 'm1'),
      read(3, 'other'),
      read(12, 'm1'),
      joined(20, 'b1', 'm1'),
      entered(20, 'b1', 'methoxide', 'm1'),
      read(21, 'm1'),
    );
    expect(await courseOf(store, 'b1')).toEqual([
      'r1 known',
      'r1 -9',
      'r1 plan',
      'r1 1',
      'm1 known',
      'm1 12',
      'm1 plan',
      'm1 methoxide',
      'm1 21',
      'end',
    ]);
  });

  test('counts these ten minutes by the clock as it was set meanwhile', async () => {
    const store = await stored(
      opened(0, 'b1'),
      read(2, 'm1'),
      read(5, 'm1'),
      act(14, 'clock-step', { stepMs: 8 * 60_000 }),
      // Twelve minutes after the last reading by what the clock said, four by what went by; seven after the first.
      joined(17, 'b1', 'm1'),
    );
    expect(await courseOf(store, 'b1')).toEqual([
      'r1 known',
      'r1 plan',
      'm1 known',
      'm1 2',
      'm1 5',
      'clock-step',
      'm1 plan',
      'end',
    ]);
  });

  test('ends with the stage that ended it', async () => {
    const store = await stored(opened(0, 'b1'), read(1), entered(2, 'b1', 'finished'), read(3));
    expect(await courseOf(store, 'b1')).toEqual(['r1 known', 'r1 plan', 'r1 1', 'r1 finished']);
  });

  test('has a vessel no longer once another batch took it, unless it comes back', async () => {
    const store = await stored(
      opened(0, 'b1'),
      joined(1, 'b1', 's1'),
      read(2),
      opened(30, 'b2'),
      read(31),
      entered(32, 'b2', 'warm'),
      read(33, 's1'),
      entered(34, 'b2', 'void'),
      read(35),
      read(60),
      joined(62, 'b1', 'r1'),
      read(63),
    );
    expect(await courseOf(store, 'b1')).toEqual([
      'r1 known',
      'r1 plan',
      's1 known',
      's1 plan',
      'r1 2',
      's1 33',
      'r1 60',
      'r1 plan',
      'r1 63',
      'end',
    ]);
    expect(await courseOf(store, 'b2')).toEqual(['r1 known', 'r1 plan', 'r1 31', 'r1 warm', 'r1 void']);
  });

  test('has its site’s barometer of the hour before, whichever vessel it stands at', async () => {
    const hPa = (minutes: number, vessel: string) => read(minutes, vessel, 'ambient-pressure');
    const store = await stored(
      hPa(-61, 'yard'),
      hPa(-59, 'yard'),
      read(-30),
      opened(0, 'b1'),
      hPa(5, 'yard'),
    );
    expect(await courseOf(store, 'b1')).toEqual(['r1 known', 'r1 -59', 'r1 plan', 'r1 5', 'end']);
  });

  test('goes by the place that its plan states, else by what the site states, from when it does', async () => {
    const store = await stored(
      opened(0, 'b1', 'r1', { pressureHPa: 900 }),
      joined(1, 'b1', 's1'),
      act(2, 'site-stated', { site: { pressureHPa: 950 } }),
    );
    const lines = await linesOf(store, 'b1');
    expect(lines.map(({ vessel, batch, site }) => ({ vessel, batch, site }))).toEqual([
      { vessel: 'r1', batch: null, site: undefined },
      { vessel: 'r1', batch: 'b1', site: { pressureHPa: 900 } },
      { vessel: 's1', batch: null, site: undefined },
      { vessel: 's1', batch: 'b1', site: undefined },
      { vessel: 'r1', batch: null, site: { pressureHPa: 950 } },
      { vessel: undefined, batch: undefined, site: undefined },
    ]);
  });

  test('has what the daemon went through, from its first vessel on', async () => {
    const told = (
      minutes: number,
      number: number,
      alarm: AlarmName,
      event: 'raised' | 'cleared' = 'raised',
    ): NewEntry => ({
      kind: 'alarm',
      key: `${number} ${event}`,
      id: alarmId(SITE, 'r1', number),
      vessel: 'r1',
      alarm,
      event,
      priority: 'high',
      atMs: atMs(minutes),
      arrivedMs: atMs(minutes),
      body: {},
    });
    const store = await stored(
      act(-30, 'vessel-added', { vessel: 'm1', role: 'methoxide' }),
      act(-30, 'clock-step', { stepMs: 5 }),
      act(-25, 'presence', { device: 'r1-node', presence: 'gone' }),
      act(-20, 'presence', { device: 'm1-node', presence: 'gone' }),
      act(-20, 'presence', { device: 'box', presence: 'gone' }),
      told(-15, 1, 'vapour-high'),
      opened(0, 'b1'),
      told(1, 2, 'boiling-near'),
      act(2, 'acknowledge', { vessel: 'r1', number: 2, reason: null }),
      told(2.5, 2, 'boiling-near', 'cleared'),
      told(2.6, 3, 'boiling-near'),
      act(2.7, 'acknowledge', { vessel: 'r1', number: 2, reason: null }),
      act(3, 'acknowledge', { vessel: 'm1', number: 1, reason: null }),
      act(4, 'presence', { device: 'box', presence: 'here' }),
      act(5, 'presence', { device: 'm1-node', presence: 'here' }),
      act(6, 'clock-step', { stepMs: -7000 }),
      act(7, 'started', { downSinceMs: atMs(6.5) }),
      reading({ ...read(8), stamped: true } as never),
    );
    const lines = (await linesOf(store, 'b1')).filter(({ type }) => type !== 'vessel' && type !== 'end');
    const minute = (minutes: number) => new Date(atMs(minutes)).toISOString();
    const gone = { type: 'device', at: minute(-25), arrived: minute(-25) };
    const here = { type: 'device', at: minute(4), arrived: minute(4) };
    expect(lines).toEqual([
      { ...gone, device: 'r1-node', presence: 'gone', vessel: 'r1' },
      { type: 'acknowledge', at: minute(2), vessel: 'r1', alarm: 'boiling-near' },
      { ...here, device: 'box', presence: 'here' },
      { type: 'clock-step', at: minute(6), stepMs: -7000 },
      { type: 'start', at: minute(7), downSince: minute(6.5) },
      expect.objectContaining({ type: 'reading', stamped: true }),
    ]);
  });

  test('is the same however much lies before it and in it', async () => {
    // Twice a second: the hour before is more than is fetched at a time.
    const readings = (from: number, to: number) =>
      Array.from({ length: (to - from) * 120 }, (_, i) => read((from * 120 + i) / 120));
    const store = await stored(
      ...readings(-80, 0),
      opened(0, 'b1'),
      ...readings(0, 50),
      entered(50, 'b1', 'rejected'),
      ...readings(50, 60),
    );
    const values = (await linesOf(store, 'b1')).filter(({ type }) => type === 'reading');
    expect(values.map(({ value }) => value)).toEqual(
      readings(-10, 50).map((entry) => (entry as { value: number }).value),
    );
  });

  test('there is none of an id that no site knows', async () => {
    const store = await stored(opened(0, 'b1'));
    expect(await recordedBatch(store, 'b2')).toBeUndefined();
    expect(await courseOf(store, 'elsewhere')).toEqual(['r1 known', 'r1 plan']);
  });
});
