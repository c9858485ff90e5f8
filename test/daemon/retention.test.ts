import { join } from 'node:path';
import { setImmediate } from 'node:timers/promises';
import { expect, onTestFinished, test } from 'vitest';
import { ArrivalClock } from '../../daemon/clock.ts';
import type { WantedDrop } from '../../daemon/store/drops.ts';
import { openStore } from '../../daemon/store/open.ts';
import { Retention } from '../../daemon/store/retention.ts';
import type { NewEntry } from '../../daemon/store/store.ts';
import { Batches } from '../../daemon/watch/batches.ts';
import { ManualClock } from '../support/manual-clock.ts';
import { patiently } from '../support/patiently.ts';
import { runDaemon } from './running-daemon.ts';
import { action, reading } from './store/entries.ts';
import { temporaryDir } from './store/fixture.ts';

const HOUR_MS = 3_600_000;
const DAY_MS = 24 * HOUR_MS;
const START_MS = Date.UTC(2026, 2, 2, 10);
const at = (hour: number) => ({ atMs: START_MS + hour * HOUR_MS, arrivedMs: START_MS + hour * HOUR_MS });
const opened = { id: 'b1', name: 'Old oil', vessel: 'r1', request: {}, site: null };
const ended = { batch: 'b1', vessel: 'r1', stage: 'void', deviation: null };

/** The drops that are asked for while some hours go by, on a clock that somebody may set. */
async function dropsWhile(days: number, pass: (clock: ManualClock) => Promise<void>): Promise<WantedDrop[]> {
  const clock = new ManualClock(START_MS);
  const drops: WantedDrop[] = [];
  const retention = new Retention({
    store: {
      drop: async (_site, drop) => {
        drops.push(drop);
        return false;
      },
    },
    config: { days },
    sites: () => [{ site: 'barn', kept: [] }],
    arrivals: new ArrivalClock(clock),
    clock,
    warn: () => {},
    say: () => {},
  });
  await pass(clock);
  await retention.close();
  return drops;
}

async function passHours(clock: ManualClock, hours: number): Promise<void> {
  for (let hour = 0; hour < hours; hour++) {
    clock.advance(HOUR_MS);
    await setImmediate();
  }
}

test('a day after the start, and then once a day, what is older is dropped', async () => {
  expect(await dropsWhile(3, (clock) => passHours(clock, 24))).toEqual([]);
  const drops = await dropsWhile(3, (clock) => passHours(clock, 73));
  const midnight = (day: number) => Date.UTC(2026, 1, 28 + day);
  expect(drops).toEqual([0, 1, 2].map((day) => ({ beforeMs: midnight(day), kept: [] })));
});

test('a clock that is far ahead for some hours costs nothing', async () => {
  const drops = await dropsWhile(3, async (clock) => {
    await passHours(clock, 30);
    clock.setWallBy(400 * DAY_MS);
    await passHours(clock, 20);
    clock.setWallBy(-400 * DAY_MS);
    await passHours(clock, 60);
  });
  expect(drops.length).toBeGreaterThan(1);
  for (const { beforeMs } of drops) expect(beforeMs).toBeLessThan(START_MS + 2 * DAY_MS);
});

test('a batch’s readings are those up to when its end was noted', () => {
  const batches = new Batches('barn');
  batches.apply(action({ action: 'batch-opened', ...at(0), body: opened }));
  expect(batches.spans()).toEqual([{ fromMs: at(-1).atMs, toMs: 8.64e15 }]);
  batches.apply(action({ action: 'stage', atMs: at(1).atMs, arrivedMs: at(6).atMs, body: ended }));
  expect(batches.spans()).toEqual([{ fromMs: at(-1).atMs, toMs: at(7).atMs }]);
  batches.apply(action({ action: 'batch-opened', ...at(7.5), body: { ...opened, id: 'b2' } }));
  expect(batches.spans()).toEqual([{ fromMs: at(-1).atMs, toMs: 8.64e15 }]);
});

test('a daemon drops readings that are older than configured, but not those of a batch', async () => {
  const data = join(temporaryDir(), 'data');
  const before = await openStore(data);
  const groups: NewEntry[][] = [
    [reading({ ...at(0), value: 20 })],
    [action({ action: 'batch-opened', ...at(5), body: opened }), reading({ ...at(5), value: 55 })],
    [action({ action: 'stage', ...at(6), body: ended })],
    [reading({ ...at(12), value: 21 })],
    [reading({ ...at(100), value: 22 })],
  ];
  for (const entries of groups) await before.write([{ site: 'barn', entries }]);
  await before.seal('barn', at(20).atMs);
  await before.close();

  const clock = new ManualClock(START_MS + 101 * HOUR_MS);
  const daemon = await runDaemon({ clock, data, retention: { days: 3 } });
  onTestFinished(() => expect(daemon.errors).toEqual([]));
  const readings = async (query: string) =>
    (await daemon.get(`/api/v1/vessels/r1/readings?channel=liquid-temperature&from=0&${query}`)).json;
  expect(await readings('points=raw')).toMatchObject({ value: [20, 55, 21, 22] });
  for (let hour = 0; hour < 25; hour++) {
    clock.advance(HOUR_MS);
    await setImmediate();
  }
  await patiently(async () =>
    expect(await readings('points=raw')).toMatchObject({ value: [55, 22], dropped: 2 }),
  );
  expect((await readings('points=1')).min).toEqual([20]); // still drawn
});
