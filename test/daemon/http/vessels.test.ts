import { describe, expect, test } from 'vitest';
import { methanolBoilingC } from '../../../shared/chemistry/methanol.ts';
import { bucketsSchema, rawReadingsSchema, vesselSchema } from '../../../shared/wire/api.ts';
import { siteSchema } from '../../../shared/wire/set-up.ts';
import { ManualClock } from '../../support/manual-clock.ts';
import { runDaemon, sharedDaemon } from '../running-daemon.ts';
import { expectProblem } from './problem.ts';

const START_MS = Date.UTC(2026, 2, 2, 10);
const TEMPERATURE = 'esterwatch/v1/reading/barn/r1/liquid-temperature';

test('vessels come with what they show now', async () => {
  const clock = new ManualClock(START_MS);
  const daemon = await runDaemon({ clock });
  await daemon.read('barn/r1/liquid-temperature', 54.5);
  await daemon.read('barn/m1/liquid-temperature', 25);
  await daemon.send('PUT', '/api/v1/sites/barn', { pressureHPa: 1013.25 });
  clock.advance(2000);
  const { status, json, headers } = await daemon.get('/api/v1/vessels');
  expect(status).toBe(200);
  expect(headers['cache-control']).toBe('no-store');
  expect(json.vessels.map(({ vessel }: { vessel: string }) => vessel).sort()).toEqual(['m1', 'r1']);
  expect(headers['content-type']).toBe('application/json; charset=utf-8');
  // It is sent without a look at its schema: nothing may be in it that the schema does not have.
  for (const vessel of json.vessels) expect(vesselSchema.parse(vessel)).toEqual(vessel);
  const one = (await daemon.get('/api/v1/vessels/barn:r1')).json;
  expect(one).toMatchObject({
    site: 'barn',
    vessel: 'r1',
    role: 'reactor',
    stage: 'idle',
    batch: null,
    boilingAssumed: false,
    alarms: [],
    readings: { 'liquid-temperature': { at: '2026-03-02T10:00:00.000Z', value: 54.5, ageMs: 2000 } },
  });
  // Methanol at 1 atm boils at 64.5 to 64.7 °C (Ambrose & Sprake 1970: 337.70 K).
  expect(one.boilingC).toBeGreaterThan(64.4);
  expect(one.boilingC).toBeLessThan(64.8);
  expect(one.headroomC).toBeCloseTo(one.boilingC - 54.5, 9);
});

test('a vessel goes by its bare name where one site has it, and else all are named', async () => {
  const daemon = await runDaemon();
  await daemon.read('barn/r1/liquid-temperature', 20);
  expect((await daemon.get('/api/v1/vessels/r1')).json).toMatchObject({ site: 'barn', vessel: 'r1' });
  await daemon.read('shed/r1/liquid-temperature', 30);
  const answer = await daemon.get('/api/v1/vessels/r1');
  expectProblem(answer, 409, 'vessel-ambiguous');
  expect(answer.json.vessels).toEqual(['barn:r1', 'shed:r1']);
  expect(answer.json.detail).toContain('barn:r1');
  expect(answer.json.detail).toContain('shed:r1');
  expect((await daemon.get('/api/v1/vessels/shed:r1')).json).toMatchObject({ site: 'shed', liquidC: 30 });
  expectProblem(await daemon.get('/api/v1/vessels/r1/readings?channel=x'), 409, 'vessel-ambiguous');
});

describe('a vessel that is not there', () => {
  const running = sharedDaemon((daemon) => daemon.read('barn/r1/liquid-temperature', 20));

  test.for([
    'r2',
    'barn:r2',
    'shed:r1',
    'barn:r1:x',
    'barn:',
    ':r1',
    'constructor',
    'barn:constructor',
    'toString',
    '__proto__',
    'x'.repeat(5000),
  ])('%s is not found', async (name) => {
    const daemon = running();
    const path = `/api/v1/vessels/${encodeURIComponent(name)}`;
    const code = name.length > 200 ? 'not-found' : 'vessel-unknown';
    expectProblem(await daemon.get(path), 404, code);
    expectProblem(await daemon.get(`${path}/readings?channel=x`), 404, code);
    const typed = { channel: 'liquid-temperature', value: 20 };
    expectProblem(await daemon.send('POST', `${path}/readings`, typed), 404, code);
    expectProblem(await daemon.send('POST', '/api/v1/batches', { vessel: name }), 404, 'vessel-unknown');
    const alarms = await daemon.get(`/api/v1/alarms?vessel=${encodeURIComponent(name)}`);
    expectProblem(alarms, 404, 'vessel-unknown');
    expect(daemon.errors).toEqual([]);
  });
});

describe('readings', () => {
  // 600 readings, one a second, with one peak and one dip.
  const readings = Array.from({ length: 600 }, (_, i) => ({
    value: i === 301 ? 99.25 : i === 402 ? 1.125 : 50 + i / 1000,
    at: START_MS - 600_000 + i * 1000,
    seq: i,
  }));
  const running = sharedDaemon((daemon) => daemon.publish(TEMPERATURE, JSON.stringify(readings)), {
    clock: new ManualClock(START_MS),
  });
  const query = (params: Record<string, string | number>) => {
    const all = Object.entries({ channel: 'liquid-temperature', ...params });
    const search = new URLSearchParams(all.map(([key, value]) => [key, String(value)]));
    return running().get(`/api/v1/vessels/barn:r1/readings?${search}`);
  };

  test('raw gives every one, the ends included, in full precision', async () => {
    const { status, json } = await query({ points: 'raw' });
    expect(status).toBe(200);
    expect(rawReadingsSchema.strict().parse(json)).toEqual({
      t: readings.map(({ at }) => at),
      value: readings.map(({ value }) => value),
      seq: readings.map(({ seq }) => seq),
    });
    const from = new Date(readings[10]!.at).toISOString();
    const part = (await query({ points: 'raw', from, to: readings[20]!.at })).json;
    expect(part.seq).toEqual([10, 11, 12, 13, 14, 15, 16, 17, 18, 19, 20]);
  });

  test.for([1, 2, 7, 50, 500])('at most %i buckets keep the extremes', async (points) => {
    const to = START_MS;
    const { status, json } = await query({ points, from: readings[0]!.at, to });
    expect(status).toBe(200);
    const { t, min, mean, max } = bucketsSchema.parse(json);
    expect(t.length).toBeGreaterThan(0);
    expect(t.length).toBeLessThanOrEqual(points);
    expect([min.length, mean.length, max.length]).toEqual([t.length, t.length, t.length]);
    expect(t).toEqual([...t].sort((a, b) => a - b));
    expect(Math.max(...max)).toBe(99.25);
    expect(Math.min(...min)).toBe(1.125);
    for (const [i, least] of min.entries()) {
      expect(least).toBeLessThanOrEqual(mean[i]!);
      expect(mean[i]!).toBeLessThanOrEqual(max[i]!);
    }
  });

  test.for(['0', '-1', '1e9', 'NaN', '', '1.5', 'Infinity', 'RAW', '9'.repeat(400), '10001'])(
    'points=%s is refused',
    async (points) => {
      expectProblem(await query({ points }), 400, 'body-invalid');
    },
  );

  test.for(['yesterday', '', '2026-13-01T00:00:00Z', '9'.repeat(400), '-8640000000000001', '2026-03-02'])(
    'from=%s is refused',
    async (from) => {
      expectProblem(await query({ from }), 400, 'body-invalid');
      expectProblem(await query({ to: from }), 400, 'body-invalid');
    },
  );

  test('from after to is refused; other channels and the far ends of time are not', async () => {
    const daemon = running();
    const empty = { t: [], min: [], mean: [], max: [] };
    for (const points of ['raw', 3]) {
      const backwards = await query({ from: START_MS, to: START_MS - 1, points });
      expectProblem(backwards, 400, 'body-invalid');
    }
    expect((await query({ from: START_MS + 1, to: START_MS + 1, points: 'raw' })).json.t).toEqual([]);
    expect((await query({ channel: 'constructor' })).json).toMatchObject(empty);
    const all = await query({ from: -8.64e15, to: 8.64e15, points: 3 });
    expect(all.status).toBe(200);
    expect(Math.max(...all.json.max)).toBe(99.25);
    expectProblem(await query({ channel: 'Liquid' }), 400, 'body-invalid');
    expectProblem(await query({ what: 'else' }), 400, 'body-invalid');
    expectProblem(await daemon.get('/api/v1/vessels/barn:r1/readings'), 400, 'body-invalid');
    expect(daemon.errors).toEqual([]);
  });
});

describe('a reading typed in', () => {
  const start = async () => {
    const clock = new ManualClock(START_MS);
    const daemon = await runDaemon({ clock });
    await daemon.read('barn/r1/heater', 0);
    const type = (body: unknown) => daemon.send('POST', '/api/v1/vessels/barn:r1/readings', body);
    return { clock, daemon, type };
  };
  const at = '2026-03-02T09:59:00.000Z';
  const typed = { channel: 'liquid-temperature', value: 54.2, at };

  test('is stored, once, and the first value stays', async () => {
    const { daemon, type } = await start();
    const first = await type(typed);
    expect(first.status).toBe(201);
    expect(first.json).toEqual({ ...typed, result: 'stored' });
    const again = await type({ ...typed, at: Date.parse(at) });
    expect(again.status).toBe(200);
    expect(again.json).toEqual({ ...typed, result: 'duplicate' });
    expectProblem(await type({ ...typed, value: 54.3 }), 409, 'value-conflict');
    const raw = await daemon.get('/api/v1/vessels/r1/readings?channel=liquid-temperature&points=raw');
    expect(raw.json).toEqual({ t: [Date.parse(at)], value: [54.2], seq: [null] });
    const vessel = await daemon.get('/api/v1/vessels/r1');
    expect(vessel.json.readings['liquid-temperature']).toMatchObject({ at, value: 54.2, typed: true });
  });

  test('without a time it is now, and two of them are two', async () => {
    const { type } = await start();
    const now = { channel: 'liquid-temperature', value: 20 };
    const first = await type(now);
    const second = await type(now);
    expect([first.status, second.status]).toEqual([201, 201]);
    expect(first.json.at).toBe('2026-03-02T10:00:00.000Z');
    expect(second.json.at).not.toBe(first.json.at);
  });

  test('of a channel that no rule reads may be anything finite', async () => {
    const { type } = await start();
    expect((await type({ ...typed, channel: 'counter', value: 1e308 })).status).toBe(201);
    expect((await type({ ...typed, channel: 'room-vapour', value: 1e6 })).status).toBe(201);
  });

  test('a minute ahead is not too far', async () => {
    const { type } = await start();
    expect((await type({ ...typed, at: START_MS + 60_000 })).status).toBe(201);
  });
});

describe('a reading typed in wrongly', () => {
  const running = sharedDaemon((daemon) => daemon.read('barn/r1/heater', 0), {
    clock: new ManualClock(START_MS),
  });
  const typed = { channel: 'liquid-temperature', value: 54.2, at: '2026-03-02T09:59:00.000Z' };

  test.for([
    { what: 'a time over a minute ahead', body: { ...typed, at: START_MS + 60_001 } },
    { what: 'a time before 2000', body: { ...typed, at: Date.UTC(2000, 0, 1) - 1 } },
    { what: 'the first moment that a date can hold', body: { ...typed, at: -8.64e15 } },
    { what: 'no value', body: { channel: 'liquid-temperature' } },
    { what: 'text for a value', body: { ...typed, value: '54.2' } },
    { what: 'null for a value', body: { ...typed, value: null } },
    { what: 'no channel', body: { value: 1 } },
    { what: 'a channel that is no name', body: { ...typed, channel: 'Liquid Temperature' } },
    { what: 'a field that it does not have', body: { ...typed, unit: 'degF' } },
    { what: 'more than any instrument says', body: { ...typed, value: 1_000_001 } },
    { what: 'the most that a number can be', body: { ...typed, value: 1e308 } },
    { what: 'the least', body: { ...typed, channel: 'stirrer-speed', value: -1e308 } },
    { what: 'a list', body: [typed] },
    { what: 'a number too large', body: `{"channel":"liquid-temperature","value":1e999}` },
  ])('$what is refused', async ({ body }) => {
    const daemon = running();
    expectProblem(await daemon.send('POST', '/api/v1/vessels/r1/readings', body), 400, 'body-invalid');
    const raw = await daemon.get('/api/v1/vessels/r1/readings?channel=liquid-temperature&points=raw&from=0');
    expect(raw.json.t).toEqual([]);
    expect(daemon.errors).toEqual([]);
  });
});

describe('sites', () => {
  test('a site is stated by altitude or by pressure', async () => {
    const daemon = await runDaemon();
    const high = await daemon.send('PUT', '/api/v1/sites/barn', { altitudeM: 1609 });
    expect(high.status).toBe(200);
    expect(siteSchema.parse(high.json)).toMatchObject({
      site: 'barn',
      altitudeM: 1609,
      pressureAssumed: false,
    });
    // Standard atmosphere, 1,609 m: 834.4 hPa (U.S. Standard Atmosphere 1976).
    expect(high.json.pressureHPa).toBeCloseTo(834.4, 0);
    const low = await daemon.send('PUT', '/api/v1/sites/barn', { pressureHPa: 990.5 });
    expect(low.json).toEqual({
      site: 'barn',
      altitudeM: null,
      pressureHPa: 990.5,
      pressureAssumed: false,
      boilingC: methanolBoilingC({ pressureHPa: 990.5 }),
      barometer: null,
      warningTested: null,
    });
    const { json } = await daemon.get('/api/v1/sites');
    expect(json).toEqual({ sites: [low.json] });
  });

  test('a site of which only readings are known says that sea level is assumed', async () => {
    const daemon = await runDaemon();
    await daemon.read('barn/r1/liquid-temperature', 20);
    expect((await daemon.get('/api/v1/sites')).json).toEqual({
      sites: [
        {
          site: 'barn',
          altitudeM: null,
          pressureHPa: 1013.25,
          pressureAssumed: true,
          boilingC: methanolBoilingC({ pressureHPa: 1013.25 }),
          barometer: null,
          warningTested: null,
        },
      ],
    });
    expect((await daemon.get('/api/v1/vessels/r1')).json.boilingAssumed).toBe(true);
  });
});

describe('a site stated wrongly', () => {
  const running = sharedDaemon(async () => {});

  test.for([
    {},
    { altitudeM: 340, pressureHPa: 1000 },
    { altitudeM: 9000 },
    { altitudeM: '340' },
    { pressureHPa: 29.92 },
    { altitudeM: 340, by: 'x' },
    null,
    'text',
  ])('%j is refused', async (body) => {
    const daemon = running();
    expectProblem(await daemon.send('PUT', '/api/v1/sites/barn', body), 400, 'body-invalid');
    expect((await daemon.get('/api/v1/sites')).json.sites).toEqual([]);
  });

  test.for(['Barn', 'a b', '-a', '__proto__', 'x'.repeat(41), 'ä'])(
    '%s is no name of a site',
    async (name) => {
      const daemon = running();
      const path = `/api/v1/sites/${encodeURIComponent(name)}`;
      expectProblem(await daemon.send('PUT', path, { altitudeM: 340 }), 400, 'body-invalid');
    },
  );
});
