import { join } from 'node:path';
import { expect, test } from 'vitest';
import { openStore } from '../../daemon/store/open.ts';
import { computePlan } from '../../shared/plan/compute.ts';
import type { EntryWhat } from '../../shared/wire/entries.ts';
import { ManualClock } from '../support/manual-clock.ts';
import { expectProblem } from './http/problem.ts';
import { runDaemon } from './running-daemon.ts';
import { action, reading } from './store/entries.ts';
import { temporaryDir } from './store/fixture.ts';

const START_MS = Date.UTC(2026, 2, 2, 10);
const { workings: _, ...computed } = computePlan({});

/** A finished batch as it was stored while amounts had no least. */
function finished(id: string, vessel: string, atMs: number, whats: readonly EntryWhat[]) {
  const at = { atMs, arrivedMs: atMs };
  return [
    reading({ ...at, vessel, value: 20 }),
    action({
      ...at,
      action: 'batch-opened',
      body: { id, name: id, vessel, request: {}, computed, site: null },
    }),
    ...whats.map((what, i) =>
      action({
        ...at,
        action: 'entry',
        body: { batch: id, id: `${id}-${i + 1}`, vessel, stage: 'idle', what, result: null, corrects: null },
      }),
    ),
    action({ ...at, action: 'stage', body: { batch: id, vessel, stage: 'finished', deviation: null } }),
  ];
}

test('next to nothing, stored once, leaves every batch and record of the site to be had', async () => {
  const data = join(temporaryDir(), 'data');
  const older = await openStore(data);
  const tiny = (what: 'oil' | 'fuel' | 'methanol' | 'catalyst' | 'glycerol'): EntryWhat => ({
    kind: 'weighing',
    what,
    kg: 1e-320,
  });
  const fuel: EntryWhat = { kind: 'volume', what: 'fuel', litres: 90 };
  await older.write([
    {
      site: 'barn',
      entries: [
        ...finished('no-oil', 'r1', START_MS, [tiny('oil'), fuel]),
        ...finished('nothing', 'r2', START_MS + 1000, [
          tiny('oil'),
          tiny('methanol'),
          tiny('catalyst'),
          tiny('fuel'),
          tiny('glycerol'),
        ]),
        ...finished('usual', 'r3', START_MS + 2000, [fuel]),
      ],
    },
  ]);
  await older.close();

  const daemon = await runDaemon({ data, clock: new ManualClock(START_MS + 60_000) });
  const prices = 'oilPerL=1&methanolPerL=1&catalystPerKg=1';
  for (const id of ['no-oil', 'nothing', 'usual']) {
    for (const call of ['', `/balance?${prices}`, '/record?format=json', '/record?format=html'])
      expect((await daemon.get(`/api/v1/batches/${id}${call}`)).status, id + call).toBe(200);
  }
  const answer = async (id: string) => (await daemon.get(`/api/v1/batches/${id}/balance?${prices}`)).json;
  expect((await answer('usual')).yield.earlier).toMatchObject({ finished: 2, most: expect.any(Number) });
  expect((await answer('no-oil')).yield).toMatchObject({ litresPerLitre: null, kgPerKg: null });
  expect((await answer('nothing')).balance.unaccountedPercent).toBeNull();

  // Nothing of the kind is taken in any more.
  const note = (what: object) => daemon.send('POST', '/api/v1/batches/usual/entries', { what });
  for (const [field, what] of [
    ['kg', { kind: 'weighing', what: 'oil', kg: 9e-7 }],
    ['litres', { kind: 'handed-out', use: 'used', litres: 1e-320 }],
    ['waterL', { kind: 'wash', method: 'mist', waterL: 1e-320 }],
    ['fuelMl', { kind: 'test', test: '3/27', fuelMl: 1e-320, dropoutMl: 1 }],
  ] as const) {
    const refused = await note(what);
    expectProblem(refused, 400, 'body-invalid');
    expect(refused.json.detail).toContain(field);
  }
  expect((await note({ kind: 'weighing', what: 'oil', kg: 1e-6 })).status).toBe(201);
  expect(daemon.errors).toEqual([]);
});
