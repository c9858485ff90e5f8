import { describe, expect, test } from 'vitest';
import { planAnswerSchema } from '../../../shared/plan/answer.ts';
import { computePlan } from '../../../shared/plan/compute.ts';
import { readPlanRequest } from '../../../shared/plan/read-request.ts';
import type { PlanRequest } from '../../../shared/plan/request.ts';
import { batchSchema } from '../../../shared/wire/batch.ts';
import { replayLineSchema } from '../../../shared/wire/replay-line.ts';
import { type RunningDaemon, runDaemon, sharedDaemon } from '../running-daemon.ts';
import { expectProblem } from './problem.ts';

const REQUEST: PlanRequest = {
  oil: {
    volumeL: 100,
    kind: 'used',
    titration: { mL: [2.2, 2.4, 2.6], titrant: 'KOH', purityPercent: 85 },
    waterPpm: 900,
  },
  methanol: { percentOfOilVolume: 25, startC: 12 },
  catalyst: { kind: 'KOH', purityPercent: 85 },
  passes: [{ sharePercent: 80 }, { sharePercent: 20 }],
  site: { altitudeM: 1609 },
  reaction: { temperatureC: 52 },
  watch: { requiredReactionMinutes: 90, limits: { dosingMarginC: 6 } },
};

/** What is wrong with a request, as the command says it. */
function sentence(request: unknown): string {
  try {
    computePlan(readPlanRequest(request));
  } catch (error) {
    return (error as Error).message;
  }
  throw new Error('there is nothing wrong with it');
}

describe('POST /api/v1/plans', () => {
  const daemon = sharedDaemon(async () => {});
  const plan = (body: unknown) => daemon().send('POST', '/api/v1/plans', body);

  test('answers with the plan, number for number', async () => {
    for (const request of [REQUEST, {}]) {
      const answer = await plan(request);
      expect(answer.status).toBe(200);
      expect(answer.json).toEqual(computePlan(request));
      expect(planAnswerSchema.parse(answer.json)).toEqual(answer.json);
    }
    const { json } = await plan(REQUEST);
    // The molar mass of KOH over that of NaOH: 5 g/L of NaOH in moles (common practice, no source).
    expect(json.catalystG).toBeCloseTo(100 * ((5 * 56.105) / 39.997 / 0.85 + 2.4), 6);
    expect(json.pressureHPa).toBeCloseTo(834.3, 1);
  });

  test('stores nothing', async () => {
    await plan(REQUEST);
    expect((await daemon().get('/api/v1/batches')).json.batches).toEqual([]);
    expect((await daemon().get('/api/v1/sites')).json.sites).toEqual([]);
  });

  test.for<[body: unknown, field: RegExp]>([
    [{ oil: { volumeL: -5 } }, /oil[./]volumeL/],
    [{ oil: { kind: 'butter' } }, /oil[./]kind/],
    [{ oil: { titration: { mL: 2 } } }, /oil[./]titration[./]titrant/],
    [{ reaction: { temperatureC: '55C' } }, /reaction[./]temperatureC/],
    [{ reaction: { temperature: 55 } }, /reaction.*temperature/],
    [{ passes: [{ sharePercent: 80 }, { sharePercent: 21 }] }, /passes/],
    [{ watch: { limits: { nearMarginK: 3 } } }, /watch[./]limits.*nearMarginK/],
    [{ site: {} }, /site/],
    [{ unknown: 1 }, /unknown/],
    // Each alone is in range.
    [{ catalyst: { grams: 9_000_000 } }, /catalyst\.grams/],
    [{ oil: { titration: { mL: 900, titrant: 'NaOH' } } }, /oil\.titration\.mL/],
  ])('%j is answered with a problem that names the field', async ([body, field]) => {
    const answer = await plan(body);
    expectProblem(answer, 400, 'body-invalid');
    expect(answer.json.detail).toMatch(field);
    expect(answer.json.detail).toBe(sentence(body));
  });

  test('of a body as large as it may be, it says little', async () => {
    const many = Object.fromEntries(Array.from({ length: 20_000 }, (_, i) => [`field${i}`, i]));
    const long = 'x'.repeat(500_000);
    for (const body of [many, { oil: many }, { oil: { kind: long } }, { [long]: 1 }]) {
      for (const answer of [
        await plan(body),
        await daemon().send('POST', '/api/v1/batches', { vessel: 'barn:r1', plan: body }),
        await daemon().send('PUT', '/api/v1/sites/barn', body),
      ]) {
        expectProblem(answer, 400, 'body-invalid');
        expect(answer.json.detail.length).toBeLessThanOrEqual(500);
      }
    }
  });

  test.for(['[]', 'null', '5', '"x"', '', '{', '{"__proto__":{}}', '{"watch":{"limits":{"__proto__":{}}}}'])(
    'the body %s is no request',
    async (body) => {
      expectProblem(await plan(body), 400, 'body-invalid');
    },
  );

  test('of another media type, or too large, it is not looked at', async () => {
    const text = await daemon().send('POST', '/api/v1/plans', '{}', { 'content-type': 'text/plain' });
    expectProblem(text, 415, 'not-json');
    expectProblem(await plan(`{}${' '.repeat(1024 * 1024)}`), 413, 'too-large');
  });

  test('is described: every field of the request and of the answer', async () => {
    const { json } = await daemon().get('/api/v1/openapi.json');
    const { requestBody, responses } = json.paths['/api/v1/plans'].post;
    const request = requestBody.content['application/json'].schema;
    expect(Object.keys(request.properties).sort()).toEqual(
      ['catalyst', 'methanol', 'oil', 'passes', 'reaction', 'site', 'vessel', 'watch'].sort(),
    );
    expect(request.properties.oil.properties.volumeL).toMatchObject({ minimum: 0.01, maximum: 100_000 });
    const answer = responses['200'].content['application/json'].schema;
    expect(Object.keys(answer.properties).sort()).toEqual(Object.keys(computePlan({})).sort());
    expect(answer.required.sort()).toEqual(Object.keys(computePlan({})).sort());
    expect(responses.default.content).toHaveProperty('application/problem+json');
  });
});

describe('a batch', () => {
  /** A daemon with a vessel at a site, of which this is stated. */
  async function bench(stated: object | null): Promise<{
    daemon: RunningDaemon;
    open(plan?: PlanRequest): Promise<ReturnType<typeof batchSchema.parse>>;
  }> {
    const daemon = await runDaemon();
    await daemon.read('barn/r1/liquid-temperature', 20);
    if (stated !== null) await daemon.send('PUT', '/api/v1/sites/barn', stated);
    return {
      daemon,
      open: async (plan) => {
        const answer = await daemon.send('POST', '/api/v1/batches', { vessel: 'barn:r1', plan });
        expect(answer.status, answer.text).toBe(201);
        return batchSchema.strict().parse(answer.json);
      },
    };
  }
  const boilingC = async (daemon: RunningDaemon): Promise<number> =>
    (await daemon.get('/api/v1/vessels/r1')).json.boilingC;

  test('freezes the plan as it was computed', async () => {
    const { daemon, open } = await bench({ altitudeM: 1609 });
    const batch = await open(REQUEST);
    const { workings: _, ...computed } = computePlan(REQUEST);
    expect(batch.request).toEqual(REQUEST);
    expect(batch.computed!).toEqual(computed);
    expect(batch.plan).toEqual(computed.watch);
    const line = { type: 'vessel', vessel: 'r1', plan: batch.plan };
    expect(replayLineSchema.parse(line)).toEqual(line);
    // What the call for plans answers is the same.
    const answer = await daemon.send('POST', '/api/v1/plans', REQUEST);
    expect(answer.json).toMatchObject(computed);
    // And it stays, whatever is said of the site later.
    await daemon.send('PUT', '/api/v1/sites/barn', { altitudeM: 0 });
    expect((await daemon.get(`/api/v1/batches/${batch.id}`)).json).toEqual(JSON.parse(JSON.stringify(batch)));
  });

  test('without a plan has the defaults, at the site’s altitude', async () => {
    const { daemon, open } = await bench({ altitudeM: 1609 });
    const batch = await open();
    const { workings: _, ...computed } = computePlan({ site: { altitudeM: 1609 } });
    expect(batch.computed!).toEqual(computed);
    expect(batch.computed!.pressureAssumed).toBe(false);
    expect(await boilingC(daemon)).toBeCloseTo(batch.computed!.methanolBoilingC, 9);
  });

  test('without a site in its plan is computed for the site’s pressure, where that is stated', async () => {
    const { open } = await bench({ pressureHPa: 900 });
    const { computed } = await open({ oil: { volumeL: 50 } });
    expect(computed!.pressureHPa).toBe(900);
    expect(computed!.oilKg).toBe(computePlan({ oil: { volumeL: 50 } }).oilKg);
  });

  test('without a site in its plan is computed for what the barometer reads', async () => {
    const { daemon, open } = await bench({ altitudeM: 1609 });
    await daemon.read('barn/r1/ambient-pressure', 820);
    const { computed } = await open();
    expect(computed!.pressureHPa).toBe(820);
    expect(computed!.cautions.map(({ code }) => code)).not.toContain('pressure-not-station');
  });

  test('of a plan whose pressure contradicts the site’s altitude: cautioned, and the lower counts', async () => {
    const { daemon, open } = await bench({ altitudeM: 1609 });
    const { computed } = await open({ site: { pressureHPa: 1013 }, reaction: { temperatureC: 60 } });
    expect(computed!.pressureHPa).toBeCloseTo(834.3, 1);
    expect(computed!.cautions.map(({ code }) => code)).toEqual([
      'reaction-above-boiling',
      'dosing-too-hot',
      'pressure-not-station',
      'glycerol-sets',
    ]);
    // The rules go by it too.
    expect(await boilingC(daemon)).toBeCloseTo(computed!.methanolBoilingC, 9);
  });

  // 1,609 m have 834 hPa: what the plan says is checked by all that the site knows.
  test.for([
    ['a stated pressure', { pressureHPa: 834 }, null, { pressureHPa: 1013 }],
    ['a barometer alone', null, 834, { pressureHPa: 1013 }],
    ['a stated altitude', { altitudeM: 1609 }, null, { altitudeM: 0 }],
    ['an altitude and a barometer', { altitudeM: 1609 }, 830, { altitudeM: 0 }],
  ] as const)(
    'of a plan from elsewhere, against %s: cautioned, and the lower counts',
    async ([, stated, read, site]) => {
      const { daemon, open } = await bench(stated);
      if (read !== null) await daemon.read('barn/r1/ambient-pressure', read);
      const { computed } = await open({ site });
      expect(computed!.cautions.map(({ code }) => code)).toContain('pressure-not-station');
      expect(computed!.pressureHPa).toBeLessThan(835);
      expect(await boilingC(daemon)).toBeLessThan(59.8);
    },
  );

  test('is computed for the air, whatever vacuum its vessel is under at the moment', async () => {
    const { daemon, open } = await bench({ altitudeM: 340 });
    await daemon.read('barn/r1/vessel-pressure', 60);
    const { computed } = await open();
    expect(computed!.pressureHPa).toBeCloseTo(973.07, 1);
  });

  test('of a plan that contradicts itself: the lower counts for the rules of a new site as well', async () => {
    const { daemon, open } = await bench(null);
    const { computed } = await open({ site: { altitudeM: 1609, pressureHPa: 1013 } });
    expect(computed!.cautions.map(({ code }) => code)).toContain('pressure-not-station');
    expect(computed!.pressureHPa).toBeCloseTo(834.3, 1);
    expect(await boilingC(daemon)).toBeCloseTo(computed!.methanolBoilingC, 9);
  });

  test('of a plan with altitude and pressure leaves a new site its altitude, and itself the day’s pressure', async () => {
    const { daemon, open } = await bench(null);
    const { computed } = await open({ site: { altitudeM: 1609, pressureHPa: 850 } });
    expect(computed!.pressureHPa).toBe(850);
    expect(await boilingC(daemon)).toBeCloseTo(computed!.methanolBoilingC, 9);
    expect((await daemon.get('/api/v1/sites')).json.sites).toMatchObject([{ site: 'barn', altitudeM: 1609 }]);
  });

  test('of a plan with a pressure that the altitude allows goes by that pressure', async () => {
    const { daemon, open } = await bench({ altitudeM: 1609 });
    const { computed } = await open({ site: { pressureHPa: 850 } });
    expect(computed!.pressureHPa).toBe(850);
    expect(computed!.cautions.map(({ code }) => code)).not.toContain('pressure-not-station');
    expect(await boilingC(daemon)).toBeCloseTo(computed!.methanolBoilingC, 9);
  });

  test('of a plan that cannot be computed is not opened', async () => {
    const { daemon } = await bench({ altitudeM: 340 });
    const answer = await daemon.send('POST', '/api/v1/batches', {
      vessel: 'barn:r1',
      plan: { catalyst: { grams: 9_000_000 } },
    });
    expectProblem(answer, 400, 'body-invalid');
    expect(answer.json.detail).toMatch(/catalyst\.grams/);
    expect((await daemon.get('/api/v1/batches')).json.batches).toEqual([]);
  });
});
