import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { methanolBoilingC } from '../../../shared/chemistry/methanol.ts';
import { boilingSchema, timelineSchema } from '../../../shared/wire/history.ts';
import { ManualClock } from '../../support/manual-clock.ts';
import { type AnyJson, type RunningDaemon, runDaemon } from '../running-daemon.ts';
import { expectProblem } from './problem.ts';

const START_MS = Date.UTC(2026, 2, 2, 10);
const MINUTE_MS = 60_000;

interface Past {
  daemon: RunningDaemon;
  clock: ManualClock;
  publish: (channel: string, ...readings: { value: number; at: number }[]) => Promise<void>;
}

async function past(atEnd?: (cleanUp: () => Promise<void>) => void): Promise<Past> {
  const clock = new ManualClock(START_MS);
  const daemon = await runDaemon({ clock }, atEnd);
  const publish: Past['publish'] = (channel, ...readings) =>
    daemon.publish(`esterwatch/v1/reading/barn/${channel}`, JSON.stringify(readings));
  await daemon.read('barn/r1/liquid-temperature', 20);
  return { daemon, clock, publish };
}

const boilingOf = async ({ daemon }: Past, fromMs: number, toMs: number, points: number) => {
  const { status, json, text } = await daemon.get(
    `/api/v1/vessels/r1/boiling?from=${fromMs}&to=${toMs}&points=${points}`,
  );
  expect(status, text).toBe(200);
  return boilingSchema.strict().parse(json);
};
const at = (hPa: number) => methanolBoilingC({ pressureHPa: hPa });

describe('the boiling point as it was', () => {
  test('is sea level’s and assumed until the place is stated, and the stated one from then on', async () => {
    const here = await past();
    here.clock.advance(10 * MINUTE_MS);
    await here.daemon.send('PUT', '/api/v1/sites/barn', { pressureHPa: 950 });
    here.clock.advance(10 * MINUTE_MS);
    const { t, mean, from } = await boilingOf(here, START_MS, START_MS + 20 * MINUTE_MS, 20);
    const stated = t.findIndex((ms) => ms >= START_MS + 10 * MINUTE_MS);
    expect(new Set(mean.slice(0, stated))).toEqual(new Set([at(1013.25)]));
    expect(new Set(mean.slice(stated))).toEqual(new Set([at(950)]));
    expect(new Set(from.slice(0, stated))).toEqual(new Set(['assumed']));
    expect(new Set(from.slice(stated))).toEqual(new Set(['stated']));
  });

  test('goes by the barometer for an hour after each of its readings, and spans what it read', async () => {
    const here = await past();
    await here.daemon.send('PUT', '/api/v1/sites/barn', { pressureHPa: 1000 });
    here.clock.advance(180 * MINUTE_MS);
    const readAt = START_MS + 30 * MINUTE_MS;
    // Of another vessel of the same place.
    await here.publish(
      'r2/ambient-pressure',
      { value: 990, at: readAt },
      { value: 980, at: readAt + MINUTE_MS },
    );
    const { t, min, max, from, stepMs } = await boilingOf(here, START_MS, START_MS + 180 * MINUTE_MS, 40);
    const nowhere = from.flatMap((each, i) => (each === 'barometer' ? [t[i]!] : []));
    expect(nowhere[0]).toBe(readAt);
    expect(nowhere.at(-1)! - (readAt + MINUTE_MS)).toBeLessThanOrEqual(60 * MINUTE_MS + stepMs);
    expect(nowhere.at(-1)! - (readAt + MINUTE_MS)).toBeGreaterThan(50 * MINUTE_MS);
    const i = t.indexOf(readAt);
    expect([min[i], max[i]]).toEqual([at(980), at(990)]);
    expect(from.at(-1)).toBe('stated');
    // A view that begins after the reading knows of it, too.
    const later = await boilingOf(here, readAt + 20 * MINUTE_MS, readAt + 40 * MINUTE_MS, 10);
    expect(new Set(later.from)).toEqual(new Set(['barometer']));
  });

  test('does not go by a barometer that contradicts the place', async () => {
    const here = await past();
    await here.daemon.send('PUT', '/api/v1/sites/barn', { pressureHPa: 950 });
    here.clock.advance(10 * MINUTE_MS);
    await here.publish('r1/ambient-pressure', { value: 1013, at: START_MS + MINUTE_MS });
    const { from, mean } = await boilingOf(here, START_MS, START_MS + 10 * MINUTE_MS, 10);
    expect(new Set(from)).toEqual(new Set(['stated']));
    expect(new Set(mean)).toEqual(new Set([at(950)]));
  });

  test('goes by the vessel’s own pressure before all others, and falls back when it is old', async () => {
    const here = await past();
    await here.daemon.send('PUT', '/api/v1/sites/barn', { pressureHPa: 1000 });
    here.clock.advance(20 * MINUTE_MS);
    await here.publish('r1/vessel-pressure', { value: 400, at: START_MS + 5 * MINUTE_MS });
    const { t, mean, from } = await boilingOf(here, START_MS, START_MS + 20 * MINUTE_MS, 20);
    const own = t.findLastIndex((ms) => ms <= START_MS + 5 * MINUTE_MS);
    expect([from[own], mean[own]]).toEqual(['vessel', at(400)]);
    expect(from.at(-1)).toBe('stated');
  });

  test('goes up to now and no further, and a range the wrong way round is refused', async () => {
    const here = await past();
    here.clock.advance(MINUTE_MS);
    const { t } = await boilingOf(here, START_MS, START_MS + 600 * MINUTE_MS, 1000);
    expect(t.at(-1)).toBeLessThanOrEqual(START_MS + MINUTE_MS);
    expectProblem(await here.daemon.get('/api/v1/vessels/r1/boiling?from=2000&to=1000'), 400, 'body-invalid');
  });
});

describe('what a vessel went through', () => {
  let here: Past;
  let batch: string;
  let alarm: string;
  const timeline = async (query: string, vessel = 'r1') => {
    const { status, json, text } = await here.daemon.get(`/api/v1/vessels/${vessel}/timeline?${query}`);
    expect(status, text).toBe(200);
    return timelineSchema.strict().parse(json);
  };
  const whole = `from=${START_MS}&to=${START_MS + 60 * MINUTE_MS}`;
  const sent = async (path: string, body: object): Promise<AnyJson> => {
    const { status, json, text } = await here.daemon.send('POST', path, body);
    expect(status, text).toBeLessThan(300);
    return json;
  };

  const cleanUps: (() => Promise<void>)[] = [];
  afterAll(async () => {
    for (const cleanUp of cleanUps) await cleanUp();
  });
  beforeAll(async () => {
    here = await past((cleanUp) => cleanUps.push(cleanUp));
    const { daemon, clock } = here;
    await daemon.read('barn/r2/stirrer-speed', 0);
    await daemon.send('PUT', '/api/v1/sites/barn', { pressureHPa: 1013.25 });
    clock.advance(MINUTE_MS);
    const plan = { reaction: { temperatureC: 54 }, watch: { lowestStirrerSpeed: 180 } };
    ({ id: batch } = await sent('/api/v1/batches', { vessel: 'barn:r1', name: 'First', plan, by: 'Ida' }));
    clock.advance(MINUTE_MS);
    await sent(`/api/v1/batches/${batch}/stage`, { stage: 'react', by: 'Ida' });
    await daemon.read('barn/r1/liquid-temperature', 60);
    clock.advance(1000);
    await daemon.read('barn/r1/liquid-temperature', 62.5);
    alarm = (await daemon.get('/api/v1/alarms?standing=true')).json.alarms[0].id;
    clock.advance(1000);
    await sent(`/api/v1/alarms/${alarm}/acknowledge`, { by: 'Ada Brook', reason: 'heat is off' });
    clock.advance(MINUTE_MS);
    for (const value of [60.5, 58.5]) await daemon.read('barn/r1/liquid-temperature', value);
    const early = { stage: 'settle', by: 'Ida', anyway: { reason: 'no time left' } };
    await sent(`/api/v1/batches/${batch}/stage`, early);
    clock.advance(1000);
    await sent(`/api/v1/batches/${batch}/stage`, { stage: 'rejected', by: 'Ida', reason: 'spilt' });
    clock.advance(40 * MINUTE_MS);
  });

  test('its channels, its batch with what was planned, and its stages with their ends', async () => {
    const { channels, batches, stages, more } = await timeline(whole);
    expect(channels).toEqual(['liquid-temperature']);
    const from = new Date(START_MS + MINUTE_MS).toISOString();
    expect(batches).toMatchObject([
      { batch, name: 'First', from, reactionTemperatureC: 54, lowestStirrerSpeed: 180, lowestPumpFlow: null },
    ]);
    const ended = batches[0]!.to;
    expect(Date.parse(ended!)).toBeGreaterThan(START_MS + 3 * MINUTE_MS);
    expect(stages).toMatchObject([
      { stage: 'react', batch, from: new Date(START_MS + 2 * MINUTE_MS).toISOString() },
      { stage: 'settle', batch, to: ended },
    ]);
    expect(stages[0]!.to).toBe(stages[1]!.from);
    expect(more).toBe(false);
  });

  test('alarms and deeds in their order, each with who did it and why', async () => {
    const { alarms, deeds } = await timeline(whole);
    expect(alarms.map(({ id }) => id)).toContain(alarm);
    expect(deeds.map(({ what, by, stage, reason }) => [what, by, stage, reason])).toEqual([
      ['site-stated', expect.any(String), null, null],
      ['batch-opened', 'Ida', null, null],
      ['stage', 'Ida', 'react', null],
      ['acknowledge', 'Ada Brook', null, 'heat is off'],
      ['stage', 'Ida', 'settle', 'no time left'],
      ['stage', 'Ida', 'rejected', 'spilt'],
    ]);
    expect(deeds.find(({ what }) => what === 'acknowledge')!.alarm).toBe(alarm);
  });

  test('an alarm that was over before the range is not in it, one that stood at its beginning is', async () => {
    const { alarms } = await timeline(whole);
    const { at: raised, clearedAt } = alarms.find(({ id }) => id === alarm)!;
    const ids = async (fromMs: number, toMs: number) =>
      (await timeline(`from=${fromMs}&to=${toMs}`)).alarms.map(({ id }) => id);
    const clearedMs = Date.parse(clearedAt!);
    expect(await ids(clearedMs, clearedMs + MINUTE_MS)).toContain(alarm);
    expect(await ids(clearedMs + 1, clearedMs + MINUTE_MS)).not.toContain(alarm);
    expect(await ids(START_MS, Date.parse(raised) - 1)).not.toContain(alarm);
  });

  test('another vessel of the site has its own', async () => {
    const { channels, batches, deeds } = await timeline(whole, 'r2');
    expect(channels).toEqual(['stirrer-speed']);
    expect(batches).toEqual([]);
    expect(deeds.map(({ what }) => what)).toEqual(['site-stated']);
  });
});
