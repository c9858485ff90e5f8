import { describe, expect, test } from 'vitest';
import { alarmSchema } from '../../../shared/wire/api.ts';
import { ManualClock } from '../../support/manual-clock.ts';
import { patiently } from '../../support/patiently.ts';
import { type RunningDaemon, runDaemon, sharedDaemon } from '../running-daemon.ts';
import { expectProblem } from './problem.ts';

const START_MS = Date.UTC(2026, 2, 2, 10);

/** A vessel in `react`, whose liquid then comes near boiling: one alarm stands. */
async function nearBoiling(): Promise<{ clock: ManualClock; daemon: RunningDaemon; id: string }> {
  const clock = new ManualClock(START_MS);
  const daemon = await runDaemon({ clock });
  await daemon.read('barn/r1/liquid-temperature', 60);
  await daemon.send('PUT', '/api/v1/sites/barn', { pressureHPa: 1013.25 });
  const { json: batch } = await daemon.send('POST', '/api/v1/batches', { vessel: 'barn:r1' });
  await daemon.send('POST', `/api/v1/batches/${batch.id}/stage`, { stage: 'react' });
  clock.advance(1000);
  await daemon.read('barn/r1/liquid-temperature', 62.5);
  const { json } = await daemon.get('/api/v1/alarms?standing=true');
  return { clock, daemon, id: json.alarms[0].id };
}

const standing = async (daemon: RunningDaemon) =>
  (await daemon.get('/api/v1/alarms?standing=true')).json.alarms;

test('a standing alarm is listed with what happened and what to do', async () => {
  const { daemon, id } = await nearBoiling();
  const alarms = await standing(daemon);
  expect(alarms).toHaveLength(1);
  alarmSchema.strict().parse(alarms[0]);
  expect(alarms[0]).toMatchObject({
    id,
    at: '2026-03-02T10:00:01.000Z',
    site: 'barn',
    vessel: 'r1',
    alarm: 'boiling-near',
    event: 'raised',
    priority: 'high',
    late: false,
    standing: true,
    acknowledged: null,
  });
  expect((await daemon.get('/api/v1/vessels/r1')).json.alarms).toEqual(alarms);
  expect((await daemon.get('/api/v1/alarms?standing=true&vessel=barn:r1')).json.alarms).toEqual(alarms);
});

test('acknowledged with a reason it stands on, and the history says who and why', async () => {
  const { clock, daemon, id } = await nearBoiling();
  const path = `/api/v1/alarms/${id}/acknowledge`;
  const answer = await daemon.send('POST', path, { by: 'Ada Brook', reason: 'heat is off' });
  expect([answer.status, answer.text]).toEqual([204, '']);
  const acknowledged = { by: 'Ada Brook', reason: 'heat is off', at: '2026-03-02T10:00:01.000Z' };
  expect(await standing(daemon)).toMatchObject([{ id, standing: true, acknowledged }]);

  clock.advance(1000);
  await daemon.read('barn/r1/liquid-temperature', 60);
  expect(await standing(daemon)).toEqual([]);
  await patiently(async () => {
    const history = (await daemon.get('/api/v1/alarms')).json.alarms;
    expect(history).toMatchObject([
      { id, standing: false, clearedAt: '2026-03-02T10:00:02.000Z', acknowledged },
    ]);
    alarmSchema.strict().parse(history[0]);
  });
});

test('one that cleared stays listed until somebody acknowledges it, once', async () => {
  const { clock, daemon, id } = await nearBoiling();
  clock.advance(1000);
  await daemon.read('barn/r1/liquid-temperature', 60);
  expect(await standing(daemon)).toMatchObject([
    { id, standing: false, event: 'cleared', acknowledged: null },
  ]);
  const path = `/api/v1/alarms/${id}/acknowledge`;
  expect((await daemon.send('POST', path, {})).status).toBe(204);
  expect(await standing(daemon)).toEqual([]);
  expectProblem(await daemon.send('POST', path, { by: 'Ben' }), 404, 'alarm-unknown');
  await patiently(async () => {
    const [alarm] = (await daemon.get('/api/v1/alarms')).json.alarms;
    expect(alarm).toMatchObject({ id, acknowledged: { by: 'someone' } });
  });
});

test('a second acknowledgement of a standing alarm adds to the first without an error', async () => {
  const { daemon, id } = await nearBoiling();
  const path = `/api/v1/alarms/${id}/acknowledge`;
  await daemon.send('POST', path, { by: 'Ada', reason: 'seen' });
  expect((await daemon.send('POST', path, { by: 'Ben', reason: 'seen too' })).status).toBe(204);
  expect(await standing(daemon)).toMatchObject([{ id, standing: true, acknowledged: { by: 'Ben' } }]);
  expect((await daemon.get('/api/v1/alarms')).json.alarms).toHaveLength(1);
});

test('the history is newest first and no longer than asked', async () => {
  const { clock, daemon } = await nearBoiling();
  for (const value of [60, 62.5, 60, 62.4]) {
    clock.advance(1000);
    await daemon.read('barn/r1/liquid-temperature', value);
  }
  // Alarm events are written with the commit after the one that raised them.
  const all = await patiently(async () => {
    const { alarms } = (await daemon.get('/api/v1/alarms')).json;
    expect(alarms).toMatchObject([
      { at: '2026-03-02T10:00:05.000Z' },
      { at: '2026-03-02T10:00:03.000Z' },
      { at: '2026-03-02T10:00:01.000Z' },
    ]);
    return alarms;
  });
  expect((await daemon.get('/api/v1/alarms?limit=1')).json.alarms).toEqual(all.slice(0, 1));
});

test('what is not there, and what has not the right form, acknowledges nothing', async () => {
  const { daemon, id } = await nearBoiling();
  const acknowledge = (alarm: string, body: unknown) =>
    daemon.send('POST', `/api/v1/alarms/${alarm}/acknowledge`, body);
  for (const other of [
    'barn.r1.999',
    'barn.r2.1',
    'shed.r1.1',
    'x',
    'barn.r1',
    '__proto__.constructor.1',
    'barn.constructor.1',
    `${id}.1`,
  ]) {
    expectProblem(await acknowledge(other, {}), 404, 'alarm-unknown');
  }
  for (const body of [{ reason: '' }, { reason: '  ' }, { by: '' }, { reason: 7 }, { why: 'x' }, [], null]) {
    expectProblem(await acknowledge(id, body), 400, 'body-invalid');
  }
  expect(await standing(daemon)).toMatchObject([{ id, acknowledged: null }]);
  expect(daemon.errors).toEqual([]);
});

describe('the list asked for wrongly', () => {
  const running = sharedDaemon(async () => {});

  test.for(['limit=0', 'limit=1001', 'limit=x', 'standing=yes', 'what=else'])(
    '?%s is refused',
    async (query) => {
      expectProblem(await running().get(`/api/v1/alarms?${query}`), 400, 'body-invalid');
    },
  );
});
