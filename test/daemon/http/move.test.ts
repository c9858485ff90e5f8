import { expect, test } from 'vitest';
import { ManualClock } from '../../support/manual-clock.ts';
import { type Answer, runDaemon } from '../running-daemon.ts';
import { expectProblem } from './problem.ts';

const START_MS = Date.UTC(2026, 2, 2, 10);
const HOUR_MS = 3_600_000;

/** A batch on r1 that has settled for three hours of two, and two empty tanks. */
async function settled() {
  const clock = new ManualClock(START_MS);
  const daemon = await runDaemon({ clock });
  for (const vessel of ['r1', 't1', 't2']) await daemon.read(`barn/${vessel}/liquid-temperature`, 40);
  await daemon.send('PUT', '/api/v1/sites/barn', { altitudeM: 340 });
  const plan = { watch: { requiredReactionMinutes: 10, requiredSettleHours: 2 } };
  const { id } = (await daemon.send('POST', '/api/v1/batches', { vessel: 'barn:r1', plan })).json;
  const enter = (stage: string, more: object = {}): Promise<Answer> =>
    daemon.send('POST', `/api/v1/batches/${id}/stage`, { stage, ...more });
  await enter('dose');
  await enter('react');
  await enter('settle', { anyway: { reason: 'a trial' } });
  for (let i = 0; i < 18; i++) clock.advance(HOUR_MS / 6);
  return {
    clock,
    daemon,
    id,
    enter,
    move: (body: object): Promise<Answer> =>
      daemon.send('POST', `/api/v1/batches/${id}/move`, { litres: 90, ...body }),
    vessel: async (name: string) => (await daemon.get(`/api/v1/vessels/${name}`)).json,
    batch: async () => (await daemon.get(`/api/v1/batches/${id}`)).json,
  };
}

test('what becomes the fuel goes on in the other vessel, with its methanol and its settling; the first is free', async () => {
  const { daemon, id, enter, move, vessel } = await settled();
  const moved = await move({ from: 'r1', to: 't1', what: 'ester', by: 'Ada Brook' });
  expect(moved.status).toBe(200);
  expect(moved.json).toMatchObject({
    vessel: 't1',
    stage: 'settle',
    moves: [{ from: 'r1', to: 't1', litres: 90, what: 'ester', by: 'Ada Brook' }],
  });
  expect(await vessel('t1')).toMatchObject({ batch: id, stage: 'settle', methanolPresent: true });
  expect((await vessel('t1')).counted.settleHours.has).toBeCloseTo(3, 1);
  expect(await vessel('r1')).toMatchObject({ batch: null, stage: 'idle', methanolPresent: false });
  // The first can be used for another batch at once.
  const next = await daemon.send('POST', '/api/v1/batches', { vessel: 'barn:r1', plan: {} });
  expect(next.status).toBe(201);
  // Three hours were earned, and what was earned is not asked for again.
  const washed = await enter('wash');
  expect(washed.status).toBe(200);
  expect(washed.json.stages.at(-1)).toMatchObject({ vessel: 't1', deviation: null });
});

test('moving disturbs: standing on in the other vessel earns nothing until it is said to settle again', async () => {
  const { clock, enter, move, vessel } = await settled();
  await move({ from: 'r1', to: 't1', what: 'ester' });
  for (let i = 0; i < 6; i++) clock.advance(HOUR_MS / 6);
  expect((await vessel('t1')).counted.settleHours).toMatchObject({
    has: expect.closeTo(3, 1),
    enoughAt: null,
  });
  expect((await enter('settle', { again: true })).status).toBe(200);
  expect((await vessel('t1')).counted.settleHours.has).toBeCloseTo(0, 2);
});

test('glycerol goes beside it, with methanol in it, and asks for no settling', async () => {
  const { id, enter, move, vessel, batch } = await settled();
  const moved = await move({ from: 'r1', to: 't2', what: 'glycerol', litres: 14 });
  expect(moved.status).toBe(200);
  expect(moved.json).toMatchObject({ vessel: 'r1', stage: 'settle' });
  expect(await vessel('t2')).toMatchObject({ batch: id, stage: 'drain', methanolPresent: true });
  expect(await vessel('r1')).toMatchObject({ batch: id, stage: 'settle' });
  // More of it into the same can, but no fuel on top of it.
  expect((await move({ from: 'r1', to: 't2', what: 'glycerol', litres: 1 })).status).toBe(200);
  expectProblem(await move({ from: 'r1', to: 't2', what: 'ester' }), 409, 'vessel-taken');
  expectProblem(await move({ from: 't2', to: 't1', what: 'ester' }), 400, 'body-invalid');
  // Its methanol is recovered: that is not the fuel going on.
  expect((await enter('recover', { vessel: 't2' })).status).toBe(200);
  expect((await batch()).stage).toBe('settle');
  expect((await vessel('r1')).counted.settleHours.has).toBeCloseTo(3, 1);
  expect((await enter('drain', { vessel: 't2' })).status).toBe(200);
  expect((await vessel('t2')).methanolPresent).toBe(false);
  await enter('wash');
  await enter('finished');
  expect(await vessel('t2')).toMatchObject({ batch: null, stage: 'idle' });
});

test('glycerol that nobody recovered methanol from keeps it when the batch has ended', async () => {
  const { enter, move, vessel } = await settled();
  await move({ from: 'r1', to: 't2', what: 'glycerol', litres: 14 });
  await enter('wash');
  await enter('finished');
  expect(await vessel('t2')).toMatchObject({ batch: null, methanolPresent: true });
  expect(await vessel('r1')).toMatchObject({ batch: null, methanolPresent: false });
});

test('in the middle of a reaction the time goes on in the other vessel', async () => {
  const { clock, daemon, enter, move, vessel } = await settled();
  const stir = async (name: string) => {
    for (let minute = 0; minute < 4; minute++) {
      const series = (value: number) =>
        JSON.stringify(
          Array.from({ length: 60 }, (_, i) => ({ value, at: clock.wallMs() + (i + 1) * 1000 })),
        );
      const [temperature, speed] = [series(55), series(300)];
      for (let i = 0; i < 6; i++) clock.advance(10_000);
      await daemon.publish(`esterwatch/v1/reading/barn/${name}/liquid-temperature`, temperature);
      await daemon.publish(`esterwatch/v1/reading/barn/${name}/stirrer-speed`, speed);
    }
  };
  await enter('dose');
  await enter('react');
  await stir('r1');
  expect((await move({ from: 'r1', to: 't1', what: 'ester' })).json.stage).toBe('react');
  await stir('t1');
  const { has } = (await vessel('t1')).counted.reactionMinutes;
  expect(has).toBeGreaterThan(7);
  expect(has).toBeLessThanOrEqual(8);
});

test('what cannot be moved is refused, and changes nothing', async () => {
  const { daemon, id, move, batch } = await settled();
  await daemon.read('shed/x1/liquid-temperature', 20);
  await daemon.send('PUT', '/api/v1/sites/shed', { altitudeM: 10 });
  const before = await batch();
  expectProblem(await move({ from: 'r1', to: 'r1', what: 'ester' }), 400, 'body-invalid');
  expectProblem(await move({ from: 'r1', to: 'nowhere', what: 'ester' }), 404, 'vessel-unknown');
  expectProblem(await move({ from: 't1', to: 't2', what: 'ester' }), 409, 'vessel-taken');
  expectProblem(await move({ from: 'r1', to: 'shed:x1', what: 'ester' }), 409, 'vessel-taken');
  for (const body of [
    { to: 't1', what: 'ester' },
    { from: 'r1', what: 'ester' },
    { from: 'r1', to: 't1' },
    { from: 'r1', to: 't1', what: 'oil' },
    { from: 'r1', to: 't1', what: 'ester', litres: 0 },
    { from: 'r1', to: 't1', what: 'ester', litres: '90' },
  ])
    expectProblem(await move(body), 400, 'body-invalid');
  expect(await batch()).toEqual(before);
  const away = `/api/v1/batches/none/move`;
  expectProblem(
    await daemon.send('POST', away, { from: 'r1', to: 't1', what: 'ester', litres: 1 }),
    404,
    'batch-unknown',
  );
  await daemon.send('POST', `/api/v1/batches/${id}/stage`, { stage: 'rejected' });
  expectProblem(await move({ from: 'r1', to: 't1', what: 'ester' }), 409, 'batch-ended');
});

test('what is done with glycerol changes nothing of the batch, and what has no sense there is refused', async () => {
  const { daemon, clock, id, enter, move, vessel, batch } = await settled();
  await move({ from: 'r1', to: 't2', what: 'glycerol', litres: 14 });
  for (const stage of ['dose', 'react', 'settle', 'methoxide', 'prewash', 'esterify', 'wash', 'dry-fuel'])
    expectProblem(await enter(stage, { vessel: 't2', anyway: { reason: 'x' } }), 409, 'vessel-taken');
  // A second pass: the reactor reacts, whatever is done with the glycerol beside it.
  await enter('dose');
  await enter('react');
  await enter('recover', { vessel: 't2' });
  expect(await vessel('r1')).toMatchObject({ batch: id, stage: 'react', methanolPresent: true });
  clock.advance(1000);
  await daemon.read('barn/r1/liquid-temperature', 66);
  clock.advance(5000);
  await daemon.read('barn/r1/liquid-temperature', 66.2);
  const { alarms } = (await daemon.get('/api/v1/alarms?standing=true&vessel=r1')).json;
  expect(alarms.map(({ alarm }: { alarm: string }) => alarm)).toContain('boiling-near');
  expect((await batch()).glycerolIn).toEqual(['t2']);
});

test('methanol of glycerol beside it does not come into a tank that the fuel goes to', async () => {
  const { enter, move, vessel } = await settled();
  await move({ from: 'r1', to: 't2', what: 'glycerol', litres: 14 });
  await enter('recover');
  await enter('filter');
  await enter('dry-fuel', { vessel: 't1' });
  expect((await vessel('t1')).methanolPresent).toBe(false);
  expect((await vessel('t2')).methanolPresent).toBe(true);
});

test('a can of glycerol is emptied, or pumped on, and free for something else', async () => {
  const { id, enter, move, vessel, batch } = await settled();
  await move({ from: 'r1', to: 't2', what: 'glycerol', litres: 14 });
  await move({ from: 't2', to: 't1', what: 'glycerol', litres: 14 });
  expect(await vessel('t2')).toMatchObject({ batch: null, stage: 'idle', methanolPresent: false });
  expect(await vessel('t1')).toMatchObject({ batch: id, stage: 'drain', methanolPresent: true });
  expect((await batch()).glycerolIn).toEqual(['t1']);
  expectProblem(await enter('idle', { vessel: 'r1' }), 400, 'body-invalid');
  expect((await enter('idle', { vessel: 't1' })).status).toBe(200);
  expect(await vessel('t1')).toMatchObject({ batch: null, stage: 'idle', methanolPresent: false });
  expect(await batch()).toMatchObject({ glycerolIn: [], stage: 'settle', vessel: 'r1' });
  // Then fuel may go there.
  expect((await move({ from: 'r1', to: 't1', what: 'ester' })).status).toBe(200);
});

test('an end is that of the batch, whichever vessel it is said of', async () => {
  const { enter, move, vessel, batch } = await settled();
  await move({ from: 'r1', to: 't2', what: 'glycerol', litres: 14 });
  await enter('dose');
  await enter('react');
  expectProblem(await enter('finished', { vessel: 't2' }), 409, 'conditions-missing');
  await enter('rejected', { vessel: 't2', reason: 'jelly' });
  expect(await batch()).toMatchObject({ open: false, stage: 'rejected' });
  for (const name of ['r1', 't2']) expect(await vessel(name)).toMatchObject({ batch: null, stage: 'idle' });
});

test('heat under glycerol is asked about, though the fuel is heated already', async () => {
  const { daemon, id, enter, move } = await settled();
  await move({ from: 'r1', to: 't2', what: 'glycerol', litres: 14 });
  await enter('dry-fuel', { anyway: { reason: 'a trial' } });
  const { conditions } = (await daemon.get(`/api/v1/batches/${id}/conditions?stage=recover&vessel=t2`)).json;
  expect(conditions.map(({ what }: { what: string }) => what)).toContain('level-over-element');
});
