import { join } from 'node:path';
import fc from 'fast-check';
import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { openReadable } from '../../../daemon/store/sqlite/database.ts';
import { isDifference, verifyDatabase } from '../../../daemon/store/sqlite/verify.ts';
import { type BatchEntry, entrySchema } from '../../../shared/wire/entries.ts';
import { ManualClock } from '../../support/manual-clock.ts';
import { type RunningDaemon, runDaemon } from '../running-daemon.ts';
import { temporaryDir } from '../store/fixture.ts';
import { expectProblem } from './problem.ts';

const START_MS = Date.UTC(2026, 2, 2, 10);

let data: string;
let daemon: RunningDaemon;
let clock: ManualClock;
const cleanUps: (() => Promise<void>)[] = [];
beforeAll(async () => {
  data = join(temporaryDir(afterAll), 'data');
  clock = new ManualClock(START_MS);
  daemon = await runDaemon({ clock, data }, (cleanUp) => cleanUps.push(cleanUp));
  await daemon.read('barn/r1/liquid-temperature', 20);
  await daemon.send('PUT', '/api/v1/sites/barn', { altitudeM: 340 });
});
afterAll(async () => {
  for (const cleanUp of cleanUps) await cleanUp();
});

const note = (id: string, body: object) => daemon.send('POST', `/api/v1/batches/${id}/entries`, body);
const entriesOf = async (id: string): Promise<BatchEntry[]> =>
  (await daemon.get(`/api/v1/batches/${id}`)).json.entries;
const end = (id: string) => daemon.send('POST', `/api/v1/batches/${id}/stage`, { stage: 'void' });

/** A batch with a plan; of how much is said by the plan itself. */
async function opened(plan: object = {}): Promise<{
  id: string;
  computed: { catalystG: number; oilKg: number; passes: { catalystG: number; methanolKg: number }[] };
}> {
  const { status, json } = await daemon.send('POST', '/api/v1/batches', { vessel: 'barn:r1', plan });
  expect(status).toBe(201);
  return json;
}

describe('what is noted by hand', () => {
  test('is kept with who, when and the stage, and with what it says', async () => {
    const { id } = await opened();
    await daemon.send('POST', `/api/v1/batches/${id}/stage`, { stage: 'warm' });
    const made = await note(id, {
      what: { kind: 'wash', method: 'mist', waterL: 30, emulsion: true, remedy: 'salt' },
      by: 'Ida',
      at: '2026-03-02T09:00:00.000Z',
    });
    expect(made.status).toBe(201);
    expect(entrySchema.parse(made.json)).toEqual({
      id: `${id}-1`,
      vessel: 'r1',
      at: '2026-03-02T09:00:00.000Z',
      noted: '2026-03-02T10:00:00.000Z',
      by: 'Ida',
      stage: 'warm',
      what: { kind: 'wash', method: 'mist', waterL: 30, emulsion: true, remedy: 'salt' },
      result: null,
      corrects: null,
      correctedBy: null,
    });
    expect(await entriesOf(id)).toEqual([made.json]);
    await end(id);
    expect((await note(id, { what: { kind: 'note', text: 'retained sample in the cellar' } })).status).toBe(
      201,
    );
  });

  // The table of the soap titration (AOCS Cc 17-95, modified; as oleate), worked out with 304.4 and 320.56 g/mol.
  test.for([
    [1, 10, 'NaOH', 304],
    [3, 10, 'KOH', 962],
    [2.5, 8.8, 'NaOH', 865],
  ] as const)('a soap titration of %d mL on %d g with %s is %d ppm', async ([acidMl, sampleG, base, ppm]) => {
    const { id } = await opened();
    const { json } = await note(id, { what: { kind: 'test', test: 'soap', acidMl, sampleG, base } });
    expect(json.result).toEqual({
      passed: false,
      figure: expect.closeTo(ppm, -0.3),
      says: expect.stringMatching(new RegExp(`^${ppm} ppm soap`)),
    });
    await end(id);
  });

  test('a 3/27 passes where nothing drops out', async () => {
    const { id } = await opened();
    const of = async (dropoutMl: number) =>
      (await note(id, { what: { kind: 'test', test: '3/27', dropoutMl } })).json.result;
    expect(await of(0)).toMatchObject({ passed: true });
    expect(await of(0.3)).toMatchObject({ passed: false, says: expect.stringContaining('10 %') });
    await end(id);
  });

  test('the scales are answered at once: right, short, or stop', async () => {
    const { id, computed } = await opened({ passes: [{ sharePercent: 80 }, { sharePercent: 20 }] });
    const weigh = async (what: string, kg: number, more: object = {}) =>
      (await note(id, { what: { kind: 'weighing', what, kg, ...more } })).json.result;
    const [first, second] = [computed.passes[0]!, computed.passes[1]!];
    // A second scoop adds to the first, and a third is too much.
    const short = await weigh('catalyst', (first.catalystG - 40) / 1000);
    expect(short).toMatchObject({ passed: false, says: expect.stringMatching(/^40 g short of .* NaOH$/) });
    expect(await weigh('catalyst', 0.04)).toMatchObject({
      passed: true,
      figure: expect.closeTo(first.catalystG / 1000),
    });
    expect(await weigh('catalyst', 0.04)).toMatchObject({ says: expect.stringMatching(/^STOP: 40 g more/) });
    // What is weighed ahead says for which pass.
    expect(await weigh('catalyst', second.catalystG / 1000, { pass: 2 })).toMatchObject({ passed: true });
    expect(await weigh('catalyst', 1, { pass: 3 })).toMatchObject({
      passed: null,
      says: expect.stringContaining('no amount for pass 3'),
    });
    expect(await weigh('sulphuric-acid', 0.1)).toMatchObject({
      says: expect.stringMatching(/^STOP: none is planned/),
    });
    expect(await weigh('methanol', 1000)).toMatchObject({
      passed: false,
      says: expect.stringMatching(/^STOP: /),
    });
    expect(await weigh('glycerol', 12)).toBeNull();
    await end(id);
  });

  test('a correction stands for what it corrects, once, and hides nothing', async () => {
    const { id, computed } = await opened();
    const kg = computed.catalystG / 1000;
    const wrong = (await note(id, { what: { kind: 'weighing', what: 'catalyst', kg: 10 * kg } })).json;
    expect(wrong.result.says).toMatch(/^STOP/);
    const corrects = { entry: wrong.id, reason: 'a typing error' };
    const right = await note(id, { what: { kind: 'weighing', what: 'catalyst', kg }, corrects });
    expect(right.json).toMatchObject({ corrects, result: { passed: true } });
    expect(await entriesOf(id)).toEqual([{ ...wrong, correctedBy: right.json.id }, right.json]);
    expectProblem(await note(id, { what: { kind: 'note', text: 'x' }, corrects }), 409, 'entry-corrected');
    expectProblem(
      await note(id, { what: { kind: 'note', text: 'x' }, corrects: { entry: 'none', reason: 'x' } }),
      404,
      'entry-unknown',
    );
    const { text } = await daemon.get(`/api/v1/batches/${id}/record?format=html`);
    expect(text).toContain('instead of 1: a typing error');
    await end(id);
  });

  test('no more fuel is handed out than was measured, also of a batch that has ended', async () => {
    const { id } = await opened();
    const handOut = (litres: number, more: object = {}) =>
      note(id, { what: { kind: 'handed-out', use: 'used', litres }, ...more });
    // How much there is, nobody knows yet.
    const first = await handOut(50, {
      what: { kind: 'handed-out', use: 'given-away', litres: 50, to: 'Uwe' },
    });
    expect(first.status).toBe(201);
    expect((await note(id, { what: { kind: 'weighing', what: 'fuel', kg: 40 } })).status).toBe(201);
    expect((await handOut(1)).status).toBe(201);
    expect((await note(id, { what: { kind: 'volume', what: 'fuel', litres: 80 } })).status).toBe(201);
    await end(id);
    const refused = await handOut(29.1);
    expectProblem(refused, 409, 'conditions-missing');
    expect(refused.json.missing).toEqual([{ what: 'fuel-litres', has: 80, needs: 80.1 }]);
    expect((await handOut(28.9)).status).toBe(201);
    expect((await handOut(0.1)).status).toBe(201); // to the last drop: 79.9 + 0.1 is not 80 in binary fractions
    expectProblem(await handOut(0.001), 409, 'conditions-missing');
    // A correction counts instead of what it corrects.
    const corrects = { entry: first.json.id, reason: 'only half of it' };
    expectProblem(await handOut(51, { corrects }), 409, 'conditions-missing');
    expect((await handOut(25, { corrects })).status).toBe(201);
    expect((await handOut(25)).status).toBe(201);
    expect((await entriesOf(id)).filter(({ what }) => what.kind === 'handed-out')).toHaveLength(6);
  });

  test('what has not the form, or cannot be, is refused and changes nothing', async () => {
    const { id } = await opened();
    for (const what of [
      { kind: 'note', text: ' ' },
      { kind: 'note' },
      { kind: 'verdict', text: 'x' },
      { kind: 'weighing', what: 'catalyst', kg: 0 },
      { kind: 'weighing', what: 'gold', kg: 1 },
      { kind: 'test', test: '3/27', dropoutMl: -1 },
      { kind: 'test', test: '3/27', dropoutMl: 4 }, // more than the fuel
      { kind: 'test', test: 'soap', acidMl: 1, sampleG: 0, base: 'KOH' },
      { kind: 'drained', what: 'glycerol', litres: '5' },
      { kind: 'volume', what: 'fuel', litres: 0 },
      { kind: 'volume', what: 'fuel', litres: 5, atC: 101 },
      { kind: 'volume', what: 'catalyst', litres: 5 },
      { kind: 'handed-out', use: 'sold', litres: 5 },
      { kind: 'handed-out', use: 'used' },
    ])
      expectProblem(await note(id, { what }), 400, 'body-invalid');
    expectProblem(
      await note(id, { what: { kind: 'note', text: 'x' }, at: '2026-03-03T00:00:00Z' }),
      400,
      'body-invalid',
    );
    expectProblem(await note('none', { what: { kind: 'note', text: 'x' } }), 404, 'batch-unknown');
    expect(await entriesOf(id)).toEqual([]);
    await end(id);
  });

  test('in any order, by several people at once, nothing is lost, and a restart has it all', {
    timeout: 60_000,
  }, async () => {
    const what = fc.oneof(
      fc.record({
        kind: fc.constant('note'),
        text: fc.string({ minLength: 1 }).filter((text) => text.trim() !== ''),
      }),
      fc.record({
        kind: fc.constant('drained'),
        what: fc.constantFrom('water', 'glycerol'),
        litres: fc.integer({ min: 1, max: 99 }),
      }),
      fc.record({
        kind: fc.constant('test'),
        test: fc.constant('3/27'),
        dropoutMl: fc.constantFrom(0, 0.1, 3),
      }),
    );
    const ids: string[] = [];
    await fc.assert(
      fc.asyncProperty(fc.array(what, { minLength: 1, maxLength: 12 }), async (whats) => {
        const { id } = await opened();
        ids.push(id);
        const answers = await Promise.all(whats.map((one) => note(id, { what: one })));
        expect(answers.every(({ status }) => status === 201)).toBe(true);
        const entries = await entriesOf(id);
        expect(entries.map((entry) => entry.id)).toEqual(whats.map((_, i) => `${id}-${i + 1}`));
        expect(entries).toEqual(
          answers
            .map(({ json }) => json)
            .sort((a, b) => Number(a.id.split('-').at(-1)) - Number(b.id.split('-').at(-1))),
        );
        await end(id);
      }),
      { numRuns: 15 },
    );
    const before = await Promise.all(ids.map(entriesOf));
    await daemon.stop();
    const reader = openReadable(data);
    expect(isDifference(verifyDatabase(reader))).toBe(false);
    reader.close();
    daemon = await runDaemon({ clock, data }, (cleanUp) => cleanUps.push(cleanUp));
    expect(await Promise.all(ids.map(entriesOf))).toEqual(before);
  });
});
