import { expect, test } from 'vitest';
import { batchSchema } from '../../../shared/wire/batch.ts';
import { ManualClock } from '../../support/manual-clock.ts';
import { type Answer, type RunningDaemon, runDaemon } from '../running-daemon.ts';
import { expectProblem } from './problem.ts';

const START_MS = Date.UTC(2026, 2, 2, 10);
const MINUTE_MS = 60_000;

interface Bench {
  clock: ManualClock;
  daemon: RunningDaemon;
  open(body?: object): Promise<Answer>;
  enter(id: string, body: object): Promise<Answer>;
  batch(id: string): Promise<ReturnType<typeof batchSchema.parse>>;
  /** So many minutes of readings of r1, one a second: 55 °C and 300 1/min. */
  mix(minutes: number): Promise<void>;
}

/** Two vessels of a site whose altitude is stated. */
async function bench({ stated = true } = {}): Promise<Bench> {
  const clock = new ManualClock(START_MS);
  const daemon = await runDaemon({ clock });
  await daemon.read('barn/r1/liquid-temperature', 55);
  await daemon.read('barn/m1/liquid-temperature', 20);
  if (stated) await daemon.send('PUT', '/api/v1/sites/barn', { altitudeM: 340 });
  const plan = { watch: { requiredReactionMinutes: 10, requiredSettleHours: 2 } };
  return {
    clock,
    daemon,
    open: (body = {}) => daemon.send('POST', '/api/v1/batches', { vessel: 'barn:r1', plan, ...body }),
    enter: (id, body) => daemon.send('POST', `/api/v1/batches/${id}/stage`, body),
    batch: async (id) => batchSchema.parse((await daemon.get(`/api/v1/batches/${id}`)).json),
    mix: async (minutes) => {
      for (let minute = 0; minute < minutes; minute++) {
        const startMs = clock.wallMs();
        const series = (value: number) =>
          JSON.stringify(Array.from({ length: 60 }, (_, i) => ({ value, at: startMs + (i + 1) * 1000 })));
        // In steps that keep silence from being told.
        for (let i = 0; i < 6; i++) clock.advance(10_000);
        await daemon.publish('esterwatch/v1/reading/barn/r1/liquid-temperature', series(55));
        await daemon.publish('esterwatch/v1/reading/barn/r1/stirrer-speed', series(300));
      }
    },
  };
}

test('without an altitude no batch is opened, and it is named', async () => {
  const { daemon, open } = await bench({ stated: false });
  const answer = await open();
  expectProblem(answer, 409, 'conditions-missing');
  expect(answer.json.missing).toMatchObject([{ what: 'altitude' }]);
  expect((await daemon.get('/api/v1/batches')).json.batches).toEqual([]);
});

test('a plan that says where it is states the site', async () => {
  const { daemon, open } = await bench({ stated: false });
  expect((await open({ plan: { site: { altitudeM: 1609 } } })).status).toBe(201);
  expect((await daemon.get('/api/v1/sites')).json.sites).toMatchObject([{ site: 'barn', altitudeM: 1609 }]);
  expect((await daemon.get('/api/v1/vessels/r1')).json.boilingAssumed).toBe(false);
});

test('a batch is opened on a vessel, listed and found by its id', async () => {
  const { daemon, open } = await bench();
  const answer = await open({ name: 'First drum', by: 'Ada Brook' });
  expect(answer.status).toBe(201);
  const { id } = answer.json;
  expect(batchSchema.strict().parse(answer.json)).toMatchObject({
    name: 'First drum',
    site: 'barn',
    vessel: 'r1',
    stage: 'idle',
    open: true,
    stages: [],
    opened: '2026-03-02T10:00:00.000Z',
    plan: { requiredReactionMinutes: 10, requiredSettleHours: 2, reactionTemperatureC: 55 },
  });
  expect((await daemon.get('/api/v1/batches')).json.batches).toEqual([answer.json]);
  expect((await daemon.get(`/api/v1/batches/${id}`)).json).toEqual(answer.json);
  expect((await daemon.get('/api/v1/vessels/r1')).json).toMatchObject({
    batch: id,
    batchName: 'First drum',
    untried: false,
  });
});

test('a vessel that belongs to an open batch is not taken by another', async () => {
  const { open, enter } = await bench();
  const { json: first } = await open();
  expectProblem(await open(), 409, 'vessel-taken');
  expect((await enter(first.id, { stage: 'void' })).status).toBe(200);
  expect((await open()).status).toBe(201);
});

test('from warm to finished', async () => {
  const { clock, daemon, open, enter, batch, mix } = await bench();
  const { json: opened } = await open();
  const { id } = opened;
  const stages = async () => (await batch(id)).stages.map(({ stage, vessel }) => `${vessel} ${stage}`);

  expect((await enter(id, { stage: 'warm', by: 'Ada' })).json).toMatchObject({ stage: 'warm', open: true });
  expect((await enter(id, { stage: 'methoxide', vessel: 'barn:m1' })).status).toBe(200);
  expect(await batch(id)).toMatchObject({ stage: 'warm', vessel: 'r1' });
  expect((await daemon.get('/api/v1/vessels/m1')).json).toMatchObject({ stage: 'methoxide', batch: id });
  expect((await enter(id, { stage: 'dose' })).status).toBe(200);
  expect((await daemon.get('/api/v1/vessels/m1')).json).toMatchObject({ stage: 'idle' });
  expect((await enter(id, { stage: 'react' })).status).toBe(200);
  await mix(10);
  expect((await enter(id, { stage: 'settle' })).status).toBe(200);
  for (let i = 0; i < 13; i++) clock.advance(10 * MINUTE_MS);
  expect((await enter(id, { stage: 'drain' })).status).toBe(200);
  expect((await enter(id, { stage: 'wash' })).status).toBe(200);
  const ended = await enter(id, { stage: 'finished' });
  expect(ended.json).toMatchObject({ stage: 'finished', open: false });
  expect(await stages()).toEqual([
    'r1 warm',
    'm1 methoxide',
    'r1 dose',
    'r1 react',
    'r1 settle',
    'r1 drain',
    'r1 wash',
    'r1 finished',
  ]);
  expect(ended.json.stages.every(({ deviation }: { deviation: unknown }) => deviation === null)).toBe(true);
  expect(ended.json.stages[0]).toMatchObject({ by: 'Ada', at: '2026-03-02T10:00:00.000Z' });
  expect((await daemon.get('/api/v1/vessels/r1')).json).toMatchObject({ stage: 'idle', batch: null });

  const before = await batch(id);
  expectProblem(await enter(id, { stage: 'wash', anyway: { reason: 'x' } }), 409, 'batch-ended');
  expectProblem(await enter(id, { stage: 'finished', again: true }), 409, 'batch-ended');
  expect(await batch(id)).toEqual(before);
});

test('settling too early says how much has reacted; anyway, the reason is kept', async () => {
  const { daemon, open, enter, batch, mix } = await bench();
  const { id } = (await open()).json;
  await enter(id, { stage: 'dose' });
  await enter(id, { stage: 'react' });
  await mix(5);
  const refused = await enter(id, { stage: 'settle' });
  expectProblem(refused, 409, 'conditions-missing');
  const [missing, ...others] = refused.json.missing;
  expect(others).toEqual([]);
  expect(missing).toEqual({ what: 'reaction-minutes', has: expect.any(Number), needs: 10 });
  expect(missing.has).toBeGreaterThan(4.9);
  expect(missing.has).toBeLessThanOrEqual(5);
  expect((await batch(id)).stage).toBe('react');

  for (const anyway of [{ reason: '' }, { reason: ' \n ' }, {}, { reason: null }, true, 'yes']) {
    expectProblem(await enter(id, { stage: 'settle', anyway }), 400, 'body-invalid');
  }
  expect((await batch(id)).stage).toBe('react');

  const forced = await enter(id, { stage: 'settle', by: 'Ada', anyway: { reason: 'the pump broke' } });
  expect(forced.status).toBe(200);
  expect(forced.json.stages.at(-1)).toMatchObject({
    stage: 'settle',
    by: 'Ada',
    deviation: {
      reason: 'the pump broke',
      missing: [{ what: 'reaction-minutes', has: missing.has, needs: 10 }],
    },
  });
  const { alarms } = (await daemon.get('/api/v1/alarms?standing=true&vessel=r1')).json;
  expect(alarms.map(({ alarm }: { alarm: string }) => alarm)).toContain('reaction-short');
});

test('going on from settling too early says how many hours are missing', async () => {
  const { clock, open, enter, mix } = await bench();
  const { id } = (await open()).json;
  await enter(id, { stage: 'dose' });
  await enter(id, { stage: 'react' });
  await mix(10);
  await enter(id, { stage: 'settle' });
  for (let i = 0; i < 6; i++) clock.advance(10 * MINUTE_MS);
  // Draining only takes glycerol off.
  expect((await enter(id, { stage: 'drain' })).status).toBe(200);
  const refused = await enter(id, { stage: 'wash' });
  expectProblem(refused, 409, 'conditions-missing');
  expect(refused.json.missing).toEqual([{ what: 'settle-hours', has: expect.closeTo(1, 2), needs: 2 }]);
  // A batch can be given up whatever is missing.
  expect((await enter(id, { stage: 'rejected' })).status).toBe(200);
});

test('dosing into oil too near boiling wants a reason', async () => {
  const { clock, daemon, open, enter } = await bench();
  const { id } = (await open()).json;
  await enter(id, { stage: 'warm' });
  clock.advance(1000);
  await daemon.read('barn/r1/liquid-temperature', 56);
  clock.advance(10_000);
  await daemon.read('barn/r1/liquid-temperature', 60);
  const refused = await enter(id, { stage: 'dose' });
  expectProblem(refused, 409, 'conditions-missing');
  expect(refused.json.missing).toMatchObject([{ what: 'below-boiling', needs: 5 }]);
});

test('the stage that a batch is in changes nothing, unless it is meant', async () => {
  const { open, enter, batch } = await bench();
  const { id } = (await open()).json;
  await enter(id, { stage: 'warm' });
  const before = await batch(id);
  expectProblem(await enter(id, { stage: 'warm' }), 409, 'stage-same');
  expectProblem(await enter(id, { stage: 'warm', again: false }), 409, 'stage-same');
  expect(await batch(id)).toEqual(before);
  expect((await enter(id, { stage: 'warm', again: true })).status).toBe(200);
  expect((await batch(id)).stages).toHaveLength(2);
});

test('methoxide for a second reaction is no repetition: the first was used up', async () => {
  const { open, enter, batch } = await bench();
  const { id } = (await open()).json;
  await enter(id, { stage: 'methoxide', vessel: 'm1' });
  expectProblem(await enter(id, { stage: 'methoxide', vessel: 'm1' }), 409, 'stage-same');
  await enter(id, { stage: 'dose' });
  expect((await enter(id, { stage: 'methoxide', vessel: 'm1' })).status).toBe(200);
  expect((await batch(id)).stage).toBe('dose');
});

test('a stage on a vessel of another batch or site is refused', async () => {
  const { daemon, open, enter } = await bench();
  await daemon.read('shed/m1/liquid-temperature', 20);
  await daemon.send('PUT', '/api/v1/sites/shed', { altitudeM: 10 });
  const { id } = (await open()).json;
  expectProblem(await enter(id, { stage: 'methoxide', vessel: 'shed:m1' }), 409, 'vessel-taken');
  expectProblem(await enter(id, { stage: 'methoxide', vessel: 'm9' }), 404, 'vessel-unknown');
  // A bare name is the batch's own site's.
  expect((await enter(id, { stage: 'methoxide', vessel: 'm1' })).status).toBe(200);
  expectProblem(await open({ vessel: 'barn:m1' }), 409, 'vessel-taken');
  const other = (await open({ vessel: 'shed:m1' })).json;
  expectProblem(await enter(other.id, { stage: 'methoxide', vessel: 'barn:m1' }), 409, 'vessel-taken');
});

test('of two people at once one opens the batch, and one notes the stage', async () => {
  const { open, enter, batch } = await bench();
  const opened = await Promise.all([open({ by: 'Ada' }), open({ by: 'Ben' })]);
  expect(opened.map(({ status }) => status).sort()).toEqual([201, 409]);
  const { id } = opened.find(({ status }) => status === 201)!.json;
  const entered = await Promise.all([
    enter(id, { stage: 'warm', by: 'Ada' }),
    enter(id, { stage: 'warm', by: 'Ben' }),
  ]);
  expect(entered.map(({ status }) => status).sort()).toEqual([200, 409]);
  expect((await batch(id)).stages).toHaveLength(1);
});

test('a stage noted afterwards stands at its own time', async () => {
  const { clock, open, enter } = await bench();
  const { id } = (await open()).json;
  clock.advance(10 * MINUTE_MS);
  const answer = await enter(id, { stage: 'warm', at: '2026-03-02T10:05:00.000Z' });
  expect(answer.json.stages).toMatchObject([{ stage: 'warm', at: '2026-03-02T10:05:00.000Z' }]);
});

test('a stage of the wrong form is refused', async () => {
  const { daemon, open, enter, batch } = await bench();
  const { id } = (await open()).json;
  for (const body of [
    { stage: 'boil' },
    { stage: 'idle' },
    {},
    { stage: 'warm', at: START_MS + 61_000 },
    { stage: 'warm', at: -8.64e15 },
    { stage: 'warm', at: 'now' },
    { stage: 'warm', by: '' },
    { stage: 'warm', minutes: 3 },
    { stage: 'warm', anyway: { reason: 'x', more: 1 } },
    { stage: 'warm', again: 'true' },
  ]) {
    expectProblem(await enter(id, body), 400, 'body-invalid');
  }
  expect((await batch(id)).stages).toEqual([]);
  expect(daemon.errors).toEqual([]);
});

test('a batch of the wrong form is refused', async () => {
  const { daemon, open } = await bench();
  for (const body of [
    { vessel: undefined },
    { plan: { unknown: 1 } },
    { plan: { watch: { limits: { nearMarginK: 3 } } } },
    { plan: { watch: { limits: { nearMarginC: -1 } } } },
    { plan: { site: {} } },
    { plan: { oil: { kind: 'butter' } } },
    { name: ' ' },
    { name: 'x'.repeat(121) },
    { at: START_MS + 61_000 },
    { at: -8.64e15 },
    { colour: 'red' },
  ]) {
    expectProblem(await open(body), 400, 'body-invalid');
  }
  expect((await daemon.get('/api/v1/batches')).json.batches).toEqual([]);
  expect(daemon.errors).toEqual([]);
});

test('there is no such batch', async () => {
  const { daemon, enter } = await bench();
  for (const id of ['none', '__proto__', 'constructor']) {
    expectProblem(await daemon.get(`/api/v1/batches/${id}`), 404, 'batch-unknown');
    expectProblem(await enter(id, { stage: 'warm' }), 404, 'batch-unknown');
  }
});
