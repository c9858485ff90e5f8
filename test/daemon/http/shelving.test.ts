import { join } from 'node:path';
import { connectAsync } from 'mqtt';
import { describe, expect, onTestFinished, test } from 'vitest';
import { alarmSchema, type LiveMessage } from '../../../shared/wire/api.ts';
import { ManualClock } from '../../support/manual-clock.ts';
import { patiently } from '../../support/patiently.ts';
import { type AnyJson, type RunningDaemon, runDaemon } from '../running-daemon.ts';
import { temporaryDir } from '../store/fixture.ts';
import { expectProblem } from './problem.ts';

const START_MS = Date.UTC(2026, 2, 2, 10);
const MINUTE_MS = 60_000;
const WHY = { by: 'Ada Brook', reason: 'the pump is being mended' };

/** A vessel in `react` whose liquid is silent: `reading-late`, high, stands since second 15. */
async function silent(data?: string): Promise<{ clock: ManualClock; daemon: RunningDaemon; id: string }> {
  const clock = new ManualClock(START_MS);
  const daemon = await runDaemon({ clock, ...(data !== undefined && { data }) });
  await daemon.read('barn/r1/liquid-temperature', 50);
  await daemon.send('PUT', '/api/v1/sites/barn', { pressureHPa: 1013.25 });
  const { json: batch } = await daemon.send('POST', '/api/v1/batches', { vessel: 'barn:r1' });
  await daemon.send('POST', `/api/v1/batches/${batch.id}/stage`, { stage: 'react' });
  clock.advance(20_000);
  const [alarm] = await standing(daemon);
  expect(alarm).toMatchObject({ alarm: 'reading-late', priority: 'high' });
  return { clock, daemon, id: alarm.id };
}

const standing = async (daemon: RunningDaemon): Promise<AnyJson[]> =>
  (await daemon.get('/api/v1/alarms?standing=true')).json.alarms;

const stored = async (daemon: RunningDaemon): Promise<AnyJson[]> =>
  (await daemon.get('/api/v1/alarms')).json.alarms;

const shelve = (daemon: RunningDaemon, id: string, body: unknown) =>
  daemon.send('POST', `/api/v1/alarms/${id}/shelve`, body);

/** Turns the heater on: the silence becomes critical. */
const heat = (daemon: RunningDaemon) => daemon.read('barn/r1/heater', 1);

test('a shelved alarm says everywhere who, why and until when, and tells nobody', async () => {
  const { daemon, id } = await silent();
  const answer = await shelve(daemon, id, { ...WHY, minutes: 30 });
  expect([answer.status, answer.text]).toEqual([204, '']);
  const shelved = { ...WHY, until: '2026-03-02T10:30:20.000Z' };
  const [alarm] = await standing(daemon);
  alarmSchema.strict().parse(alarm);
  expect(alarm).toMatchObject({ id, standing: true, shelved, told: false });
  expect((await daemon.get('/api/v1/vessels/r1')).json.alarms).toEqual([alarm]);
  await patiently(async () =>
    expect(await stored(daemon)).toMatchObject([{ id, standing: true, shelved, told: false }]),
  );
});

test('it returns at its time, to be seen anew, here and in the history', async () => {
  const { clock, daemon, id } = await silent();
  await daemon.send('POST', `/api/v1/alarms/${id}/acknowledge`, { by: 'Ben' });
  await shelve(daemon, id, { ...WHY, minutes: 30 });
  clock.advance(30 * MINUTE_MS - 1000);
  expect(await standing(daemon)).toMatchObject([{ told: false, acknowledged: { by: 'Ben' } }]);
  clock.advance(1500);
  const back = { id, standing: true, told: true, shelved: null, acknowledged: null };
  expect(await standing(daemon)).toMatchObject([back]);
  await patiently(async () => expect(await stored(daemon)).toMatchObject([back]));
});

describe('over a restart', () => {
  async function restarted(afterMs: number) {
    const data = join(temporaryDir(), 'data');
    const first = await silent(data);
    await shelve(first.daemon, first.id, { ...WHY, minutes: 30 });
    await first.daemon.stop();
    first.clock.advance(afterMs);
    const daemon = await runDaemon({ clock: first.clock, data });
    return { ...first, daemon };
  }
  const silence = (alarms: AnyJson[]) => alarms.filter(({ alarm }) => alarm === 'reading-late');

  test('it stays on the shelf, and returns at the same time', async () => {
    const { clock, daemon, id } = await restarted(MINUTE_MS);
    const until = '2026-03-02T10:30:20.000Z';
    expect(silence(await standing(daemon))).toMatchObject([{ id, told: false, shelved: { until } }]);
    clock.advance(29 * MINUTE_MS + 500);
    expect(silence(await standing(daemon))).toMatchObject([{ id, told: true, shelved: null }]);
    await patiently(async () =>
      expect(silence(await stored(daemon))).toMatchObject([{ id, told: true, shelved: null }]),
    );
  });

  test('it is back where its time ended meanwhile', async () => {
    const { clock, daemon, id } = await restarted(60 * MINUTE_MS);
    clock.advance(500);
    expect(silence(await standing(daemon))).toMatchObject([{ id, told: true, shelved: null }]);
    await patiently(async () =>
      expect(silence(await stored(daemon))).toMatchObject([{ id, told: true, shelved: null }]),
    );
  });
});

test('one that becomes graver returns at once', async () => {
  const { daemon, id } = await silent();
  await shelve(daemon, id, { ...WHY, minutes: 720 });
  await heat(daemon);
  expect(await standing(daemon)).toMatchObject([{ id, priority: 'critical', told: true, shelved: null }]);
});

test('one that clears is shelved no longer', async () => {
  const { clock, daemon, id } = await silent();
  await shelve(daemon, id, { ...WHY, minutes: 30 });
  clock.advance(1000);
  await daemon.read('barn/r1/liquid-temperature', 50);
  expect(await standing(daemon)).toMatchObject([{ id, standing: false, shelved: null }]);
  expectProblem(await shelve(daemon, id, { ...WHY, minutes: 30 }), 404, 'alarm-unknown');
});

test('a critical one is shelved for 15 min at most', async () => {
  const { daemon, id } = await silent();
  await heat(daemon);
  expectProblem(await shelve(daemon, id, { ...WHY, minutes: 16 }), 409, 'shelf-too-long');
  expect(await standing(daemon)).toMatchObject([{ shelved: null }]);
  expect((await shelve(daemon, id, { ...WHY, minutes: 15 })).status).toBe(204);
  expect(await standing(daemon)).toMatchObject([{ shelved: { until: '2026-03-02T10:15:20.000Z' } }]);
});

test('nor for longer by being shelved again before it is back', async () => {
  const { clock, daemon, id } = await silent();
  await heat(daemon);
  await shelve(daemon, id, { ...WHY, minutes: 15 });
  clock.advance(10 * MINUTE_MS);
  expectProblem(await shelve(daemon, id, { ...WHY, minutes: 6 }), 409, 'shelf-too-long');
  expect((await shelve(daemon, id, { ...WHY, minutes: 5 })).status).toBe(204);
  clock.advance(5 * MINUTE_MS + 1000);
  expect(await standing(daemon)).toMatchObject([{ shelved: null, told: true }]);
  expect((await shelve(daemon, id, { ...WHY, minutes: 15 })).status).toBe(204);
});

test('the history says of what stands what is to be done now', async () => {
  const clock = new ManualClock(START_MS);
  const daemon = await runDaemon({ clock });
  await daemon.read('barn/r1/liquid-temperature', 50);
  await daemon.send('PUT', '/api/v1/sites/barn', { pressureHPa: 1013.25 });
  const { json: batch } = await daemon.send('POST', '/api/v1/batches', { vessel: 'barn:r1' });
  const dosed = await daemon.send('POST', `/api/v1/batches/${batch.id}/stage`, { stage: 'dose' });
  expect(dosed.status).toBe(200);
  const turn = async (seconds: number, perMinute: number) => {
    for (let s = 0; s < seconds; s += 5) {
      clock.advance(5000);
      await daemon.read('barn/r1/liquid-temperature', 50);
      await daemon.read('barn/r1/stirrer-speed', perMinute);
    }
  };
  await turn(20, 250);
  await turn(140, 0);
  const todo = (alarms: AnyJson[]) => alarms.find(({ alarm }) => alarm === 'mixing-stopped').todo;
  await patiently(async () => expect(await stored(daemon)).toHaveLength(1));
  expect(todo(await stored(daemon))).toContain('Do not start it again');
  expect(todo(await stored(daemon))).toBe(todo(await standing(daemon)));
});

test('what is not there, and what has not the right form, shelves nothing', async () => {
  const { daemon, id } = await silent();
  for (const other of ['barn.r1.999', 'barn.r2.1', 'shed.r1.1', 'x', '__proto__.constructor.1', `${id}.1`]) {
    expectProblem(await shelve(daemon, other, { ...WHY, minutes: 5 }), 404, 'alarm-unknown');
  }
  const { reason } = WHY;
  for (const body of [
    { minutes: 5 },
    { reason },
    { reason: ' ', minutes: 5 },
    { reason, minutes: 0 },
    { reason, minutes: 721 },
    { reason, minutes: 1.5 },
    { reason, minutes: -5 },
    { reason, minutes: '5' },
    { reason, minutes: null },
    { reason, minutes: 5, by: '' },
    { reason, minutes: 5, until: '2026-03-02T10:30:00.000Z' },
    [],
  ]) {
    expectProblem(await shelve(daemon, id, body), 400, 'body-invalid');
  }
  expect(await standing(daemon)).toMatchObject([{ id, shelved: null }]);
  expect((await shelve(daemon, id, { reason, minutes: 720 })).status).toBe(204);
  expect(await standing(daemon)).toMatchObject([{ shelved: { by: 'someone' } }]);
  expect((await shelve(daemon, id, { reason, minutes: 1 })).status).toBe(204);
  expect(daemon.errors).toEqual([]);
});

// ---- who is told ----

/** What MQTT keeps of a vessel's alarms, the newest last. */
async function retained(daemon: RunningDaemon): Promise<AnyJson[][]> {
  const client = await connectAsync(`mqtt://127.0.0.1:${daemon.mqttPort}`);
  onTestFinished(() => client.endAsync(true));
  const lists: AnyJson[][] = [];
  client.on('message', (_, payload) => lists.push(JSON.parse(String(payload))));
  await client.subscribeAsync('esterwatch/v1/alarm/barn/r1', { qos: 1 });
  return lists;
}

type LiveAlarm = Extract<LiveMessage, { type: 'alarm' }>;
const isAlarm = (message: LiveMessage): message is LiveAlarm => message.type === 'alarm';
const isOf =
  (alarm: string) =>
  (message: LiveMessage): message is LiveAlarm =>
    isAlarm(message) && message.alarm === alarm;

test('MQTT keeps a shelved alarm in the list; live, shelving is no alarm and the return is one', async () => {
  const { clock, daemon, id } = await silent();
  const lists = await retained(daemon);
  await patiently(() => expect(lists.at(-1)).toMatchObject([{ id, told: true, shelved: null }]));
  const viewer = await daemon.look();

  await shelve(daemon, id, { ...WHY, minutes: 30 });
  await patiently(() => expect(lists.at(-1)).toMatchObject([{ id, told: false, shelved: WHY }]));
  await viewer.until(
    (message): message is LiveMessage =>
      message.type === 'estimate' && message.alarms.some(({ shelved }) => shelved !== null),
  );
  expect(viewer.messages.filter(isAlarm)).toEqual([]);

  clock.advance(30 * MINUTE_MS);
  const again = await viewer.until(isAlarm);
  expect(again).toMatchObject({ id, event: 'raised', told: true, at: '2026-03-02T10:00:15.000Z' });
  await patiently(() => expect(lists.at(-1)).toMatchObject([{ id, told: true, shelved: null }]));
});

test('an alarm that follows from another says so everywhere, and is told once it stands alone', async () => {
  const clock = new ManualClock(START_MS);
  const daemon = await runDaemon({ clock });
  await daemon.read('barn/r1/liquid-temperature', 50);
  await daemon.publish('esterwatch/v1/presence/barn/r1', 'here');
  await daemon.send('PUT', '/api/v1/sites/barn', { pressureHPa: 1013.25 });
  const { json: batch } = await daemon.send('POST', '/api/v1/batches', { vessel: 'barn:r1' });
  await daemon.send('POST', `/api/v1/batches/${batch.id}/stage`, { stage: 'react' });
  const lists = await retained(daemon);
  const viewer = await daemon.look();
  await daemon.publish('esterwatch/v1/presence/barn/r1', 'gone');
  clock.advance(20_000);

  const late = { alarm: 'reading-late', explainedBy: 'device-gone', told: false, standing: true };
  const gone = { alarm: 'device-gone', explainedBy: null, told: true };
  const alarms = await standing(daemon);
  for (const alarm of alarms) alarmSchema.strict().parse(alarm);
  expect(alarms).toMatchObject([late, gone]);
  await patiently(async () => expect(await stored(daemon)).toMatchObject([late, gone]));
  await patiently(() => expect(lists.at(-1)).toMatchObject([late, gone]));
  expect(await viewer.until(isOf('reading-late'))).toMatchObject({
    explainedBy: 'device-gone',
    told: false,
  });

  await daemon.publish('esterwatch/v1/presence/barn/r1', 'here');
  clock.advance(16_000);
  const told = await viewer.until(
    (message): message is LiveAlarm => isOf('reading-late')(message) && message.told,
  );
  expect(told).toMatchObject({ event: 'raised', explainedBy: null, at: '2026-03-02T10:00:15.000Z' });
  const alone = { alarm: 'reading-late', explainedBy: null, told: true };
  await patiently(async () =>
    expect((await stored(daemon)).find(({ alarm }) => alarm === 'reading-late')).toMatchObject(alone),
  );
  await patiently(() => expect(lists.at(-1)).toMatchObject([alone]));
});

test('what a device kept raises what is over as late, and nobody is told', async () => {
  const { clock, daemon } = await silent();
  clock.advance(10 * MINUTE_MS);
  const viewer = await daemon.look();
  const kept = [62.5, 62.4, 60].map((value, i) => ({ value, at: START_MS + 60_000 + i * 1000 }));
  await daemon.publish('esterwatch/v1/reading/barn/r1/liquid-temperature', JSON.stringify(kept));
  // It is held for a moment: what else was kept may be coming.
  clock.advance(2000);
  expect(await viewer.until(isOf('boiling-near'))).toMatchObject({ late: true, told: false });
  const over = (await standing(daemon)).find(({ alarm }) => alarm === 'boiling-near');
  expect(over).toMatchObject({ late: true, standing: false, told: false });
});
