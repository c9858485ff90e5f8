import { join } from 'node:path';
import fc from 'fast-check';
import { afterAll, expect, test } from 'vitest';
import { openReadable } from '../../../daemon/store/sqlite/database.ts';
import { isDifference, verifyDatabase } from '../../../daemon/store/sqlite/verify.ts';
import type { Condition } from '../../../shared/batch/conditions.ts';
import { batchSchema } from '../../../shared/wire/batch.ts';
import { ENDED_STAGES, STAGES, type Stage } from '../../../shared/wire/names.ts';
import { recordSchema } from '../../../shared/wire/record.ts';
import { ManualClock } from '../../support/manual-clock.ts';
import { type Answer, type RunningDaemon, runDaemon } from '../running-daemon.ts';
import { temporaryDir } from '../store/fixture.ts';

const START_MS = Date.UTC(2026, 2, 2, 8);
const MINUTE_MS = 60_000;

/** What one person does to a batch with a kitchen thermometer and a clock. */
class Maker {
  readonly #daemon: RunningDaemon;
  readonly #clock: ManualClock;
  readonly #at: string;

  constructor(daemon: RunningDaemon, clock: ManualClock, id: string) {
    this.#daemon = daemon;
    this.#clock = clock;
    this.#at = `/api/v1/batches/${id}`;
  }

  wait(minutes: number): void {
    for (let i = 0; i < minutes; i++) this.#clock.advance(MINUTE_MS);
  }

  note(what: object): Promise<Answer> {
    return this.#daemon.send('POST', `${this.#at}/entries`, { what, by: 'Ada Brook' });
  }

  test(test: string, found: object): Promise<Answer> {
    return this.note({ kind: 'test', test, ...found });
  }

  async typeIn(value: number): Promise<void> {
    const body = { channel: 'liquid-temperature', value, by: 'Ada Brook' };
    expect((await this.#daemon.send('POST', '/api/v1/vessels/jar/readings', body)).status).toBe(201);
  }

  /** Goes on once everything that is to be seen was looked at. */
  async goOn(stage: Stage, more: object = {}): Promise<Answer> {
    const { conditions } = (await this.#daemon.get(`${this.#at}/conditions?stage=${stage}`)).json;
    const seen = (conditions as Condition[])
      .filter(({ kind, met }) => kind === 'seen' && met === null)
      .map(({ what }) => what);
    return this.#daemon.send('POST', `${this.#at}/stage`, { stage, seen, by: 'Ada Brook', ...more });
  }

  async record() {
    return recordSchema.parse((await this.#daemon.get(`${this.#at}/record?format=json`)).json);
  }
}

/** A jar with nothing connected. */
async function jar(plan: object) {
  const data = join(temporaryDir(afterAll), 'data');
  const clock = new ManualClock(START_MS);
  const daemon = await runDaemon({ clock, data });
  await daemon.send('PUT', '/api/v1/sites/kitchen', { altitudeM: 620 });
  expect((await daemon.send('PUT', '/api/v1/vessels/kitchen:jar', { role: 'reactor' })).status).toBe(200);
  const opened = await daemon.send('POST', '/api/v1/batches', {
    vessel: 'kitchen:jar',
    plan,
    by: 'Ada Brook',
  });
  expect(opened.status).toBe(201);
  return {
    data,
    daemon,
    clock,
    maker: new Maker(daemon, clock, opened.json.id),
    computed: opened.json.computed,
  };
}

test('a batch with no sensor at all: a thermometer, a clock, scales and eyes', async () => {
  const plan = {
    oil: { volumeL: 1, kind: 'used', titration: { mL: [2.4, 2.5], titrant: 'KOH' } },
    catalyst: { kind: 'KOH', purityPercent: 90 },
    watch: { mixingStated: true, requiredSettleHours: 2 },
  };
  const { data, daemon, maker, computed } = await jar(plan);
  await maker.typeIn(21);
  expect((await maker.goOn('warm')).status).toBe(200);
  for (const c of [35, 48, 55]) {
    maker.wait(5);
    await maker.typeIn(c);
  }
  expect(
    (await maker.note({ kind: 'weighing', what: 'catalyst', kg: computed.catalystG / 1000 })).json.result,
  ).toMatchObject({ passed: true });
  await maker.test('water', { ppm: 300 });
  expect((await maker.goOn('dose')).status).toBe(200);
  expect((await maker.goOn('react')).status).toBe(200);
  for (let i = 0; i < 12; i++) {
    maker.wait(5);
    await maker.typeIn(54 + (i % 3));
  }
  // A thermometer that is read every five minutes shows what lies between as well as it can.
  await maker.test('3/27', { dropoutMl: 0 });
  expect((await maker.goOn('settle')).json.stages.at(-1).deviation).toBeNull();
  maker.wait(125);
  expect((await maker.goOn('drain')).status).toBe(200);
  await maker.note({ kind: 'drained', what: 'glycerol', litres: 0.16 });
  await maker.test('shake', { partsClean: true });
  expect((await maker.goOn('wash')).status).toBe(200);
  await maker.note({ kind: 'wash', method: 'stirred', waterL: 0.5 });
  await maker.test('soap', { acidMl: 0.1, sampleG: 10, base: 'KOH' });
  expect((await maker.goOn('dry-fuel')).status).toBe(200);
  await maker.typeIn(60);
  await maker.test('water', { ppm: 420 });
  await maker.note({ kind: 'volume', what: 'fuel', litres: 0.93, atC: 20 });
  const finished = await maker.goOn('finished');
  expect(finished.status).toBe(200);

  const record = await maker.record();
  expect(record.outcome).toMatchObject({ stage: 'finished', by: 'Ada Brook' });
  expect(record.deviations).toEqual([]);
  expect(record.batch.stages.flatMap(({ unseen }) => unseen)).toEqual([]);
  expect(record.channels.map(({ channel, readings }) => [channel, readings])).toEqual([
    ['liquid-temperature', 17],
  ]);
  expect(record.tests.map(({ test, passed }) => [test, passed])).toEqual([
    ['water', true],
    ['3/27', true],
    ['shake', true],
    ['soap', true],
  ]);
  expect(record.tests[0]!.limits).toMatchObject([{ most: 500, unit: 'mg/kg', within: true }]);
  expect(record.alarms).toEqual([]);
  const { text } = await daemon.get(`/api/v1/batches/${record.batch.id}/record?format=html`);
  expect(text).toContain('Finished and released by Ada Brook');
  expect(daemon.errors).toEqual([]);
  await daemon.stop();
  expect(isDifference(verifyDatabase(openReadable(data)))).toBe(false);
});

test('two passes, and a third after a failed 3/27', async () => {
  const plan = {
    oil: { volumeL: 1 },
    passes: [{ sharePercent: 80 }, { sharePercent: 20 }],
    watch: { mixingStated: true, requiredReactionMinutes: 20, requiredSettleHours: 1 },
  };
  const { maker, daemon, computed } = await jar(plan);
  expect(computed.passes).toHaveLength(2);
  await maker.goOn('warm');
  await maker.typeIn(54);
  for (const [pass, { catalystG }] of computed.passes.entries()) {
    maker.wait(1);
    const weighed = await maker.note({ kind: 'weighing', what: 'catalyst', kg: catalystG / 1000 });
    expect(weighed.json.result, `pass ${pass + 1}`).toMatchObject({ passed: true });
    maker.wait(1);
    expect((await maker.goOn('dose')).status).toBe(200);
    await maker.goOn('react');
    // Each pass is counted by itself: the time of the one before is none of this one.
    const early = await maker.goOn('settle');
    expect(early.status).toBe(409);
    expect(early.json.missing).toEqual([{ what: 'reaction-minutes', has: 0, needs: 20 }]);
    await maker.test('3/27', { dropoutMl: pass === 0 ? 0.9 : 0.3 });
    expect((await maker.goOn('settle')).status).toBe(409);
    await maker.goOn('settle', { anyway: { reason: 'settled between the passes' } });
    maker.wait(65);
    await maker.goOn('drain');
    await maker.note({ kind: 'drained', what: 'glycerol', litres: 0.08 });
  }
  // 0.3 mL drop out after both: warmed again, with a little more methoxide.
  const released = await maker.goOn('finished');
  expect(released.json.missing).toContainEqual({ what: 'conversion', has: 0, needs: 1 });
  expect((await maker.goOn('warm')).status).toBe(200);
  expect((await maker.goOn('dose')).status).toBe(200);
  await maker.goOn('react');
  await maker.test('3/27', { dropoutMl: 0 });
  expect((await maker.goOn('settle')).json.stages.at(-1).deviation).toBeNull();
  maker.wait(65);
  await maker.test('shake', { partsClean: true });
  await maker.goOn('wash');
  await maker.test('water', { ppm: 300 });
  expect((await maker.goOn('finished')).status).toBe(200);

  const record = await maker.record();
  expect(record.batch.stages.filter(({ stage }) => stage === 'dose')).toHaveLength(3);
  expect(record.deviations.map(({ stage }) => stage)).toEqual(['settle', 'settle']);
  // It stands until somebody acknowledges it: the second pass is no second alarm.
  expect(record.alarms.map(({ alarm }) => alarm)).toEqual(['reaction-short']);
  expect(record.tests.find(({ test }) => test === '3/27')).toMatchObject({ passed: true });
  expect(daemon.errors).toEqual([]);
});

test('no order of stages, moves and entries can corrupt a batch or lose an entry', {
  timeout: 120_000,
}, async () => {
  const data = join(temporaryDir(afterAll), 'data');
  const clock = new ManualClock(START_MS);
  const cleanUps: (() => Promise<void>)[] = [];
  const daemon = await runDaemon({ clock, data }, (cleanUp) => cleanUps.push(cleanUp));
  const vessels = ['v1', 'v2', 'v3'];
  for (const vessel of vessels) await daemon.read(`barn/${vessel}/liquid-temperature`, 50);
  await daemon.send('PUT', '/api/v1/sites/barn', { altitudeM: 340 });

  const vessel = fc.constantFrom(...vessels);
  const act = fc.oneof(
    {
      weight: 6,
      arbitrary: fc.record({
        do: fc.constant('stage' as const),
        body: fc.record(
          {
            stage: fc.constantFrom(...STAGES.filter((stage) => !ENDED_STAGES.includes(stage))),
            vessel: fc.option(vessel, { nil: undefined }),
            again: fc.boolean(),
            seen: fc.option(fc.constant(['methoxide-clear']), { nil: undefined }),
            anyway: fc.option(fc.constant({ reason: 'a trial' }), { nil: undefined }),
            at: fc.option(fc.integer({ min: START_MS - 3_600_000, max: START_MS }), { nil: undefined }),
          },
          { requiredKeys: ['stage'] },
        ),
      }),
    },
    {
      weight: 2,
      arbitrary: fc.record({
        do: fc.constant('move' as const),
        body: fc.record({
          from: vessel,
          to: vessel,
          what: fc.constantFrom('ester', 'glycerol'),
          litres: fc.integer({ min: 1, max: 50 }),
        }),
      }),
    },
    {
      weight: 2,
      arbitrary: fc.record({
        do: fc.constant('entries' as const),
        body: fc.record({
          what: fc.oneof(
            fc.constant({ kind: 'note', text: 'x' }),
            fc.record({
              kind: fc.constant('test'),
              test: fc.constant('3/27'),
              dropoutMl: fc.constantFrom(0, 0.4),
            }),
          ),
        }),
      }),
    },
  );
  await fc.assert(
    fc.asyncProperty(fc.array(act, { minLength: 1, maxLength: 25 }), async (acts) => {
      const { id } = (
        await daemon.send('POST', '/api/v1/batches', { vessel: 'barn:v1', plan: {}, by: 'Ada' })
      ).json;
      const done = { stage: 0, move: 0, entries: 0 };
      // Each says what was, and two of them come at once.
      for (let i = 0; i < acts.length; i += 2) {
        const answers = await Promise.all(
          acts.slice(i, i + 2).map(async (one) => ({
            one,
            answer: await daemon.send('POST', `/api/v1/batches/${id}/${one.do}`, one.body),
          })),
        );
        for (const { one, answer } of answers) {
          if (answer.status < 300) done[one.do]++;
          else expect([400, 409], answer.text).toContain(answer.status);
        }
        clock.advance(1000);
      }
      const batch = batchSchema.parse((await daemon.get(`/api/v1/batches/${id}`)).json);
      expect(batch.open).toBe(true);
      expect([batch.stages.length, batch.moves.length, batch.entries.length]).toEqual([
        done.stage,
        done.move,
        done.entries,
      ]);
      // No vessel is in a stage without a batch, and where the batch is, it is.
      const all = (await daemon.get('/api/v1/vessels')).json.vessels as {
        stage: string;
        batch: string | null;
      }[];
      for (const one of all) if (one.batch === null) expect(one.stage).toBe('idle');
      expect((await daemon.send('POST', `/api/v1/batches/${id}/stage`, { stage: 'void' })).status).toBe(200);
      const free = (await daemon.get('/api/v1/vessels')).json.vessels as { batch: string | null }[];
      expect(free.every(({ batch: of }) => of === null)).toBe(true);
    }),
    { numRuns: 40 },
  );
  const before = (await daemon.get('/api/v1/batches')).json;
  expect(daemon.errors).toEqual([]);
  for (const cleanUp of cleanUps) await cleanUp();
  // Made anew from the history, it is the same.
  const again = await runDaemon({ clock, data });
  expect((await again.get('/api/v1/batches')).json).toEqual(before);
  expect(isDifference(verifyDatabase(openReadable(data)))).toBe(false);
});
