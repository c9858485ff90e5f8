import { execFileSync } from 'node:child_process';
import { writeFileSync } from 'node:fs';
import { join } from 'node:path';
import fc from 'fast-check';
import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { openReadable } from '../../../daemon/store/sqlite/database.ts';
import { isDifference, verifyDatabase } from '../../../daemon/store/sqlite/verify.ts';
import { type Batch, batchSchema } from '../../../shared/wire/batch.ts';
import { type Draw, drawSchema, type Lot, lotNoteSchema, lotSchema } from '../../../shared/wire/lots.ts';
import { recordSchema } from '../../../shared/wire/record.ts';
import { ManualClock } from '../../support/manual-clock.ts';
import { type Answer, type RunningDaemon, runDaemon } from '../running-daemon.ts';
import { temporaryDir } from '../store/fixture.ts';
import { expectProblem } from './problem.ts';

const START_MS = Date.UTC(2026, 2, 2, 10);
const TITRATION = { mL: [2.4, 2.5], titrant: 'KOH', gPerL: 1 } as const;
const NOTHING_KNOWN = { titration: null, waterPpm: null, filtered: null, purityPercent: null };

let data: string;
let daemon: RunningDaemon;
let clock: ManualClock;
const cleanUps: (() => Promise<void>)[] = [];
beforeAll(async () => {
  data = join(temporaryDir(afterAll), 'data');
  clock = new ManualClock(START_MS);
  daemon = await runDaemon({ clock, data }, (cleanUp) => cleanUps.push(cleanUp));
  for (const site of ['barn', 'mill']) {
    await daemon.read(`${site}/r1/liquid-temperature`, 20);
    await daemon.send('PUT', `/api/v1/sites/${site}`, { altitudeM: 340 });
  }
}, 60_000);
afterAll(async () => {
  for (const cleanUp of cleanUps) await cleanUp();
  expect(daemon.errors).toEqual([]);
});

const post = (path: string, body: object) => daemon.send('POST', `/api/v1/${path}`, body);

async function made<T>(answer: Promise<Answer>): Promise<T> {
  const { status, json, text } = await answer;
  expect(status, text).toBe(201);
  return json;
}

const addLot = (body: object): Promise<Lot> =>
  made<Lot>(post('lots', { site: 'barn', name: 'Lot', ...body })).then((lot) =>
    lotSchema.strict().parse(lot),
  );
const oil = (body: object = {}) => addLot({ kind: 'oil', litres: 200, ...body });
const lotOf = async (id: string): Promise<Lot> =>
  lotSchema.strict().parse((await daemon.get(`/api/v1/lots/${id}`)).json);
const batchOf = async (id: string): Promise<Batch> =>
  batchSchema.parse((await daemon.get(`/api/v1/batches/${id}`)).json);
const note = (id: string, what: object, more: object = {}) => post(`lots/${id}/notes`, { what, ...more });
const drawFor = (batch: string, body: object) => post(`batches/${batch}/draws`, body);
const drawn = async (batch: string, body: object): Promise<Draw> =>
  drawSchema.strict().parse(await made<Draw>(drawFor(batch, body)));
const enter = async (batch: string, stage: string) =>
  expect((await post(`batches/${batch}/stage`, { stage, anyway: { reason: 'a test' } })).status).toBe(200);
const dropout = (batch: string, dropoutMl: number, more: object = {}) =>
  made<{ id: string }>(
    post(`batches/${batch}/entries`, { what: { kind: 'test', test: '3/27', dropoutMl }, ...more }),
  );

/** A batch on r1, whatever was there before rejected. */
async function opened(body: object = {}): Promise<Batch> {
  const { batch } = (await daemon.get('/api/v1/vessels/barn:r1')).json;
  if (batch !== null) await enter(batch, 'rejected');
  return made<Batch>(post('batches', { vessel: 'barn:r1', ...body }));
}

describe('a lot', () => {
  test('of each kind is taken in, answered, listed by site and kind, and found', async () => {
    const bodies = [
      {
        kind: 'oil',
        from: 'Lindenhof canteen',
        litres: 200,
        filtered: true,
        waterPpm: 700,
        titration: TITRATION,
        pricePerL: 0.4,
      },
      { kind: 'methanol', litres: 50, purityPercent: 99.8, openedOn: '2026-02-20', pricePerL: 1.1 },
      {
        kind: 'catalyst',
        base: 'KOH',
        kg: 25,
        purityPercent: 90,
        openedOn: '2026-01-07',
        pricePerKg: 2.3,
      },
      { kind: 'dry-bed', medium: 'hardwood sawdust', kg: 12, dueAfterL: 900, pricePerKg: 0 },
    ];
    const lots: Lot[] = [];
    for (const body of bodies)
      lots.push(await addLot({ name: body.kind, by: 'Ida', at: '2026-03-01T08:00:00.000Z', ...body }));
    expect(lots.map(({ what }) => what)).toEqual(bodies);
    expect(lots[0]).toMatchObject({
      site: 'barn',
      name: 'oil',
      by: 'Ida',
      at: '2026-03-01T08:00:00.000Z',
      noted: '2026-03-02T10:00:00.000Z',
      known: { titration: TITRATION, waterPpm: 700, filtered: true, purityPercent: null },
      litresLeft: 200,
      kgLeft: null,
      litresThrough: null,
      newest: {},
      notes: [],
      wentInto: [],
      tried: [],
    });
    expect(lots[2]).toMatchObject({ kgLeft: 25, litresLeft: null, known: { purityPercent: 90 } });
    expect(lots[3]).toMatchObject({ litresLeft: null, kgLeft: null, litresThrough: 0, due: false });

    const elsewhere = await addLot({ site: 'mill', kind: 'oil', litres: 1 });
    const listed = async (query: string): Promise<string[]> =>
      (await daemon.get(`/api/v1/lots${query}`)).json.lots.map(({ id }: Lot) => id);
    expect(await listed('?site=barn')).toEqual(lots.map(({ id }) => id).reverse());
    expect(await listed('?site=barn&kind=methanol')).toEqual([lots[1]!.id]);
    expect(new Set(await listed('?kind=oil'))).toEqual(new Set([lots[0]!.id, elsewhere.id]));
    expect(await lotOf(lots[0]!.id)).toEqual(lots[0]);
  });

  test('keeps every note, and shows the newest of each kind by its time', async () => {
    const { id } = await oil({ titration: TITRATION, waterPpm: 700 });
    const titration = { mL: 3.1, titrant: 'KOH' };
    const noted = async (what: object, more: object) =>
      lotNoteSchema.strict().parse(await made(note(id, what, more)));
    const second = await noted(
      { kind: 'titration', titration },
      { by: 'Uwe', at: '2026-03-02T09:00:00.000Z' },
    );
    const older = await noted(
      { kind: 'titration', titration: TITRATION },
      { at: '2026-03-01T09:00:00.000Z' },
    );
    const water = await noted({ kind: 'water', ppm: 250 }, { by: 'Uwe' });
    const text = await noted({ kind: 'note', text: 'smells of fish' }, {});
    const lot = await lotOf(id);
    expect(second).toMatchObject({ by: 'Uwe', at: '2026-03-02T09:00:00.000Z', what: { titration } });
    expect(lot.notes).toEqual([second, older, water, text]);
    expect(lot.newest).toEqual({ titration: second, water, note: text });
    expect(lot.known).toMatchObject({ titration, waterPpm: 250 });
    expect(lot.what).toMatchObject({ titration: TITRATION, waterPpm: 700 });
  });

  test('is refused in a form that it cannot have, and nothing is kept', async () => {
    const before = (await daemon.get('/api/v1/lots')).json;
    for (const body of [
      { kind: 'oil' },
      { kind: 'oil', litres: 0 },
      { kind: 'oil', litres: '200 L' },
      { kind: 'oil', litres: 1, kg: 1 },
      { kind: 'oil', litres: 1, titration: { mL: 900, titrant: 'NaOH' } }, // more acid than an oil has
      { kind: 'methanol', litres: 1, purityPercent: 101 },
      { kind: 'methanol', litres: 1, openedOn: '2026-02-30' },
      { kind: 'catalyst', kg: 1 },
      { kind: 'catalyst', base: 'LiOH', kg: 1 },
      { kind: 'dry-bed', medium: 'resin', kg: 1 },
      { kind: 'oils', litres: 1 },
      { kind: 'oil', litres: 1, name: ' ' },
      { kind: 'oil', litres: 1, at: '2026-03-03T00:00:00.000Z' },
    ])
      expectProblem(await post('lots', { site: 'barn', name: 'Lot', ...body }), 400, 'body-invalid');
    expectProblem(
      await post('lots', { site: 'attic', name: 'Lot', kind: 'oil', litres: 1 }),
      404,
      'site-unknown',
    );
    expect((await daemon.get('/api/v1/lots')).json).toEqual(before);
    expectProblem(await daemon.get('/api/v1/lots?site=attic'), 404, 'site-unknown');
    expectProblem(await daemon.get('/api/v1/lots?kind=oils'), 400, 'body-invalid');
    expectProblem(await daemon.get('/api/v1/lots/none'), 404, 'lot-unknown');
    expectProblem(await note('none', { kind: 'note', text: 'x' }), 404, 'lot-unknown');
  });

  test('takes no note that its kind cannot have', async () => {
    const catalyst = await addLot({ kind: 'catalyst', base: 'NaOH', kg: 5 });
    const bed = await addLot({ kind: 'dry-bed', medium: 'resin', kg: 5, dueAfterL: 10 });
    const { id } = await oil();
    for (const [lot, what] of [
      [catalyst.id, { kind: 'titration', titration: TITRATION }],
      [catalyst.id, { kind: 'count', litres: 3, reason: 'x' }],
      [catalyst.id, { kind: 'count', kg: 3, litres: 3, reason: 'x' }],
      [catalyst.id, { kind: 'count', kg: 3 }],
      [catalyst.id, { kind: 'count', kg: -1, reason: 'x' }],
      [bed.id, { kind: 'count', kg: 3, reason: 'x' }],
      [bed.id, { kind: 'soap' }],
      [id, { kind: 'soap', beforePpm: 300 }],
      [id, { kind: 'bed-changed' }],
      [id, { kind: 'titration', titration: { mL: 900, titrant: 'NaOH' } }],
      [id, { kind: 'closed' }],
    ] as const)
      expectProblem(await note(lot, what), 400, 'body-invalid');
    expect((await lotOf(id)).notes).toEqual([]);
  });
});

describe('what a batch draws', () => {
  test('takes from the stock, is in the batch with what was known then, and leads both ways', async () => {
    const { id, name } = await oil({ name: 'Autumn drum', titration: TITRATION, filtered: false });
    const batch = await opened({ name: 'First', plan: { oil: { titration: TITRATION } } });
    const draw = await drawn(batch.id, { lot: id, litres: 120, by: 'Ida', at: '2026-03-02T09:30:00.000Z' });
    expect(draw).toEqual({
      id: `${batch.id}-d1`,
      kind: 'oil',
      lot: id,
      fromBatch: null,
      name,
      litres: 120,
      kg: null,
      at: '2026-03-02T09:30:00.000Z',
      noted: '2026-03-02T10:00:00.000Z',
      by: 'Ida',
      known: { ...NOTHING_KNOWN, titration: TITRATION, filtered: false },
      deviation: null,
      undone: null,
    });
    // What is found out later was not known then; what was found out before it and is noted now was no more so.
    await made(note(id, { kind: 'water', ppm: 900 }));
    expect((await batchOf(batch.id)).draws).toEqual([draw]);
    expect(await lotOf(id)).toMatchObject({
      litresLeft: 80,
      wentInto: [{ batch: batch.id, name: 'First', draw: draw.id, litres: 120, kg: null, by: 'Ida' }],
    });
    expect(
      (await drawn(batch.id, { lot: id, litres: 1, at: '2026-03-02T09:40:00.000Z' })).known.waterPpm,
    ).toBe(null);
    expect((await drawn(batch.id, { lot: id, litres: 1 })).known.waterPpm).toBe(900);
  });

  test('more than there is is refused with what there is, and goes on with a reason, which stays', async () => {
    const { id } = await addLot({ kind: 'catalyst', base: 'KOH', kg: 1 });
    const batch = await opened({ plan: { catalyst: { kind: 'KOH' } } });
    await drawn(batch.id, { lot: id, kg: 0.7 });
    const refused = await drawFor(batch.id, { lot: id, kg: 0.4 });
    expectProblem(refused, 409, 'conditions-missing');
    const missing = [{ what: 'stock', has: 0.3, needs: 0.4 }];
    expect(refused.json.missing).toEqual(missing);
    expectProblem(
      await drawFor(batch.id, { lot: id, kg: 0.4, anyway: { reason: ' ' } }),
      400,
      'body-invalid',
    );
    expect((await lotOf(id)).kgLeft).toBe(0.3);
    const anyway = { reason: 'the bag was fuller' };
    const over = await drawn(batch.id, { lot: id, kg: 0.4, anyway });
    expect(over.deviation).toEqual({ ...anyway, missing });
    expect((await lotOf(id)).kgLeft).toBe(-0.1);
    await made(note(id, { kind: 'count', kg: 0.25, reason: 'weighed the bag' }));
    expect((await lotOf(id)).kgLeft).toBe(0.25);
    // With nothing missing there is no deviation.
    expect((await drawn(batch.id, { lot: id, kg: 0.25, anyway })).deviation).toBeNull();
    expect((await lotOf(id)).kgLeft).toBe(0);
  });

  test('what was before a count was counted', async () => {
    const { id } = await oil({ litres: 100 });
    const batch = await opened();
    await made(note(id, { kind: 'count', litres: 60, reason: 'dipped' }, { at: '2026-03-02T09:00:00.000Z' }));
    await drawn(batch.id, { lot: id, litres: 80, at: '2026-03-02T08:00:00.000Z' });
    expect((await lotOf(id)).litresLeft).toBe(60);
    expectProblem(await drawFor(batch.id, { lot: id, litres: 61 }), 409, 'conditions-missing');
  });

  test('is taken back with a reason, once, and both stay', async () => {
    const { id } = await oil();
    const batch = await opened();
    const draw = await drawn(batch.id, { lot: id, litres: 150 });
    const undo = (which: string, body: object) => post(`batches/${batch.id}/draws/${which}/undo`, body);
    expectProblem(await undo(draw.id, { by: 'Uwe' }), 400, 'body-invalid');
    expectProblem(await undo('none', { reason: 'x' }), 404, 'draw-unknown');
    clock.advance(1000);
    const undone = { reason: 'wrong drum', by: 'Uwe', at: new Date(clock.wallMs()).toISOString() };
    const answer = await undo(draw.id, { reason: 'wrong drum', by: 'Uwe' });
    expect(answer.status).toBe(200);
    expect(drawSchema.strict().parse(answer.json)).toEqual({ ...draw, undone });
    expectProblem(await undo(draw.id, { reason: 'again' }), 409, 'draw-undone');
    expect((await batchOf(batch.id)).draws).toEqual([{ ...draw, undone }]);
    expect(await lotOf(id)).toMatchObject({ litresLeft: 200, wentInto: [{ draw: draw.id, undone }] });
    await drawn(batch.id, { lot: id, litres: 200 });
  });

  test('of a closed lot wants a reason; what was before it was closed does not', async () => {
    const { id } = await oil();
    const batch = await opened();
    clock.advance(60_000);
    await made(note(id, { kind: 'closed', reason: 'the rest is sludge' }));
    expect(await lotOf(id)).toMatchObject({ closed: true, litresLeft: 200 });
    const refused = await drawFor(batch.id, { lot: id, litres: 1 });
    expectProblem(refused, 409, 'conditions-missing');
    expect(refused.json.missing).toEqual([{ what: 'open-lot', has: 0, needs: 1 }]);
    await drawn(batch.id, { lot: id, litres: 1, anyway: { reason: 'filtered it again' } });
    await drawn(batch.id, { lot: id, litres: 1, at: clock.wallMs() - 30_000 });
  });

  test('in another form than it can have is refused', async () => {
    const catalyst = await addLot({ kind: 'catalyst', base: 'KOH', kg: 1 });
    const { id } = await oil();
    const elsewhere = await addLot({ site: 'mill', kind: 'oil', litres: 10 });
    const batch = await opened();
    for (const body of [
      {},
      { litres: 1 },
      { lot: id },
      { lot: id, kg: 1 },
      { lot: id, litres: 1, kg: 1 },
      { lot: id, litres: -1 },
      { lot: id, batch: batch.id, litres: 1 },
      { lot: catalyst.id, litres: 1 },
      { lot: id, litres: 1, note: 'x' },
    ])
      expectProblem(await drawFor(batch.id, body), 400, 'body-invalid');
    expectProblem(await drawFor(batch.id, { lot: elsewhere.id, litres: 1 }), 404, 'lot-unknown');
    expectProblem(await drawFor(batch.id, { batch: 'none', litres: 1 }), 404, 'batch-unknown');
    expectProblem(await drawFor('none', { lot: id, litres: 1 }), 404, 'batch-unknown');
    expect((await batchOf(batch.id)).draws).toEqual([]);
    await enter(batch.id, 'void');
    expectProblem(await drawFor(batch.id, { lot: id, litres: 1 }), 409, 'batch-ended');
  });

  test('of two who draw the last at once one has it', async () => {
    const { id } = await oil({ litres: 100 });
    const batch = await opened();
    const answers = await Promise.all([1, 2].map(() => drawFor(batch.id, { lot: id, litres: 100 })));
    expect(answers.map(({ status }) => status).sort()).toEqual([201, 409]);
    expect((await lotOf(id)).litresLeft).toBe(0);
  });

  test('goes through a dry bed until it is due, and anew once it is changed', async () => {
    const { id } = await addLot({ kind: 'dry-bed', medium: 'resin', kg: 5, dueAfterL: 100 });
    const batch = await opened();
    const bed = async () => {
      const { litresThrough, due } = await lotOf(id);
      return [litresThrough, due];
    };
    const first = await drawn(batch.id, { lot: id, litres: 100 });
    expect(await bed()).toEqual([100, false]);
    await drawn(batch.id, { lot: id, litres: 0.1 });
    expect(await bed()).toEqual([100.1, true]);
    await made(note(id, { kind: 'soap', beforePpm: 900, afterPpm: 120 }));
    expect((await lotOf(id)).newest.soap?.what).toEqual({ kind: 'soap', beforePpm: 900, afterPpm: 120 });
    const undone = await post(`batches/${batch.id}/draws/${first.id}/undo`, { reason: 'past the bed' });
    expect(undone.status).toBe(200);
    expect(await bed()).toEqual([0.1, false]);
    await drawn(batch.id, { lot: id, litres: 300 });
    clock.advance(1000);
    await made(note(id, { kind: 'bed-changed', kg: 5 }));
    expect(await bed()).toEqual([0, false]);
    await drawn(batch.id, { lot: id, litres: 7 });
    expect(await bed()).toEqual([7, false]);
  });
});

describe('what is drawn, beside the plan', () => {
  test('is of the base planned, or wants a reason', async () => {
    const { id } = await addLot({ kind: 'catalyst', base: 'KOH', kg: 5 });
    const batch = await opened({ plan: { catalyst: { kind: 'NaOH' } } });
    const missing = [{ what: 'base-as-planned', has: 0, needs: 1 }];
    const refused = await drawFor(batch.id, { lot: id, kg: 0.5 });
    expectProblem(refused, 409, 'conditions-missing');
    expect(refused.json.missing).toEqual(missing);
    const both = await drawFor(batch.id, { lot: id, kg: 6 });
    expect(both.json.missing).toEqual([{ what: 'stock', has: 5, needs: 6 }, ...missing]);
    expect((await batchOf(batch.id)).draws).toEqual([]);
    const anyway = { reason: 'weighed for KOH' };
    const draw = await drawn(batch.id, { lot: id, kg: 0.5, anyway });
    expect(draw.deviation).toEqual({ ...anyway, missing });
    const like = await opened({ plan: { catalyst: { kind: 'KOH' } } });
    expect((await drawn(like.id, { lot: id, kg: 0.5 })).deviation).toBeNull();
  });

  test('worse than it counts with carries a caution, which is kept; as good or unknown does not', async () => {
    const plan = {
      oil: { titration: { mL: 2, titrant: 'KOH' }, waterPpm: 400 },
      catalyst: { kind: 'KOH', purityPercent: 90 },
    };
    const batch = await opened({ plan });
    const cautions: (string | undefined)[] = [];
    const cautionOf = async (lot: object, litres = true) => {
      const { id } = await addLot(lot);
      const draw = await drawn(batch.id, { lot: id, [litres ? 'litres' : 'kg']: 1 });
      cautions.push(draw.caution);
      return draw.caution;
    };
    const catalyst = { kind: 'catalyst', base: 'KOH', kg: 5 };
    expect(await cautionOf({ ...catalyst, purityPercent: 85 }, false)).toContain('85 %');
    expect(await cautionOf({ ...catalyst, purityPercent: 90 }, false)).toBeUndefined();
    expect(await cautionOf(catalyst, false)).toBeUndefined();
    const methanol = { kind: 'methanol', litres: 20 };
    expect(await cautionOf({ ...methanol, purityPercent: 97 })).toContain('97 %');
    expect(await cautionOf({ ...methanol, purityPercent: 99.9 })).toBeUndefined();
    expect(await cautionOf(methanol)).toBeUndefined();
    const drum = { kind: 'oil', litres: 200 };
    expect(await cautionOf({ ...drum, titration: { mL: 3, titrant: 'KOH' } })).toContain('50 % more');
    expect(await cautionOf({ ...drum, titration: { mL: [1.9, 2.1], titrant: 'KOH' } })).toBeUndefined();
    // As much base: 40.00 g/mol of NaOH (98 %) against 56.11 of KOH of the plan's flakes (90 %).
    const sameInNaOH = { mL: (2 * 0.9 * 40) / 56.11 / 0.98, titrant: 'NaOH', purityPercent: 98 };
    expect(
      await cautionOf({ ...drum, titration: { ...sameInNaOH, mL: sameInNaOH.mL * 0.99 } }),
    ).toBeUndefined();
    expect(await cautionOf({ ...drum, titration: { ...sameInNaOH, mL: sameInNaOH.mL * 1.01 } })).toContain(
      '1 %',
    );
    expect(await cautionOf({ ...drum, waterPpm: 401 })).toContain('401 ppm');
    expect(await cautionOf({ ...drum, waterPpm: 400 })).toBeUndefined();
    expect(await cautionOf(drum)).toBeUndefined();
    expect((await batchOf(batch.id)).draws.map(({ caution }) => caution)).toEqual(cautions);
  });

  test('goes by the newest that was known of the oil then; a plan that says nothing is for good oil', async () => {
    const { id } = await oil({ titration: { mL: 0, titrant: 'NaOH' }, waterPpm: 600 });
    const batch = await opened();
    expect((await drawn(batch.id, { lot: id, litres: 1 })).caution).toBeUndefined();
    const before = clock.wallMs();
    clock.advance(1000);
    await made(note(id, { kind: 'titration', titration: { mL: 1, titrant: 'NaOH' } }));
    await made(note(id, { kind: 'water', ppm: 601 }));
    const { caution } = await drawn(batch.id, { lot: id, litres: 1 });
    expect(caution).toContain('titrated');
    expect(caution).toContain('601 ppm');
    expect((await drawn(batch.id, { lot: id, litres: 1, at: before })).caution).toBeUndefined();
  });
});

describe('oil from a batch', () => {
  test('cannot go round in a circle, directly or through others, but where that was undone', async () => {
    const first = await opened({ name: 'First' });
    const second = await opened({ name: 'Second' });
    const third = await opened({ name: 'Third' });
    await enter(third.id, 'rejected');
    const draw = await drawn(second.id, { batch: first.id, litres: 10 });
    await drawn(third.id, { batch: second.id, litres: 10 });
    for (const from of [second, third]) {
      const refused = await drawFor(first.id, { batch: from.id, litres: 1 });
      expectProblem(refused, 409, 'batch-not-failed');
      expect(refused.json.detail).toContain('drew from First');
    }
    await drawn(third.id, { batch: first.id, litres: 1 });
    expect((await post(`batches/${second.id}/draws/${draw.id}/undo`, { reason: 'other can' })).status).toBe(
      200,
    );
    await drawn(first.id, { batch: second.id, litres: 1 });
    expectProblem(await drawFor(first.id, { batch: third.id, litres: 1 }), 409, 'batch-not-failed');
  });

  test('comes from one that was rejected, and is found from either end', async () => {
    const failed = await opened({ name: 'Failed' });
    const next = await opened({ name: 'Next' }); // the first is rejected by that
    const draw = await drawn(next.id, { batch: failed.id, litres: 40, by: 'Ida' });
    expect(draw).toMatchObject({ kind: 'oil', lot: null, fromBatch: failed.id, name: 'Failed', litres: 40 });
    const { wentInto } = await batchOf(failed.id);
    expect(wentInto).toMatchObject([
      { batch: next.id, name: 'Next', draw: draw.id, litres: 40, undone: null },
    ]);
    expect(
      (await post(`batches/${next.id}/draws/${draw.id}/undo`, { reason: 'other can', by: 'Uwe' })).status,
    ).toBe(200);
    expect((await batchOf(failed.id)).wentInto).toMatchObject([{ undone: { by: 'Uwe' } }]);
    expectProblem(await drawFor(next.id, { batch: failed.id, kg: 1 }), 400, 'body-invalid');
    expectProblem(await drawFor(failed.id, { batch: failed.id, litres: 1 }), 409, 'batch-not-failed');
  });

  test.for([
    ['rejected', [], true],
    ['rejected', [0], true],
    ['finished', [], false],
    ['finished', [0.3], true],
    ['finished', [0, 0.3], true],
    ['finished', [0.3, 0], false],
    ['void', [0.3], false],
    [null, [0.3], false],
  ] as const)('ended as %s with 3/27 of %j mL: %s', async ([stage, dropouts, allowed]) => {
    const { id } = await opened();
    for (const mL of dropouts) await dropout(id, mL);
    if (stage !== null) await enter(id, stage);
    // The one that draws is an earlier one, since a vessel has one batch at a time.
    const [, { id: into }] = (await daemon.get('/api/v1/batches')).json.batches.filter(
      (batch: Batch) => batch.stage !== 'void' || batch.id === id,
    );
    const answer = await drawFor(into, { batch: id, litres: 1 });
    if (allowed) expect(answer.status).toBe(201);
    else expectProblem(answer, 409, 'batch-not-failed');
  });

  test('a test that was corrected says nothing, and of several the newest by its time counts', async () => {
    const { id } = await opened();
    const wrong = await dropout(id, 0);
    await dropout(id, 0.2, { corrects: { entry: wrong.id, reason: 'the other jar' } });
    await dropout(id, 0, { at: clock.wallMs() - 3_600_000 });
    await enter(id, 'finished');
    const { id: into } = await opened();
    expect((await drawFor(into, { batch: id, litres: 1 })).status).toBe(201);
  });
});

describe('what was tried with an oil', () => {
  test('is each batch that drew from it and was tested, with base a litre as planned', async () => {
    const { id } = await oil();
    const jar = async (plan: object, litres: number, dropoutMl: number | null): Promise<Batch> => {
      const batch = await opened({ plan: { oil: { volumeL: 1 }, ...plan } });
      await drawn(batch.id, { lot: id, litres });
      if (dropoutMl !== null) await dropout(batch.id, dropoutMl);
      return batch;
    };
    const given = await jar({ catalyst: { kind: 'KOH', grams: 10, purityPercent: 90 } }, 1, 0);
    const titration = { mL: 2, titrant: 'NaOH', gPerL: 1, purityPercent: 98 };
    const reckoned = await jar(
      { oil: { volumeL: 2, titration }, catalyst: { kind: 'NaOH', baseGPerL: 3.5, purityPercent: 98 } },
      2,
      0.4,
    );
    await jar({}, 1, null); // nothing was tested
    const undone = await jar({}, 1, 0);
    const [draw] = (await batchOf(undone.id)).draws;
    await post(`batches/${undone.id}/draws/${draw!.id}/undo`, { reason: 'another oil' });
    const mistaken = await jar({}, 1, 0);
    await enter(mistaken.id, 'void');

    const { tried } = await lotOf(id);
    expect(tried).toEqual([
      // 10 g of 90 % on a litre.
      expect.objectContaining({ batch: given.id, litres: 1, base: 'KOH', passed: true, dropoutMl: 0 }),
      // 3.5 g/L, and 2 mL of 1 g/L of the same flakes on 1 mL: 2 g/L as weighed.
      expect.objectContaining({ batch: reckoned.id, litres: 2, base: 'NaOH', passed: false, dropoutMl: 0.4 }),
    ]);
    expect(tried[0]!.baseGPerL).toBeCloseTo(9, 9);
    expect(tried[1]!.baseGPerL).toBeCloseTo(3.5 + 2 * 0.98, 9);
  });
});

describe('the record', () => {
  test('says what the batch drew, what was known of it, and what was taken back', async () => {
    const drum = await oil({ name: 'Canteen drum', titration: TITRATION, waterPpm: 800 });
    const bag = await addLot({ name: 'Red bag', kind: 'catalyst', base: 'KOH', kg: 1, purityPercent: 90 });
    const batch = await opened({ name: 'Recorded', plan: { catalyst: { kind: 'KOH' } } });
    const first = await drawn(batch.id, { lot: drum.id, litres: 100, by: 'Ida' });
    await post(`batches/${batch.id}/draws/${first.id}/undo`, { reason: 'spilt half', by: 'Uwe' });
    await drawn(batch.id, { lot: drum.id, litres: 96.5, by: 'Ida' });
    await drawn(batch.id, { lot: bag.id, kg: 1.2, anyway: { reason: 'opened the next bag' } });
    const record = async (format: string) =>
      daemon.get(`/api/v1/batches/${batch.id}/record?format=${format}`);
    const { lots } = recordSchema.parse((await record('json')).json);
    expect(lots).toEqual((await batchOf(batch.id)).draws);
    const words = [
      'Canteen drum',
      'undone by Uwe',
      '96.5 L',
      'Red bag',
      '1.2 kg',
      '90 % pure',
      '800 ppm water',
      'opened the next bag',
    ];
    const html = (await record('html')).text;
    for (const word of [...words, 'titrated, 2.4, 2.5 mL (blank 0) of 1 g/L KOH on 1 mL'])
      expect(html).toContain(word);
    const file = join(temporaryDir(), 'record.pdf');
    writeFileSync(
      file,
      await fetch(`http://127.0.0.1:${daemon.httpPort}/api/v1/batches/${batch.id}/record?format=pdf`).then(
        (answer) => answer.bytes(),
      ),
    );
    const text = execFileSync('pdftotext', [file, '-'], { encoding: 'utf8' }).replaceAll(/\s+/g, ' ');
    for (const word of words) expect(text).toContain(word);
  });
});

test('in any order nothing is lost, and a restart has it all as it was', { timeout: 60_000 }, async () => {
  const { id } = await oil({ litres: 100 });
  const batch = await opened();
  const litres = fc.integer({ min: 1, max: 60 });
  // Now and then in the same millisecond.
  const ms = fc.constantFrom(0, 1000);
  const act = fc.oneof(
    fc.record({ does: fc.constant('draw' as const), litres, anyway: fc.boolean(), ms }),
    fc.record({ does: fc.constant('undo' as const), which: fc.nat(40), ms }),
    fc.record({ does: fc.constant('count' as const), litres, ms }),
  );
  // What there is, kept beside it: nothing is noted afterwards here.
  let left = 100;
  let draws: { id: string; litres: number; counts: boolean; undone: boolean }[] = [];
  await fc.assert(
    fc.asyncProperty(fc.array(act, { minLength: 1, maxLength: 10 }), async (acts) => {
      for (const one of acts) {
        clock.advance(one.ms);
        if (one.does === 'count') {
          await made(note(id, { kind: 'count', litres: one.litres, reason: 'dipped' }));
          left = one.litres;
          draws = draws.map((draw) => ({ ...draw, counts: false }));
        } else if (one.does === 'draw') {
          const anyway = one.anyway ? { anyway: { reason: 'it is there' } } : {};
          const answer = await drawFor(batch.id, { lot: id, litres: one.litres, ...anyway });
          expect(answer.status).toBe(one.litres > left && !one.anyway ? 409 : 201);
          if (answer.status === 409) continue;
          left -= one.litres;
          draws.push({ id: answer.json.id, litres: one.litres, counts: true, undone: false });
        } else if (draws.length > 0) {
          const draw = draws[one.which % draws.length]!;
          const answer = await post(`batches/${batch.id}/draws/${draw.id}/undo`, { reason: 'x' });
          expect(answer.status).toBe(draw.undone ? 409 : 200);
          if (!draw.undone && draw.counts) left += draw.litres;
          draw.undone = true;
        }
      }
      expect((await lotOf(id)).litresLeft).toBe(left);
      const kept = (await batchOf(batch.id)).draws;
      expect(kept.map((draw) => [draw.id, draw.litres, draw.undone !== null])).toEqual(
        draws.map((draw) => [draw.id, draw.litres, draw.undone]),
      );
    }),
    { numRuns: 20 },
  );
  const all = async () => [
    (await daemon.get('/api/v1/lots')).json,
    (await daemon.get('/api/v1/batches')).json,
  ];
  const before = await all();
  await daemon.stop();
  const reader = openReadable(data);
  expect(isDifference(verifyDatabase(reader))).toBe(false);
  reader.close();
  daemon = await runDaemon({ clock, data }, (cleanUp) => cleanUps.push(cleanUp));
  expect(await all()).toEqual(before);
});
