import { expect, test } from 'vitest';
import type { EngineOutput } from '../../../shared/engine/events.ts';
import { emptySiteState, type SiteState } from '../../../shared/engine/state.ts';
import { step } from '../../../shared/engine/step.ts';
import { resolveWatchPlan } from '../../../shared/plan/watch-plan.ts';
import { START_MS } from '../run.ts';

const told = (out: EngineOutput[]) =>
  out.flatMap((one) => (one.type === 'alarm' ? [`${one.alarm} ${one.event} ${one.priority}`] : []));

function batchUnderWay(): SiteState {
  const state = emptySiteState();
  const plan = resolveWatchPlan();
  const at = { arrivedMs: START_MS, atMs: START_MS };
  step(state, {
    type: 'vessel',
    arrivedMs: START_MS,
    vessel: 'r1',
    role: null,
    batch: { id: 'b1', plan, site: null },
  });
  step(state, { type: 'stage', ...at, vessel: 'r1', stage: 'react', batch: 'b1' });
  return state;
}

test('not-watching is raised for a batch under way, and clears when it is acknowledged', () => {
  const state = batchUnderWay();
  const arrivedMs = START_MS + 600_000;
  const out = step(state, { type: 'start', arrivedMs, downSinceMs: START_MS + 1000 })[1];
  expect(told(out)).toEqual(['not-watching raised high']);
  const number = state.vessels.r1!.alarms['not-watching']!.number;
  const seen = step(state, {
    type: 'acknowledge',
    arrivedMs,
    vessel: 'r1',
    alarm: number,
    by: 'Ida',
    reason: null,
  })[1];
  expect(told(seen)).toEqual(['not-watching acknowledged high', 'not-watching cleared high']);
});

test('it keeps what was known before, through a second time too', () => {
  const state = batchUnderWay();
  for (let s = 1; s <= 120; s++) {
    const at = { arrivedMs: START_MS + s * 1000, atMs: START_MS + s * 1000 };
    const reading = { type: 'reading', ...at, vessel: 'r1', typed: false, stamped: true } as const;
    step(state, { ...reading, channel: 'liquid-temperature', value: 54 });
    step(state, { ...reading, channel: 'stirrer-speed', value: 300 });
  }
  const factsAfter = (arrivedMs: number, downSinceMs: number) => {
    step(state, { type: 'start', arrivedMs, downSinceMs });
    return state.vessels.r1!.alarms['not-watching']!.facts;
  };
  const fromMs = START_MS + 120_500;
  const first = factsAfter(START_MS + 600_000, fromMs);
  expect(first).toMatchObject({
    fromMs,
    toMs: START_MS + 600_000,
    times: 1,
    stage: 'react',
    beforeC: 54,
    beforeAtMs: START_MS + 120_000,
    stillSinceMs: null,
  });
  // Weighted: 54 °C against the planned temperature.
  expect(first.countedMinutes).toBeGreaterThan(1.7);
  expect(first.countedMinutes).toBeLessThanOrEqual(2);
  const atMs = START_MS + 620_000;
  step(state, {
    type: 'reading',
    arrivedMs: atMs,
    atMs,
    vessel: 'r1',
    channel: 'liquid-temperature',
    value: 40,
    typed: false,
    stamped: true,
  });
  expect(factsAfter(START_MS + 700_000, START_MS + 640_000)).toMatchObject({
    fromMs,
    toMs: START_MS + 700_000,
    times: 2,
    beforeC: 54,
  });
});

test('not for a vessel without a batch, and not at the very first start', () => {
  const state = emptySiteState();
  step(state, { type: 'vessel', arrivedMs: START_MS, vessel: 'r1', role: 'reactor', batch: null });
  expect(told(step(state, { type: 'start', arrivedMs: START_MS + 9000, downSinceMs: START_MS })[1])).toEqual(
    [],
  );
  expect(told(step(batchUnderWay(), { type: 'start', arrivedMs: START_MS, downSinceMs: null })[1])).toEqual(
    [],
  );
});
