import { expect, test } from 'vitest';
import { ManualClock } from '../../support/manual-clock.ts';
import { type RunningDaemon, runDaemon } from '../running-daemon.ts';
import { expectProblem } from './problem.ts';

const START_MS = Date.UTC(2026, 2, 2, 10);

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
const shelve = (daemon: RunningDaemon, id: string, body: object) =>
  daemon.send('POST', `/api/v1/alarms/${id}/shelve`, body);
const WHY = { by: 'Ada Brook', reason: 'the probe is being changed' };

test('a shelved alarm stands on with who, why and until when, tells nobody, and returns by the clock', async () => {
  const { clock, daemon, id } = await nearBoiling();
  expect((await shelve(daemon, id, { ...WHY, minutes: 30 })).status).toBe(204);
  const shelved = { ...WHY, until: '2026-03-02T10:30:01.000Z' };
  expect(await standing(daemon)).toMatchObject([{ id, standing: true, shelved, told: false }]);
  clock.advance(29 * 60_000);
  expect((await standing(daemon)).find((alarm: { id: string }) => alarm.id === id)).toMatchObject({
    shelved,
  });
  clock.advance(61_000);
  expect((await standing(daemon)).find((alarm: { id: string }) => alarm.id === id)).toMatchObject({
    shelved: null,
    standing: true,
  });
});

test('one that becomes graver is another alarm, and a critical one is shelved for 15 min at most', async () => {
  const { clock, daemon, id } = await nearBoiling();
  await shelve(daemon, id, { ...WHY, minutes: 30 });
  for (const celsius of [64.4, 64.5]) {
    clock.advance(1000);
    await daemon.read('barn/r1/liquid-temperature', celsius);
  }
  const critical = (await standing(daemon)).find(
    ({ priority }: { priority: string }) => priority === 'critical',
  );
  expect(critical).toMatchObject({ alarm: 'boiling-reached', shelved: null, told: true });
  expectProblem(await shelve(daemon, critical.id, { ...WHY, minutes: 16 }), 409, 'shelf-too-long');
  expect((await shelve(daemon, critical.id, { ...WHY, minutes: 15 })).status).toBe(204);
});

test('shelving wants a reason, a time, and an alarm that stands', async () => {
  const { clock, daemon, id } = await nearBoiling();
  for (const body of [
    { by: 'Ada', minutes: 5 },
    { ...WHY },
    { ...WHY, minutes: 0 },
    { ...WHY, minutes: 721 },
    { ...WHY, reason: ' ', minutes: 5 },
  ]) {
    expectProblem(await shelve(daemon, id, body), 400, 'body-invalid');
  }
  expectProblem(await shelve(daemon, 'barn.r1.99', { ...WHY, minutes: 5 }), 404, 'alarm-unknown');
  clock.advance(1000);
  await daemon.read('barn/r1/liquid-temperature', 60);
  expectProblem(await shelve(daemon, id, { ...WHY, minutes: 5 }), 404, 'alarm-unknown');
});
