import { join } from 'node:path';
import { afterAll, beforeAll, expect, test } from 'vitest';
import type { PlanRequest } from '../../../shared/plan/request.ts';
import { type Batch, batchSchema } from '../../../shared/wire/batch.ts';
import { type Template, templateSchema } from '../../../shared/wire/templates.ts';
import { ManualClock } from '../../support/manual-clock.ts';
import { type RunningDaemon, runDaemon } from '../running-daemon.ts';
import { temporaryDir } from '../store/fixture.ts';
import { expectProblem } from './problem.ts';

const USUAL: PlanRequest = {
  oil: { volumeL: 100, kind: 'used' },
  methanol: { percentOfOilVolume: 24 },
  catalyst: { kind: 'KOH', purityPercent: 90 },
  watch: { requiredSettleHours: 12 },
};

let data: string;
let daemon: RunningDaemon;
const clock = new ManualClock(Date.UTC(2026, 2, 2, 10));
const cleanUps: (() => Promise<void>)[] = [];
beforeAll(async () => {
  data = join(temporaryDir(afterAll), 'data');
  daemon = await runDaemon({ clock, data }, (cleanUp) => cleanUps.push(cleanUp));
  for (const vessel of ['barn/jar', 'barn/r1', 'mill/r1'])
    await daemon.read(`${vessel}/liquid-temperature`, 20);
  for (const site of ['barn', 'mill']) await daemon.send('PUT', `/api/v1/sites/${site}`, { altitudeM: 340 });
});
afterAll(async () => {
  for (const cleanUp of cleanUps) await cleanUp();
});

const post = (path: string, body: object) => daemon.send('POST', `/api/v1/${path}`, body);
const listed = async (): Promise<Template[]> => (await daemon.get('/api/v1/templates')).json.templates;

async function kept(body: object = {}): Promise<Template> {
  const { status, json } = await post('templates', {
    site: 'barn',
    name: 'Used oil',
    plan: USUAL,
    by: 'Ida',
    ...body,
  });
  expect(status).toBe(201);
  return templateSchema.strict().parse(json);
}

/** A batch that has been opened, and voided, so that its vessel is free again. */
async function opened(body: object): Promise<Batch> {
  const { status, json, text } = await post('batches', { vessel: 'barn:r1', ...body });
  expect(status, text).toBe(201);
  await post(`batches/${json.id}/stage`, { stage: 'void' });
  return batchSchema.strict().parse(json);
}

test('a usual plan is kept, listed and retired, and stays listed', async () => {
  const template = await kept();
  expect(template).toMatchObject({
    site: 'barn',
    name: 'Used oil',
    plan: USUAL,
    by: 'Ida',
    at: '2026-03-02T10:00:00.000Z',
    retired: null,
  });
  expect(await listed()).toContainEqual(template);
  const retired = await post(`templates/${template.id}/retire`, { by: 'Uwe' });
  expect(retired.status).toBe(200);
  expect(retired.json).toEqual({ ...template, retired: { by: 'Uwe', at: '2026-03-02T10:00:00.000Z' } });
  expect(await listed()).toContainEqual(retired.json);
  expectProblem(await post(`templates/${template.id}/retire`, {}), 409, 'template-retired');
  expectProblem(await post('batches', { vessel: 'barn:r1', template: template.id }), 409, 'template-retired');
  expectProblem(await post('templates/none/retire', {}), 404, 'template-unknown');
});

test('a plan that cannot be computed is no template', async () => {
  const before = await listed();
  for (const plan of [
    { oil: { kind: 'crude' } },
    { oil: { titration: { mL: 900, titrant: 'NaOH' } } },
    { oil: { volumeL: 1 }, catalyst: { grams: 5000 } },
    undefined,
  ])
    expectProblem(await post('templates', { site: 'barn', name: 'x', plan }), 400, 'body-invalid');
  expectProblem(await post('templates', { site: 'attic', name: 'x', plan: {} }), 404, 'site-unknown');
  expect(await listed()).toEqual(before);
});

test('a batch from a template has its plan, with what it says itself laid over it', async () => {
  const { id } = await kept();
  const same = await opened({ template: id });
  expect(same).toMatchObject({ request: USUAL, template: id, madeLike: null });
  expect(same.plan.requiredSettleHours).toBe(12);
  const titration = { mL: 1.5, titrant: 'KOH' as const };
  const other = await opened({ template: id, plan: { oil: { volumeL: 80, titration } } });
  expect(other.request).toEqual({ ...USUAL, oil: { volumeL: 80, kind: 'used', titration } });
  expect(other.computed!.methanolL).toBeCloseTo(80 * 0.24, 9);
});

test('a hundred litres are made like a jar of one', async () => {
  const plan: PlanRequest = {
    oil: { volumeL: 1, kind: 'used' },
    catalyst: { kind: 'KOH', purityPercent: 90, grams: 9 },
    vessel: { liquidHeightM: 0.11 },
    watch: { mixingStated: true, requiredReactionMinutes: 30 },
  };
  const jar = await opened({ vessel: 'barn:jar', plan });
  expect(jar).toMatchObject({ madeLike: null, template: null });
  const {
    request,
    computed,
    madeLike,
    template,
    plan: watched,
  } = await opened({
    like: jar.id,
    plan: { oil: { volumeL: 100 } },
  });
  expect({ madeLike, template }).toEqual({ madeLike: jar.id, template: null });
  // That somebody shook the jar says nothing of a reactor's stirrer.
  expect(request).toEqual({
    oil: { volumeL: 100, kind: 'used' },
    catalyst: { kind: 'KOH', purityPercent: 90, grams: 900 },
    watch: { requiredReactionMinutes: 30 },
  });
  expect(watched).toMatchObject({ mixingStated: false, requiredReactionMinutes: 30 });
  expect(computed!.catalystG).toBe(900);
  expect(computed!.catalystPercentOfOilMass).toBeCloseTo(jar.computed!.catalystPercentOfOilMass, 9);
  expect(computed!.liquidHeightM).toBeGreaterThan(0.3);

  // Again in the same vessel everything is as it was.
  expect((await opened({ vessel: 'barn:jar', like: jar.id })).request).toEqual(plan);
});

test('what is of another site, of nothing, or out of range once it is laid over, is refused', async () => {
  const { id } = await kept({ plan: { oil: { volumeL: 1 }, catalyst: { grams: 200 } } });
  const { id: batch } = await opened({});
  const open = (body: object) => post('batches', { vessel: 'barn:r1', ...body });
  expectProblem(await open({ template: 'none' }), 404, 'template-unknown');
  expectProblem(await open({ like: 'none' }), 404, 'batch-unknown');
  expectProblem(await open({ like: batch, template: id }), 400, 'body-invalid');
  expectProblem(await open({ template: id, plan: { oil: { volumeL: 90_000 } } }), 400, 'body-invalid');
  expectProblem(await post('batches', { vessel: 'mill:r1', template: id }), 404, 'template-unknown');
  expectProblem(await post('batches', { vessel: 'mill:r1', like: batch }), 404, 'batch-unknown');
  expect((await daemon.get('/api/v1/vessels/mill:r1')).json.batch).toBeNull();
});

test('a restart has them all', async () => {
  const before = [await listed(), (await daemon.get('/api/v1/batches')).json];
  await daemon.stop();
  daemon = await runDaemon({ clock, data }, (cleanUp) => cleanUps.push(cleanUp));
  expect([await listed(), (await daemon.get('/api/v1/batches')).json]).toEqual(before);
});
