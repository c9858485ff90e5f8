import { expect, test } from 'vitest';
import type { Condition } from '../../../shared/batch/conditions.ts';
import { STAGES } from '../../../shared/wire/names.ts';
import { ManualClock } from '../../support/manual-clock.ts';
import { type Answer, runDaemon } from '../running-daemon.ts';
import { expectProblem } from './problem.ts';

const START_MS = Date.UTC(2026, 2, 2, 10);
const MINUTE_MS = 60_000;

/** A batch of used oil on r1, with a vessel for methoxide beside it. */
async function bench(body: object = {}) {
  const clock = new ManualClock(START_MS);
  const daemon = await runDaemon({ clock });
  await daemon.read('barn/r1/liquid-temperature', 50);
  await daemon.read('barn/m1/stirrer-speed', 300);
  await daemon.send('PUT', '/api/v1/sites/barn', { altitudeM: 340 });
  const plan = { watch: { requiredReactionMinutes: 10, requiredSettleHours: 2 } };
  const opened = await daemon.send('POST', '/api/v1/batches', { vessel: 'barn:r1', plan, ...body });
  const { id } = opened.json;
  const at = `/api/v1/batches/${id}`;
  return {
    clock,
    daemon,
    id,
    enter: (stage: string, more: object = {}): Promise<Answer> =>
      daemon.send('POST', `${at}/stage`, { stage, ...more }),
    note: (what: object, more: object = {}): Promise<Answer> =>
      daemon.send('POST', `${at}/entries`, { what, ...more }),
    test: (test: string, found: object): Promise<Answer> =>
      daemon.send('POST', `${at}/entries`, { what: { kind: 'test', test, ...found } }),
    conditions: async (stage: string): Promise<Condition[]> =>
      (await daemon.get(`${at}/conditions?stage=${stage}`)).json.conditions,
  };
}

const whats = (missing: { what: string }[]): string[] => missing.map(({ what }) => what);

test('before heat there is a list to go through; who says what they saw, is told what they did not', async () => {
  const { enter, conditions } = await bench();
  const asked = await conditions('warm');
  expect(whats(asked)).toContain('drain-valve-shut');
  expect(asked.every(({ kind, met }) => kind === 'seen' && met === null)).toBe(true);

  const [first, ...others] = whats(asked);
  const refused = await enter('warm', { seen: others });
  expectProblem(refused, 409, 'conditions-missing');
  expect(refused.json.missing).toEqual([{ what: first, has: 0, needs: 1 }]);
  const entered = await enter('warm', { seen: [first, ...others] });
  expect(entered.status).toBe(200);
  expect(entered.json.stages[0]).toMatchObject({ seen: whats(asked), unseen: [], deviation: null });
  // From one heated stage to another nothing was opened meanwhile.
  expect(await conditions('dry-oil')).toEqual([]);
});

test('who does not say what they saw goes on, and it is noted as not seen', async () => {
  const { enter, conditions } = await bench();
  const asked = whats(await conditions('warm'));
  const entered = await enter('warm');
  expect(entered.status).toBe(200);
  expect(entered.json.stages[0]).toMatchObject({ seen: [], unseen: asked, deviation: null });
});

test('oil too wet for lye wants a reason, and drier oil none', async () => {
  const { enter, test, conditions } = await bench();
  await test('water', { ppm: 900 });
  const refused = await enter('dose');
  expectProblem(refused, 409, 'conditions-missing');
  expect(whats(refused.json.missing)).toEqual(['oil-dewatered']);
  await test('water', { ppm: 400 });
  expect((await conditions('dose')).find(({ what }) => what === 'oil-dewatered')).toMatchObject({
    met: true,
  });
  expect((await enter('dose')).status).toBe(200);
});

test('methoxide mixed for too short wants a reason, as the alarm says', async () => {
  const { clock, daemon, enter } = await bench();
  await enter('methoxide', { vessel: 'm1' });
  for (let i = 0; i < 12; i++) {
    clock.advance(10_000);
    await daemon.read('barn/m1/stirrer-speed', 300);
  }
  const refused = await enter('dose');
  expectProblem(refused, 409, 'conditions-missing');
  expect(refused.json.missing).toEqual([
    { what: 'methoxide-minutes', has: expect.closeTo(1.9, 0), needs: expect.any(Number) },
  ]);
  await enter('dose', { anyway: { reason: 'clear by sight' } });
  const { alarms } = (await daemon.get('/api/v1/alarms?standing=true&vessel=r1')).json;
  expect(alarms.map(({ alarm }: { alarm: string }) => alarm)).toContain('methoxide-short');
});

test('after an esterification a new titration is missing before the base', async () => {
  const { enter, note, test } = await bench();
  await enter('esterify');
  const refused = await enter('dose');
  expectProblem(refused, 409, 'conditions-missing');
  expect(whats(refused.json.missing)).toEqual(['titration']);
  const made = await test('titration', { mL: [1.2, 1.3], titrant: 'KOH' });
  expect(made.status).toBe(201);
  // And the scales go by it.
  const grams = Number(
    /: ([\d.]+) g KOH|: ([\d.]+) g NaOH/.exec(made.json.result.says)?.slice(1).find(Boolean),
  );
  expect(grams).toBeGreaterThan(0);
  expect((await note({ kind: 'weighing', what: 'catalyst', kg: grams / 1000 })).json.result).toMatchObject({
    passed: true,
    says: expect.stringContaining(`right: ${grams} g`),
  });
  expect((await enter('dose')).status).toBe(200);
});

test('a passed 3/27 goes before the clock, for the alarm, too', async () => {
  const { daemon, enter, test } = await bench();
  await enter('dose');
  await enter('react');
  expectProblem(await enter('settle'), 409, 'conditions-missing');
  await test('3/27', { dropoutMl: 0.2 });
  expectProblem(await enter('settle'), 409, 'conditions-missing');
  await test('3/27', { dropoutMl: 0 });
  const settled = await enter('settle');
  expect(settled.status).toBe(200);
  expect(settled.json.stages.at(-1).deviation).toBeNull();
  const { alarms } = (await daemon.get('/api/v1/alarms?standing=true&vessel=r1')).json;
  expect(alarms.map(({ alarm }: { alarm: string }) => alarm)).not.toContain('reaction-short');
});

test('a 3/27 that was taken back proves nothing any more', async () => {
  const { daemon, enter, note, test } = await bench();
  await enter('dose');
  await enter('react');
  const { id } = (await test('3/27', { dropoutMl: 0 })).json;
  await note(
    { kind: 'test', test: '3/27', dropoutMl: 0.4 },
    { corrects: { entry: id, reason: 'read too early' } },
  );
  expectProblem(await enter('settle'), 409, 'conditions-missing');
  await enter('settle', { anyway: { reason: 'overnight' } });
  const { alarms } = (await daemon.get('/api/v1/alarms?standing=true&vessel=r1')).json;
  expect(alarms.map(({ alarm }: { alarm: string }) => alarm)).toContain('reaction-short');
});

test('a 3/27 of the pass before says nothing of this one', async () => {
  const { clock, enter, test } = await bench();
  await enter('dose');
  await enter('react');
  await test('3/27', { dropoutMl: 0 });
  await enter('settle');
  clock.advance(1000);
  await enter('dose');
  await enter('react');
  expectProblem(await enter('settle'), 409, 'conditions-missing');
});

test('from settling to the can: shake test, wash, water', async () => {
  const { clock, enter, test, conditions } = await bench({ soapLimitPpm: 50 });
  await enter('dose');
  await enter('react');
  await test('3/27', { dropoutMl: 0 });
  await enter('settle');
  for (let i = 0; i < 13; i++) clock.advance(10 * MINUTE_MS);

  await test('shake', { partsClean: false });
  expect(whats((await enter('wash')).json.missing)).toEqual(['shake-parts-clean']);
  await test('shake', { partsClean: true });
  expect((await enter('wash', { seen: [] })).status).toBe(200);
  // The first wash was judged; the second is no first.
  expect((await enter('wash', { again: true, seen: [] })).status).toBe(200);

  expect((await conditions('dry-fuel')).find(({ what }) => what === 'wash-clear')).toMatchObject({
    met: null,
  });
  // 1 mL of 0.01 mol/L on 10 g: 321 ppm as potassium oleate.
  await test('soap', { acidMl: 1, sampleG: 10, base: 'KOH' });
  expect((await enter('dry-fuel')).json.missing).toEqual([
    { what: 'wash-clear', has: expect.closeTo(320.6, 0), needs: 50 },
  ]);
  await test('soap', { acidMl: 0.1, sampleG: 10, base: 'KOH' });
  expect((await enter('dry-fuel')).status).toBe(200);

  await test('water', { ppm: 700 });
  expect((await enter('finished')).json.missing).toEqual([{ what: 'fuel-dry', has: 700, needs: 500 }]);
  await test('water', { ppm: 380 });
  expect((await enter('finished', { by: 'Ada Brook' })).status).toBe(200);
});

test('who decides by what is no longer so is told; nothing happens', async () => {
  const { enter, daemon, id } = await bench();
  expect((await enter('warm', { stagesKnown: 0, by: 'Ada' })).status).toBe(200);
  const refused = await enter('dose', { stagesKnown: 0, by: 'Ben' });
  expectProblem(refused, 409, 'stage-moved');
  expect(refused.json.detail).toContain('Ada');
  expect((await daemon.get(`/api/v1/batches/${id}`)).json.stages).toHaveLength(1);
  expect((await enter('dose', { stagesKnown: 1, by: 'Ben' })).status).toBe(200);
});

test('a batch opened by mistake is void, with who and why, and stays', async () => {
  const { enter, daemon, id } = await bench();
  const voided = await enter('void', { by: 'Ada Brook', reason: 'wrong vessel' });
  expect(voided.json.stages.at(-1)).toMatchObject({ by: 'Ada Brook', reason: 'wrong vessel' });
  expect((await daemon.get('/api/v1/batches')).json.batches).toMatchObject([{ id, open: false }]);
});

test('every stage has its cautions, and whose word counts more', async () => {
  const { daemon, id } = await bench();
  for (const stage of STAGES.filter((one) => one !== 'idle')) {
    const { status, json } = await daemon.get(`/api/v1/batches/${id}/conditions?stage=${stage}`);
    expect(status).toBe(200);
    expect(json.cautions.at(-1).text).toContain('Local codes');
  }
  const { cautions } = (await daemon.get(`/api/v1/batches/${id}/conditions?stage=methoxide`)).json;
  expect(cautions[0].text).toContain('Lye into methanol');
  expectProblem(await daemon.get(`/api/v1/batches/${id}/conditions?stage=boil`), 400, 'body-invalid');
  expectProblem(await daemon.get('/api/v1/batches/none/conditions?stage=dose'), 404, 'batch-unknown');
});

test('while draining it is said how much is to come', async () => {
  const { daemon, id, note } = await bench();
  const { glycerolLayerLLow: low, glycerolLayerLHigh: high } = (await daemon.get(`/api/v1/batches/${id}`))
    .json.computed;
  const drain = async (litres: number) =>
    (await note({ kind: 'drained', what: 'glycerol', litres })).json.result;
  expect(await drain(low / 2)).toMatchObject({ figure: low / 2, says: expect.stringContaining('to come') });
  expect(await drain(low / 2)).toMatchObject({ figure: low, says: expect.stringContaining('slowly') });
  expect(await drain(high)).toMatchObject({ says: expect.stringContaining('more than expected') });
});

test('of oil that is too acid no amount of lye is told, and the scales say stop', async () => {
  const { note, test } = await bench();
  // 22 mL of 1 g/L KOH on 1 mL: some 11 % free fatty acid.
  const { result } = (await test('titration', { mL: 22, titrant: 'KOH' })).json;
  expect(result).toMatchObject({ passed: false, figure: expect.closeTo(11, -0.5) });
  expect(result.says).not.toMatch(/\d k?g (NaOH|KOH)/);
  expect((await note({ kind: 'weighing', what: 'catalyst', kg: 0.1 })).json.result).toMatchObject({
    passed: false,
    says: expect.stringMatching(/^STOP/),
  });
});

test('what a stage does not ask for cannot be seen', async () => {
  const { enter, daemon, id } = await bench();
  expectProblem(await enter('warm', { seen: ['moon'] }), 400, 'body-invalid');
  expect((await daemon.get(`/api/v1/batches/${id}`)).json.stages).toEqual([]);
});

test('drying with methanol in it is asked about, and washing takes it out', async () => {
  const { enter, conditions } = await bench();
  const asks = async () => whats(await conditions('dry-fuel')).includes('methanol-off');
  expect(await asks()).toBe(false);
  await enter('dose');
  expect(await asks()).toBe(true);
  await enter('settle', { anyway: { reason: 'a trial' } });
  await enter('wash', { anyway: { reason: 'a trial' } });
  await enter('filter');
  expect(await asks()).toBe(false);
});

test('methanol that a rejected batch left in a vessel is there for the next, until the vessel is empty', async () => {
  const { enter, daemon } = await bench();
  const open = async () => (await daemon.send('POST', '/api/v1/batches', { vessel: 'barn:r1' })).json;
  const state = (body: object) => daemon.send('PUT', '/api/v1/vessels/barn:r1', body);
  const hasMethanol = async () => (await daemon.get('/api/v1/vessels/r1')).json.methanolPresent;
  await enter('dose');
  expectProblem(await state({ empty: true }), 409, 'vessel-taken');
  await enter('rejected', { reason: 'jelly' });
  const next = await open();
  expect(next.plan.methanolInFeed).toBe(true);
  expect(await hasMethanol()).toBe(true);
  await daemon.send('POST', `/api/v1/batches/${next.id}/stage`, { stage: 'rejected' });
  expect((await state({ empty: true })).json).toMatchObject({ methanolPresent: false, role: 'reactor' });
  expect((await open()).plan.methanolInFeed).toBe(false);
  expect(await hasMethanol()).toBe(false);
});

test('minutes count between temperatures that somebody types in, noted at one go or as they are read', async () => {
  const { clock, daemon, id } = await bench({ plan: { watch: { mixingStated: true } }, vessel: 'barn:m1' });
  const enter = (stage: string, atMs: number) =>
    daemon.send('POST', `/api/v1/batches/${id}/stage`, { stage, at: atMs });
  clock.advance(40 * MINUTE_MS);
  await enter('react', START_MS);
  for (let minute = 0; minute <= 40; minute += 5) {
    const body = { channel: 'liquid-temperature', value: 55, at: START_MS + minute * MINUTE_MS };
    await daemon.send('POST', '/api/v1/vessels/barn:m1/readings', body);
  }
  const { has } = (await daemon.get('/api/v1/vessels/m1')).json.counted.reactionMinutes;
  expect(has).toBeGreaterThan(30);
  expect(has).toBeLessThanOrEqual(40);
});

test('a dose that is noted afterwards leaves the test after it standing, for the alarm, too', async () => {
  const { clock, daemon, enter, test } = await bench();
  await enter('dose');
  await enter('react');
  clock.advance(6 * MINUTE_MS);
  await test('3/27', { dropoutMl: 0 });
  clock.advance(MINUTE_MS);
  await enter('dose', { at: START_MS + 4 * MINUTE_MS });
  await enter('react');
  expect((await enter('settle')).status).toBe(200);
  const { alarms } = (await daemon.get('/api/v1/alarms?standing=true&vessel=r1')).json;
  expect(alarms.map(({ alarm }: { alarm: string }) => alarm)).not.toContain('reaction-short');
});

test('what is to be tested is not done by looking', async () => {
  const { enter } = await bench();
  await enter('dose');
  expectProblem(await enter('finished', { seen: ['conversion'] }), 400, 'body-invalid');
  const refused = await enter('finished', { seen: [] });
  expectProblem(refused, 409, 'conditions-missing');
  expect(whats(refused.json.missing)).toEqual(expect.arrayContaining(['conversion', 'fuel-dry']));
});
