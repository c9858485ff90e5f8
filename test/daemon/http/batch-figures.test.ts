import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { batchBalanceSchema, yearsSchema } from '../../../shared/wire/balance.ts';
import type { Batch } from '../../../shared/wire/batch.ts';
import { comparisonSchema } from '../../../shared/wire/comparison.ts';
import { ManualClock } from '../../support/manual-clock.ts';
import { type Answer, type RunningDaemon, runDaemon } from '../running-daemon.ts';
import { expectProblem } from './problem.ts';

const START_MS = Date.UTC(2026, 2, 2, 10);
const MINUTE_MS = 60_000;

let clock: ManualClock;
let daemon: RunningDaemon;
const cleanUps: (() => Promise<void>)[] = [];
beforeAll(async () => {
  clock = new ManualClock(START_MS);
  daemon = await runDaemon({ clock }, (cleanUp) => cleanUps.push(cleanUp));
  for (const vessel of ['barn/r1', 'barn/r2', 'shed/r1'])
    await daemon.read(`${vessel}/liquid-temperature`, 20);
  for (const site of ['barn', 'shed']) await daemon.send('PUT', `/api/v1/sites/${site}`, { altitudeM: 340 });
});
afterAll(async () => {
  for (const cleanUp of cleanUps) await cleanUp();
});

const taken = ({ status, json, text }: Answer) => {
  expect(status, text).toBeLessThan(300);
  return json;
};
const PLAN = { watch: { requiredReactionMinutes: 10, requiredSettleHours: 1 } };
const open = async (vessel: string, name: string): Promise<Batch> =>
  taken(await daemon.send('POST', '/api/v1/batches', { vessel, name, plan: PLAN }));
const enter = async (id: string, stage: string, more: object = {}) =>
  taken(await daemon.send('POST', `/api/v1/batches/${id}/stage`, { stage, by: 'Ida', ...more }));
const note = async (id: string, what: object) =>
  taken(await daemon.send('POST', `/api/v1/batches/${id}/entries`, { what }));
const balance = (id: string, query = '') => daemon.get(`/api/v1/batches/${id}/balance${query}`);

/** So many minutes of readings, one in 5 s: at a temperature, stirred. */
async function mix(vessel: string, minutes: number, atC: number): Promise<void> {
  for (let minute = 0; minute < minutes; minute++) {
    const startMs = clock.wallMs();
    const series = (value: number) =>
      JSON.stringify(Array.from({ length: 12 }, (_, i) => ({ value, at: startMs + (i + 1) * 5000 })));
    for (let i = 0; i < 6; i++) clock.advance(10_000);
    await daemon.publish(`esterwatch/v1/reading/${vessel}/liquid-temperature`, series(atC));
    await daemon.publish(`esterwatch/v1/reading/${vessel}/stirrer-speed`, series(300));
  }
}

describe('two batches, one after the book and one in a hurry', () => {
  let good: Batch;
  let hasty: Batch;
  beforeAll(async () => {
    good = await open('barn:r1', 'By the book');
    await enter(good.id, 'warm');
    await mix('barn/r1', 3, 50);
    await enter(good.id, 'dose');
    await enter(good.id, 'react');
    await mix('barn/r1', 12, 55);
    await note(good.id, { kind: 'test', test: '3/27', dropoutMl: 0 });
    await enter(good.id, 'settle');
    clock.advance(3 * 60 * MINUTE_MS);
    await enter(good.id, 'drain');
    await note(good.id, { kind: 'test', test: 'shake', partsClean: true });
    await enter(good.id, 'wash');
    await note(good.id, { kind: 'wash', method: 'mist', waterL: 30 });
    for (const [what, kg] of [
      ['oil', 92],
      ['methanol', 17.5],
      ['catalyst', 0.5],
      ['glycerol', 18],
      ['fuel', 88],
    ])
      await note(good.id, { kind: 'weighing', what, kg });
    await note(good.id, { kind: 'drained', what: 'wash-water', litres: 31 });
    await note(good.id, { kind: 'volume', what: 'fuel', litres: 100 });
    await note(good.id, { kind: 'volume', what: 'oil', litres: 100 });
    await enter(good.id, 'finished');
    await note(good.id, { kind: 'handed-out', use: 'used', litres: 20 });
    await note(good.id, { kind: 'handed-out', use: 'given-away', litres: 5, to: 'Uwe' });

    clock.advance(60 * MINUTE_MS);
    hasty = await open('barn:r2', 'In a hurry');
    await enter(hasty.id, 'dose');
    await mix('barn/r2', 1, 55);
    await enter(hasty.id, 'react');
    await mix('barn/r2', 4, 55);
    await note(hasty.id, { kind: 'test', test: '3/27', dropoutMl: 0.5 });
    await enter(hasty.id, 'settle', { anyway: { reason: 'supper' } });
    clock.advance(90 * MINUTE_MS);
    await enter(hasty.id, 'drain');
  });

  test('a balance adds up what was noted', async () => {
    const answer = batchBalanceSchema
      .strict()
      .parse(taken(await balance(good.id, '?oilPerL=0.4&methanolPerL=1&catalystPerKg=4')));
    expect(answer.balance).toMatchObject({ inKg: 140, outKg: 137, unaccountedKg: 3, missing: [], notes: [] });
    expect(answer.yield).toMatchObject({
      litresPerLitre: 1,
      planned: { fuel: 'washed' },
      earlier: { finished: 0 },
    });
    const methanolL = answer.balance.in.methanol.litres!;
    expect(answer.cost).toMatchObject({ missing: [] });
    expect(answer.cost.perL).toBeCloseTo((40 + methanolL + 2) / 100, 9);
    const later = taken(await balance(hasty.id));
    expect(later.yield.earlier).toEqual({ finished: 1, known: 1, median: 1, least: 1, most: 1 });
    expect(later.cost).toMatchObject({
      perL: null,
      missing: ['oilPerL', 'methanolPerL', 'catalystPerKg', 'fuel'],
    });
  });

  test('a price is a decimal number from 0 on', async () => {
    for (const query of ['oilPerL=', 'oilPerL=-1', 'oilPerL=1,5', 'oilPerL=NaN', 'oilPerL=1e3', 'oilPerl=1'])
      expectProblem(await balance(good.id, `?${query}`), 400, 'body-invalid');
    expect((await balance(good.id, '?oilPerL=0')).status).toBe(200);
    expectProblem(await balance('none'), 404, 'batch-unknown');
  });

  test('laid over each other at a stage, times are minutes from it, and it is said what one lacks', async () => {
    const answer = comparisonSchema
      .strict()
      .parse(taken(await daemon.get(`/api/v1/batches/compare?a=${good.id}&b=${hasty.id}`)));
    const { a, b, align, missed } = answer;
    expect(align).toBe('react');
    expect(a.stages).toEqual([
      { stage: 'warm', vessel: 'r1', minutes: -3 },
      { stage: 'dose', vessel: 'r1', minutes: 0 },
      { stage: 'react', vessel: 'r1', minutes: 0 },
      { stage: 'settle', vessel: 'r1', minutes: 12 },
      { stage: 'drain', vessel: 'r1', minutes: 192 },
      { stage: 'wash', vessel: 'r1', minutes: 192 },
      { stage: 'finished', vessel: 'r1', minutes: 192 },
    ]);
    expect(b.stages.find(({ stage }) => stage === 'dose')!.minutes).toBe(-1);
    expect(b.stages.find(({ stage }) => stage === 'settle')!.minutes).toBe(4);
    for (const [side, reacted] of [
      [a, 12],
      [b, 4],
    ] as const) {
      expect(side.series.map(({ channel }) => channel)).toEqual(['liquid-temperature', 'stirrer-speed']);
      for (const { minutes, min, mean, max } of side.series) {
        expect(minutes.length).toBeGreaterThan(1);
        expect(minutes.length).toBeLessThanOrEqual(500);
        expect([min.length, mean.length, max.length]).toEqual(Array(3).fill(minutes.length));
        expect(minutes).toEqual(minutes.toSorted((one, other) => one - other));
        expect(Math.abs(minutes.at(-1)! - reacted)).toBeLessThan(1);
      }
      expect(side.creditedReactionMinutes).toBeGreaterThan(reacted - 1);
      expect(side.creditedReactionMinutes).toBeLessThanOrEqual(reacted);
    }
    // Before it, the one was warmed.
    expect(a.series[0]!.minutes[0]).toBeLessThan(0);
    expect(a.creditedSettleHours).toBeCloseTo(3, 1);
    expect(b.deviations).toMatchObject([{ stage: 'settle', minutes: 4, by: 'Ida', reason: 'supper' }]);
    expect(b.tests).toMatchObject([{ test: '3/27', passed: false, minutes: 4 }]);
    const { alarms } = taken(await daemon.get('/api/v1/alarms?vessel=barn:r2'));
    expect(alarms.length).toBeGreaterThan(0);
    expect(b.alarms.reduce((sum, { count }) => sum + count, 0)).toBe(alarms.length);
    expect(missed.map(({ of, what }) => `${of} ${what}`)).toEqual([
      'b stage',
      'b stage',
      'b washes',
      'b test',
      'b test-passed',
      'b reaction-minutes',
      'b settle-hours',
      'b condition',
    ]);
    const says = missed.map((one) => one.says);
    expect(says).toContain('no wash');
    expect(says).toContain('no shake test');
    expect(says).toContain('settled 1.5 h less');

    const swapped = taken(await daemon.get(`/api/v1/batches/compare?b=${good.id}&a=${hasty.id}`));
    expect(swapped).toMatchObject({ a: b, b: a });
    expect(swapped.missed.map(({ of }: { of: string }) => of)).toEqual(missed.map(() => 'a'));
  });

  test('they can be laid over each other at any stage that both have, else it is named', async () => {
    const compare = (query: string) =>
      daemon.get(`/api/v1/batches/compare?a=${good.id}&b=${hasty.id}${query}`);
    const settled = taken(await compare('&align=settle'));
    expect(settled).toMatchObject({ align: 'settle' });
    expect(settled.a.stages.find(({ stage }: { stage: string }) => stage === 'drain').minutes).toBe(180);
    const refused = await compare('&align=wash');
    expectProblem(refused, 409, 'conditions-missing');
    expect(refused.json.detail).toContain('In a hurry');
    expect(refused.json.detail).not.toContain('By the book');
    expect(refused.json.missing).toEqual([{ what: 'stage-wash', has: 0, needs: 1 }]);
    expectProblem(await compare('&align=washing'), 400, 'body-invalid');
    expectProblem(await daemon.get(`/api/v1/batches/compare?a=${good.id}`), 400, 'body-invalid');
    expectProblem(await daemon.get(`/api/v1/batches/compare?a=${good.id}&b=x`), 404, 'batch-unknown');
  });

  test('where one has not reacted they are laid over each other as they were dosed, or not at all', async () => {
    const third = await open('shed:r1', 'Only begun');
    const compare = () => daemon.get(`/api/v1/batches/compare?a=${good.id}&b=${third.id}`);
    expectProblem(await compare(), 409, 'conditions-missing');
    await enter(third.id, 'dose');
    const answer = taken(await compare());
    expect(answer).toMatchObject({ align: 'dose', b: { name: 'Only begun', site: 'shed' } });
    await enter(third.id, 'void');
  });

  test('years tell what was made, used, given away and how batches ended, of one site or all', async () => {
    const year = { year: 2026, madeL: 100, usedL: 20, givenAwayL: 5, finished: 1, rejected: 0, void: 0 };
    const barn = taken(await daemon.get('/api/v1/years?site=barn'));
    expect(yearsSchema.strict().parse(barn).years).toEqual([{ ...year, finishedWithoutFuel: 0 }]);
    const all = taken(await daemon.get('/api/v1/years'));
    expect(all.years).toMatchObject([{ ...year, void: 1 }]);
    expectProblem(await daemon.get('/api/v1/years?site=mill'), 404, 'site-unknown');
  });
});

describe('a list of batches', () => {
  let names: (query: string) => Promise<string[]>;
  let ids: Record<string, Batch>;
  beforeAll(async () => {
    clock = new ManualClock(START_MS);
    const listed = await runDaemon({ clock }, (cleanUp) => cleanUps.push(cleanUp));
    ids = {};
    for (const site of ['barn', 'shed']) {
      for (const vessel of ['r1', 'r2']) await listed.read(`${site}/${vessel}/liquid-temperature`, 20);
      await listed.send('PUT', `/api/v1/sites/${site}`, { altitudeM: 340 });
    }
    for (const [name, vessel, stage] of [
      ['Rapeseed one', 'barn:r1', 'void'],
      ['Olive', 'shed:r1', 'warm'],
      ['rapeseed TWO', 'barn:r2', 'warm'],
      ['Old frying oil', 'barn:r1', 'test'],
    ] as const) {
      clock.advance(60 * MINUTE_MS);
      const batch = taken(await listed.send('POST', '/api/v1/batches', { vessel, name }));
      ids[name] = batch;
      taken(
        await listed.send('POST', `/api/v1/batches/${batch.id}/stage`, {
          stage,
          anyway: { reason: 'to list it' },
        }),
      );
    }
    names = async (query) =>
      taken(await listed.get(`/api/v1/batches?${query}`)).batches.map(({ name }: Batch) => name);
    daemon = listed;
  });

  test('has all, the newest of each site first, where nothing is asked for', async () => {
    expect(await names('')).toEqual(['Old frying oil', 'rapeseed TWO', 'Rapeseed one', 'Olive']);
  });

  test.for([
    ['site=shed', ['Olive']],
    ['open=true', ['Old frying oil', 'rapeseed TWO', 'Olive']],
    ['open=false', ['Rapeseed one']],
    ['stage=warm', ['rapeseed TWO', 'Olive']],
    ['text=RAPE', ['rapeseed TWO', 'Rapeseed one']],
    ['text=%25', []],
    ['from=2026-03-02T12:00:00Z&to=2026-03-02T13:00:00Z', ['rapeseed TWO', 'Olive']],
    [`from=${START_MS + 121 * MINUTE_MS}`, ['Old frying oil', 'rapeseed TWO']],
    ['limit=1', ['Old frying oil', 'rapeseed TWO', 'Olive']],
    ['limit=3', ['Old frying oil', 'rapeseed TWO', 'Olive']],
    ['site=barn&stage=warm&text=two&open=true&limit=5', ['rapeseed TWO']],
  ] as const)('with %s has those', async ([query, wanted]) => {
    expect(await names(query)).toEqual(wanted);
  });

  test('with what cannot be asked for is refused', async () => {
    for (const query of [
      'limit=0',
      'limit=many',
      'open=yes',
      'stage=boil',
      'from=noon',
      'name=x',
      'from=2&to=1',
    ])
      expectProblem(await daemon.get(`/api/v1/batches?${query}`), 400, 'body-invalid');
    expectProblem(await daemon.get('/api/v1/batches?site=mill'), 404, 'site-unknown');
  });
});
