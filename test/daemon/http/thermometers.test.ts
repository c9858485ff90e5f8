import { expect, test } from 'vitest';
import { standardPressureHPa } from '../../../shared/chemistry/atmosphere.ts';
import { waterBoilingC } from '../../../shared/chemistry/water.ts';
import { checkSchema, thermometerSchema } from '../../../shared/wire/thermometers.ts';
import { ManualClock } from '../../support/manual-clock.ts';
import { type RunningDaemon, runDaemon } from '../running-daemon.ts';
import { temporaryDir } from '../store/fixture.ts';
import { expectProblem } from './problem.ts';

const START_MS = Date.UTC(2026, 2, 2, 10);
const PROBE = '/api/v1/vessels/r1/thermometers/liquid-temperature';
const TOPIC = 'esterwatch/v1/reading/barn/r1/liquid-temperature';

const check = (daemon: RunningDaemon, body: object) =>
  daemon.send('POST', `${PROBE}/checks`, { by: 'Ida', ...body });
const thermometers = async (daemon: RunningDaemon) => (await daemon.get('/api/v1/thermometers')).json;
const readings = async (daemon: RunningDaemon, more = '') =>
  (
    await daemon.get(
      `/api/v1/vessels/r1/readings?channel=liquid-temperature&points=raw&from=0&to=${START_MS + 1e9}${more}`,
    )
  ).json.value;
const shown = async (daemon: RunningDaemon): Promise<number> =>
  (await daemon.get('/api/v1/vessels/r1')).json.readings['liquid-temperature'].value;

async function start(more: { data?: string; clock?: ManualClock } = {}) {
  const clock = more.clock ?? new ManualClock(START_MS);
  return { clock, daemon: await runDaemon({ clock, ...more }) };
}

test('a check at two points corrects what arrives from then on, by what water boils at there', async () => {
  const { clock, daemon } = await start();
  await daemon.read('barn/r1/liquid-temperature', 60.5);
  await daemon.send('PUT', '/api/v1/sites/barn', { altitudeM: 1609 });
  const pressureHPa = standardPressureHPa({ altitudeM: 1609 });
  const trueC = Number(waterBoilingC({ pressureHPa }).toFixed(7));
  expect(trueC).toBeGreaterThan(94);
  expect(trueC).toBeLessThan(95);

  const answer = await check(daemon, { ice: { readC: 0.5 }, boiling: { readC: trueC + 1 } });
  expect(answer.status, answer.text).toBe(201);
  expect(checkSchema.strict().parse(answer.json)).toEqual({
    site: 'barn',
    vessel: 'r1',
    channel: 'liquid-temperature',
    at: '2026-03-02T10:00:00.000Z',
    noted: '2026-03-02T10:00:00.000Z',
    by: 'Ida',
    ice: { readC: 0.5, sentC: 0.5, trueC: 0 },
    boiling: { readC: trueC + 1, sentC: trueC + 1, trueC, pressureHPa },
    due: '2027-03-02',
    deviation: null,
    ended: null,
  });

  clock.advance(1000);
  await daemon.read('barn/r1/liquid-temperature', 0.5);
  clock.advance(1000);
  await daemon.read('barn/r1/liquid-temperature', trueC + 1);
  expect(await readings(daemon)).toEqual([60.5, 0, trueC]);
  expect(await shown(daemon)).toBe(trueC);
  expect(thermometerSchema.array().parse((await thermometers(daemon)).thermometers)).toMatchObject([
    {
      vessel: 'r1',
      channel: 'liquid-temperature',
      check: answer.json,
      water: { pressureHPa, boilingC: waterBoilingC({ pressureHPa }) },
    },
  ]);
});

test('one point moves all; what is typed in stays; each is there as sent, through checks, withdrawal and restart', async () => {
  const data = `${temporaryDir()}/data`;
  const { clock, daemon } = await start({ data });
  const next = async (value: number) => {
    clock.advance(1000);
    await daemon.read('barn/r1/liquid-temperature', value);
  };
  await next(50.0625);
  expect((await check(daemon, { ice: { readC: 0.4 } })).status).toBe(201);
  await next(50.125);
  clock.advance(1000);
  await daemon.send('POST', '/api/v1/vessels/r1/readings', { channel: 'liquid-temperature', value: 50.3 });
  // Reads 0.1 as corrected: 0.5 as sent.
  const again = await check(daemon, { ice: { readC: 0.1 } });
  expect(again.json.ice).toEqual({ readC: 0.1, sentC: 0.5, trueC: 0 });
  await next(50.1875);
  const reason = 'another probe';
  const withdrawn = await daemon.send('POST', `${PROBE}/withdraw`, { reason, by: 'Ada' });
  expect(withdrawn.json).toMatchObject({ check: null, overdue: false });
  await next(50.25);

  const kept = [50.0625, 49.725, 50.3, 49.6875, 50.25];
  const sent = [50.0625, 50.125, 50.3, 50.1875, 50.25];
  const expectAll = async (running: RunningDaemon) => {
    expect(await readings(running)).toEqual(kept);
    expect(await readings(running, '&as=sent')).toEqual(sent);
    const { checks } = (await running.get(`${PROBE}/checks`)).json;
    expect(checks.slice(-2).map(({ ice, ended }: { ice: object; ended: object }) => [ice, ended])).toEqual([
      [
        { readC: 0.1, sentC: 0.5, trueC: 0 },
        { at: '2026-03-02T10:00:04.000Z', by: 'Ada', reason },
      ],
      [
        { readC: 0.4, sentC: 0.4, trueC: 0 },
        { at: '2026-03-02T10:00:03.000Z', by: 'Ida', reason: null },
      ],
    ]);
  };
  await expectAll(daemon);
  const { deeds } = (await daemon.get(`/api/v1/vessels/r1/timeline?from=${START_MS}&to=${clock.wallMs()}`))
    .json;
  expect(
    deeds
      .filter(({ what }: { what: string }) => what.startsWith('thermometer'))
      .map(({ what, by, reason }: Record<string, unknown>) => [what, by, reason]),
  ).toEqual([
    ['thermometer-checked', 'Ida', null],
    ['thermometer-checked', 'Ida', null],
    ['thermometer-check-withdrawn', 'Ada', 'another probe'],
  ]);
  expect((await check(daemon, { ice: { readC: 1 } })).status).toBe(201);
  await daemon.stop();

  const { daemon: later } = await start({ data, clock });
  await expectAll(later);
  clock.advance(1000);
  await later.read('barn/r1/liquid-temperature', 51);
  expect(await shown(later)).toBe(50);
});

test('a check that is sent again is the same one, and one read under another check is refused', async () => {
  const { clock, daemon } = await start();
  await daemon.read('barn/r1/liquid-temperature', 20);
  const ice = { readC: 0.3 };
  const checks = async () => (await daemon.get(`${PROBE}/checks`)).json.checks;
  const first = await check(daemon, { ice });
  for (let i = 0; i < 5; i++) {
    clock.advance(20_000);
    const again = await check(daemon, i % 2 === 0 ? { ice } : { ice, readUnder: null });
    expect([again.status, again.json]).toEqual([201, first.json]);
  }
  expect(await checks()).toHaveLength(1);
  // Of somebody else, it was read before that one stood.
  expectProblem(await check(daemon, { ice, by: 'Ada', readUnder: null }), 409, 'thermometer-rechecked');
  expectProblem(
    await check(daemon, { ice: { readC: 0.4 }, readUnder: '2026-03-02T09:00:00Z' }),
    409,
    'thermometer-rechecked',
  );
  expect(await checks()).toHaveLength(1);
  // The same number, but of a probe that is off once more.
  const second = await check(daemon, { ice, readUnder: first.json.noted });
  expect(second.json.ice).toEqual({ readC: 0.3, sentC: 0.6, trueC: 0 });
  expect((await check(daemon, { ice, readUnder: first.json.noted })).json).toEqual(second.json);
  clock.advance(600_001);
  expect((await check(daemon, { ice })).json.ice.sentC).toBe(0.9);
  await daemon.send('POST', `${PROBE}/withdraw`, { reason: 'another probe' });
  expectProblem(await check(daemon, { ice, readUnder: second.json.noted }), 409, 'thermometer-rechecked');
  expect((await check(daemon, { ice, readUnder: null })).json.ice.sentC).toBe(0.3);
});

test('what came before a check and comes again after it adds nothing, and is refused nowhere', async () => {
  const { clock, daemon } = await start();
  const kept = Array.from({ length: 3 }, (_, seq) => ({ value: 60 + seq, at: START_MS + 100 * seq, seq }));
  clock.advance(1000);
  await daemon.publish(TOPIC, JSON.stringify(kept.slice(0, 2)));
  expect((await check(daemon, { ice: { readC: 1 } })).status).toBe(201);
  // What a device had kept is corrected by what stands when it arrives.
  await daemon.publish(TOPIC, JSON.stringify(kept));
  expect((await check(daemon, { ice: { readC: 0.5 } })).status).toBe(201);
  await daemon.publish(TOPIC, JSON.stringify(kept));
  expect(await readings(daemon)).toEqual([60, 61, 61]);
  expect(await readings(daemon, '&as=sent')).toEqual([60, 61, 62]);
  expect((await daemon.get('/api/v1/refused')).json.refused).toEqual([]);

  await daemon.publish(TOPIC, JSON.stringify([{ ...kept[0], value: 70 }]));
  expect((await daemon.get('/api/v1/refused')).json.refused).toMatchObject([{ code: 'value-conflict' }]);
});

test('the rules go by the corrected value, live and in a replay of the run', async () => {
  const { clock, daemon } = await start();
  await daemon.read('barn/r1/liquid-temperature', 20);
  await daemon.send('PUT', '/api/v1/sites/barn', { pressureHPa: 1013.25 });
  expect((await check(daemon, { ice: { readC: 2 } })).status).toBe(201);
  const { json: batch } = await daemon.send('POST', '/api/v1/batches', {
    vessel: 'barn:r1',
    name: 'one',
    plan: {},
  });
  for (const stage of ['warm', 'dose', 'react']) {
    const body = { stage, anyway: { reason: 'to see' } };
    expect((await daemon.send('POST', `/api/v1/batches/${batch.id}/stage`, body)).status).toBe(200);
  }
  clock.advance(60_000);
  const values = Array.from({ length: 60 }, (_, i) => ({
    value: 60 + i / 20,
    at: START_MS + 1000 * (i + 1),
  }));
  await daemon.publish(TOPIC, JSON.stringify(values));
  const highest = 60 + 59 / 20 - 2;
  const vessel = (await daemon.get('/api/v1/vessels/r1')).json;
  expect(vessel.liquidC).toBe(highest);
  // 62.9 as sent would be within 3 °C of boiling.
  const names = async () =>
    (await daemon.get('/api/v1/alarms')).json.alarms.map(({ alarm }: { alarm: string }) => alarm);
  expect(await names()).not.toContain('boiling-near');

  const record = (await daemon.get(`/api/v1/batches/${batch.id}/record?format=json`)).json;
  expect(record.vessels[0].highestLiquidC).toBe(highest);
  const csv = (await daemon.get(`/api/v1/batches/${batch.id}/record?format=csv`)).text;
  expect(csv.trimEnd().split('\n').at(-1)).toMatch(new RegExp(`,liquid-temperature,${highest},device$`));
  const buckets = (
    await daemon.get(
      `/api/v1/vessels/r1/readings?channel=liquid-temperature&points=1&from=${START_MS + 1000}`,
    )
  ).json;
  expect(buckets.max).toEqual([highest]);
});

test('a record says how its thermometers were checked in its time, and that one is overdue', async () => {
  const { clock, daemon } = await start({ clock: new ManualClock(Date.UTC(2026, 2, 2, 23, 59, 50)) });
  await daemon.read('barn/r1/liquid-temperature', 20);
  await daemon.read('barn/r1/liquid-temperature-2', 20);
  await daemon.send('PUT', '/api/v1/sites/barn', { pressureHPa: 950 });
  const at = '2026-03-01T09:00:00Z';
  const first = await check(daemon, {
    ice: { readC: 0.25 },
    boiling: { readC: 98.5 },
    at,
    due: '2026-03-02',
  });
  clock.advance(1000);
  const { json: batch } = await daemon.send('POST', '/api/v1/batches', {
    vessel: 'barn:r1',
    name: 'one',
    plan: {},
  });
  const stage = (name: string) =>
    daemon.send('POST', `/api/v1/batches/${batch.id}/stage`, { stage: name, anyway: { reason: 'to see' } });
  expect((await stage('warm')).status).toBe(200);
  for (const channel of ['liquid-temperature', 'liquid-temperature-2', 'stirrer-speed'])
    await daemon.read(`barn/r1/${channel}`, 20);
  const record = async (format: string) => daemon.get(`/api/v1/batches/${batch.id}/record?format=${format}`);
  const due = [
    { vessel: 'r1', channel: 'liquid-temperature', checks: [first.json], overdue: false },
    { vessel: 'r1', channel: 'liquid-temperature-2', checks: [], overdue: false },
  ];
  expect((await record('json')).json.thermometers).toEqual(due);
  expect((await record('html')).text).not.toContain('OVERDUE');
  clock.advance(10_000);
  expect((await stage('rejected')).status).toBe(200);
  clock.advance(1000);
  // What is done later was not so then.
  expect((await check(daemon, { ice: { readC: 0.5 } })).status).toBe(201);
  expect((await record('json')).json.thermometers).toEqual([{ ...due[0], overdue: true }, due[1]]);
  const page = (await record('html')).text;
  for (const said of ['2026-03-01 09:00:00', 'Ida', '950.0 hPa', '2026-03-02: OVERDUE', 'NOT CHECKED'])
    expect(page).toContain(said);
  expect((await record('pdf')).status).toBe(200);
});

test('a large error wants a reason, and one that is none is refused', async () => {
  const { daemon } = await start();
  await daemon.read('barn/r1/liquid-temperature', 20);
  const large = await check(daemon, { ice: { readC: -2.01 } });
  expectProblem(large, 409, 'conditions-missing');
  expect(large.json.missing).toEqual([{ what: 'ice-water', has: 2.01, needs: 2 }]);
  expect((await thermometers(daemon)).thermometers[0].check).toBeNull();
  expect((await check(daemon, { ice: { readC: -2 } })).json.deviation).toBeNull();
  const anyway = { reason: 'twice, in fresh ice' };
  // As it is shown now: 2 °C more than it sends.
  const kept = await check(daemon, { ice: { readC: -1 }, anyway });
  expect(kept.json).toMatchObject({ ice: { sentC: -3 }, deviation: anyway });
  expectProblem(await check(daemon, { ice: { readC: 32 }, anyway }), 400, 'body-invalid');
  expectProblem(
    await check(daemon, { boiling: { readC: 100, pressureHPa: 600 }, anyway }),
    400,
    'body-invalid',
  );
  expectProblem(await check(daemon, { ice: { readC: 0 }, anyway: { reason: ' ' } }), 400, 'body-invalid');
});

test('boiling water counts by a pressure that is known, never by one that is assumed', async () => {
  const { daemon } = await start();
  await daemon.read('barn/r1/liquid-temperature', 20);
  const unknown = await check(daemon, { boiling: { readC: 99 } });
  expectProblem(unknown, 409, 'conditions-missing');
  expect(unknown.json.missing).toEqual([{ what: 'altitude', has: 0, needs: 1 }]);
  expect((await thermometers(daemon)).thermometers[0].water).toBeNull();
  const pressureHPa = 950;
  const stated = await check(daemon, { boiling: { readC: 98.5, pressureHPa } });
  expect(stated.json.boiling).toEqual({
    readC: 98.5,
    sentC: 98.5,
    trueC: Number(waterBoilingC({ pressureHPa }).toFixed(7)),
    pressureHPa,
  });
  await daemon.read('barn/r1/ambient-pressure', 980);
  const heard = await check(daemon, { boiling: { readC: 99 } });
  expect(heard.json.boiling.pressureHPa).toBe(980);
});

test('boiling water is refused at a pressure that is reduced to sea level, or is none of any air', async () => {
  const { daemon } = await start();
  await daemon.read('barn/r1/liquid-temperature', 20);
  await daemon.send('PUT', '/api/v1/sites/barn', { altitudeM: 1609 });
  const standard = standardPressureHPa({ altitudeM: 1609 });
  const at = (pressureHPa: number) => {
    const readC = Number(waterBoilingC({ pressureHPa }).toFixed(2));
    return check(daemon, { boiling: { readC, pressureHPa }, anyway: { reason: 'a good barometer' } });
  };
  for (const pressureHPa of [1013.25, standard + 40.1, standard - 40.1])
    expectProblem(await at(pressureHPa), 409, 'pressure-not-station');
  expect((await thermometers(daemon)).thermometers[0].check).toBeNull();
  for (const pressureHPa of [standard + 39.9, standard - 39.9])
    expect((await at(pressureHPa)).status).toBe(201);
  await daemon.send('PUT', '/api/v1/sites/barn', { pressureHPa: 950 });
  for (const pressureHPa of [199.9, 1100.1]) expectProblem(await at(pressureHPa), 400, 'body-invalid');
  expect((await at(1013.25)).status).toBe(201);
});

test('a check is due when it says, and is overdue from the day after', async () => {
  const { clock, daemon } = await start({ clock: new ManualClock(Date.UTC(2026, 2, 2, 23, 59, 59)) });
  await daemon.read('barn/r1/liquid-temperature', 20);
  const noted = { ice: { readC: 0 }, at: '2026-03-01T09:00:00Z' };
  for (const due of ['2026-03-01', '2026-02-30', 'soon'])
    expectProblem(await check(daemon, { ...noted, due }), 400, 'body-invalid');
  expect((await check(daemon, noted)).json).toMatchObject({
    at: '2026-03-01T09:00:00.000Z',
    due: '2027-03-01',
  });
  expect((await check(daemon, { ...noted, due: '2026-03-02' })).json.due).toBe('2026-03-02');
  const overdue = async () => (await thermometers(daemon)).thermometers[0].overdue;
  expect(await overdue()).toBe(false);
  clock.advance(1000);
  expect(await overdue()).toBe(true);
});

test('what is no thermometer is not checked, and a body says what was read', async () => {
  const { daemon } = await start();
  await daemon.read('barn/r1/stirrer-speed', 300);
  await daemon.send('POST', '/api/v1/vessels/r1/readings', { channel: 'liquid-temperature', value: 20 });
  expect((await thermometers(daemon)).thermometers).toEqual([]);
  const at = (channel: string) => `/api/v1/vessels/r1/thermometers/${channel}`;
  for (const channel of ['stirrer-speed', 'liquid-temperature-2', 'x']) {
    const body = { ice: { readC: 0 } };
    expectProblem(await daemon.send('POST', `${at(channel)}/checks`, body), 404, 'thermometer-unknown');
    expectProblem(await daemon.get(`${at(channel)}/checks`), 404, 'thermometer-unknown');
  }
  const withdraw = await daemon.send('POST', `${PROBE}/withdraw`, { reason: 'none' });
  expectProblem(withdraw, 409, 'thermometer-unchecked');
  for (const body of [
    {},
    { ice: 0 },
    { ice: { readC: null } },
    { ice: { readC: '0' } },
    { ices: { readC: 0 } },
  ])
    expectProblem(await check(daemon, body), 400, 'body-invalid');
  const buckets = await daemon.get('/api/v1/vessels/r1/readings?channel=liquid-temperature&as=sent');
  expectProblem(buckets, 400, 'body-invalid');
});
