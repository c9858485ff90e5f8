import { expect, test } from 'vitest';
import { Batches } from '../../daemon/watch/batches.ts';
import { resolveWatchPlan } from '../../shared/plan/watch-plan.ts';

test('a batch from before plans were computed goes on, with what its plan lacks filled in', () => {
  const batches = new Batches('barn');
  const { acidNumberMgKOHPerG: _, passSharesPercent: __, ...chemistry } = resolveWatchPlan().chemistry;
  const plan = { ...resolveWatchPlan(), reactionTemperatureC: 52, chemistry };
  batches.apply({
    kind: 'action',
    action: 'batch-opened',
    body: { id: 'b1', name: 'Old oil', vessel: 'r1', request: {}, plan, site: null },
    by: 'Ida',
    atMs: 0,
    arrivedMs: 0,
  });
  expect(batches.get('b1')).toMatchObject({ computed: null, request: {} });
  expect(batches.get('b1')!.plan).toEqual(resolveWatchPlan({ reactionTemperatureC: 52 }));
});
