import { join } from 'node:path';
import { expect, test } from 'vitest';
import { openStore } from '../../daemon/store/open.ts';
import { Batches } from '../../daemon/watch/batches.ts';
import { resolveWatchPlan } from '../../shared/plan/watch-plan.ts';
import { batchSchema } from '../../shared/wire/batch.ts';
import { ManualClock } from '../support/manual-clock.ts';
import { runDaemon } from './running-daemon.ts';
import { action, reading } from './store/entries.ts';
import { temporaryDir } from './store/fixture.ts';

const START_MS = Date.UTC(2026, 2, 2, 10);

/** As it was stored before plans were computed: no `computed`, and a plan with less chemistry. */
function olderPlan(): object {
  const { acidNumberMgKOHPerG: _, passSharesPercent: __, ...chemistry } = resolveWatchPlan().chemistry;
  return { ...resolveWatchPlan(), reactionTemperatureC: 52, chemistry };
}
const opened = {
  action: 'batch-opened',
  body: { id: 'b1', name: 'Old oil', vessel: 'r1', request: {}, plan: olderPlan(), site: null },
};

test('a batch from before plans were computed goes on, with what its plan lacks filled in', () => {
  const batches = new Batches('barn');
  batches.apply(action(opened));
  expect(batches.get('b1')).toMatchObject({ computed: null, request: {} });
  expect(batches.get('b1')!.plan).toEqual(resolveWatchPlan({ reactionTemperatureC: 52 }));
});

test('a daemon started on a store that holds one runs it on', async () => {
  const data = join(temporaryDir(), 'data');
  const older = await openStore(data);
  const at = { atMs: START_MS, arrivedMs: START_MS };
  const probe = reading({ ...at, value: 20 });
  await older.write([
    {
      site: 'barn',
      entries: [
        probe,
        reading({ ...at, vessel: 'm1', value: 20 }),
        action({ ...at, action: 'site-stated', body: { site: { altitudeM: 1609 } } }),
        action({ ...at, ...opened }),
        action({
          ...at,
          action: 'vessel-joined',
          body: { batch: 'b1', vessel: 'm1', plan: olderPlan(), site: null },
        }),
        action({
          ...at,
          action: 'stage',
          body: { batch: 'b1', vessel: 'r1', stage: 'react', deviation: null },
        }),
      ],
    },
  ]);
  await older.close();

  const clock = new ManualClock(START_MS + 60_000);
  const daemon = await runDaemon({ data, clock });
  const { json } = await daemon.get('/api/v1/batches/b1');
  const plan = resolveWatchPlan({ reactionTemperatureC: 52 });
  expect(batchSchema.parse(json)).toMatchObject({ name: 'Old oil', stage: 'react', computed: null, plan });

  // The rules go on with it: methanol boils at 59.7 °C at 1,609 m (Ambrose & Sprake 1970).
  clock.advance(1000);
  await daemon.read('barn/r1/liquid-temperature', 59.8);
  clock.advance(1000);
  await daemon.read('barn/r1/liquid-temperature', 59.8);
  await expect
    .poll(async () => {
      const alarms = (await daemon.get('/api/v1/alarms')).json.alarms as { vessel: string; alarm: string }[];
      return alarms.filter(({ vessel }) => vessel === 'r1').map(({ alarm }) => alarm);
    })
    .toContain('boiling-reached');
  for (const vessel of ['r1', 'm1'])
    expect((await daemon.get(`/api/v1/vessels/${vessel}`)).json.batch).toBe('b1');
  const settled = await daemon.send('POST', '/api/v1/batches/b1/stage', {
    stage: 'settle',
    anyway: { reason: 'it was mixed for an hour by hand' },
  });
  expect(settled.status, settled.text).toBeLessThan(300);
  expect((await daemon.get('/api/v1/batches/b1')).json.stage).toBe('settle');
  expect(daemon.errors).toEqual([]);
});
