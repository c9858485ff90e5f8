import { expect, test } from 'vitest';
import { Batches } from '../../daemon/watch/batches.ts';
import { Lots } from '../../daemon/watch/lots.ts';
import { resolveWatchPlan } from '../../shared/plan/watch-plan.ts';
import { action } from './store/entries.ts';

/** A batch that drew so often from one lot; counts how often any of its draws is looked at. */
function drawnFrom(times: number) {
  const batches = new Batches('barn');
  const lots = new Lots('barn', batches);
  const act = (name: string, body: object) => {
    batches.apply(action({ action: name, body }));
    lots.apply(action({ action: name, body }));
  };
  act('batch-opened', {
    id: 'b1',
    name: 'First',
    vessel: 'r1',
    request: {},
    plan: resolveWatchPlan(),
    site: null,
  });
  act('lot-added', { id: 'l1', name: 'Drum', what: { kind: 'oil', litres: 10_000 } });
  for (let i = 1; i <= times; i++)
    act('draw', {
      batch: 'b1',
      id: `b1-d${i}`,
      kind: 'oil',
      lot: 'l1',
      fromBatch: null,
      litres: 1,
      kg: null,
    });
  let looks = 0;
  for (const draw of batches.get('b1')!.draws) {
    const { id } = draw;
    Object.defineProperty(draw, 'id', {
      get: () => {
        looks++;
        return id;
      },
    });
  }
  return { lots, act, looks: () => looks };
}

test('of a lot that was drawn from often each draw is looked at no oftener than of one drawn from seldom', () => {
  const looksADraw = (times: number): number => {
    const { lots, looks } = drawnFrom(times);
    expect(lots.get('l1')).toMatchObject({ litresLeft: 10_000 - times });
    expect(lots.stockAt('l1', '2026-03-02T10:00:00.000Z')).toBe(10_000 - times);
    return looks() / times;
  };
  expect(looksADraw(3000)).toBe(looksADraw(3));
});

test('what is undone later is seen from the lot', () => {
  const { lots, act } = drawnFrom(3);
  act('draw-undone', { batch: 'b1', draw: 'b1-d2', reason: 'wrong drum' });
  expect(lots.get('l1')).toMatchObject({
    litresLeft: 9998,
    wentInto: [{ undone: null }, { draw: 'b1-d2', undone: { reason: 'wrong drum' } }, { undone: null }],
  });
});
