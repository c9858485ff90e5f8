import { expect, test, vi } from 'vitest';
import { Replay } from '../../../shared/engine/replay.ts';
import { alarmWhySchema } from '../../../shared/wire/alarm-why.ts';
import { readingTopic } from '../../../shared/wire/topics.ts';
import { ManualClock } from '../../support/manual-clock.ts';
import { type RunningDaemon, runDaemon } from '../running-daemon.ts';
import { expectProblem } from './problem.ts';

const START_MS = Date.UTC(2026, 2, 2, 10);

/** A batch in `react` with a limit of its own, whose liquid comes near boiling twice. */
async function twiceNear(): Promise<{ daemon: RunningDaemon; batch: string; clock: ManualClock }> {
  const clock = new ManualClock(START_MS);
  const daemon = await runDaemon({ clock });
  await daemon.read('barn/r1/liquid-temperature', 55);
  const plan = { site: { altitudeM: 0 }, watch: { limits: { nearMarginC: 4 } } };
  const opened = await daemon.send('POST', '/api/v1/batches', { vessel: 'barn:r1', plan, name: 'Spring' });
  const batch = opened.json.id;
  const react = { stage: 'react', anyway: { reason: 'a test' } };
  expect((await daemon.send('POST', `/api/v1/batches/${batch}/stage`, react)).status).toBe(200);
  for (const value of [58, 61, 58, 61.2, 58]) {
    clock.advance(60_000);
    await daemon.read('barn/r1/liquid-temperature', value);
  }
  return { daemon, batch, clock };
}

const history = (daemon: RunningDaemon, query = '') =>
  vi.waitFor(async () => {
    const { alarms } = (await daemon.get(`/api/v1/alarms${query}`)).json;
    expect(alarms.length).toBeGreaterThan(0);
    return alarms;
  });

test('an alarm says what it went by, and whose batch it was', async () => {
  const { daemon, batch } = await twiceNear();
  const [second, first] = await history(daemon, '?alarm=boiling-near');
  const { json } = await daemon.get(`/api/v1/alarms/${first.id}`);
  const why = alarmWhySchema.parse(json);
  expect(why).toMatchObject({
    alarm: { id: first.id, at: '2026-03-02T10:02:00.000Z', limit: 4, standing: false },
    batch: { id: batch, name: 'Spring' },
    plan: { limits: { nearMarginC: 4, reachedMarginC: 0.5 } },
  });
  expect(second.id).not.toBe(first.id);
  for (const id of ['barn.r1.99', 'barn', 'x.y.z', '__proto__.constructor.1', '.']) {
    expectProblem(await daemon.get(`/api/v1/alarms/${id}`), 404, 'alarm-unknown');
  }
  expect(daemon.errors).toEqual([]);
});

test('an alarm outside a batch has none, and went by the defaults', async () => {
  const { daemon, clock } = await twiceNear();
  clock.advance(1000);
  await daemon.read('barn/spare/liquid-temperature', 20);
  clock.advance(1000);
  await daemon.read('barn/spare/liquid-temperature', -127);
  const [alarm] = await history(daemon, '?alarm=probe-out-of-range');
  const { json } = await daemon.get(`/api/v1/alarms/${alarm.id}`);
  expect(json).toMatchObject({ batch: null, plan: { limits: { nearMarginC: 3 } } });
});

test('the history can be asked for by name and by time', async () => {
  const { daemon } = await twiceNear();
  const times = async (query: string) =>
    (await history(daemon, query)).map(({ at }: { at: string }) => at.slice(11, 16));
  await vi.waitFor(async () => expect(await times('?alarm=boiling-near')).toEqual(['10:04', '10:02']));
  const minute = (n: number) => START_MS + 60_000 * n;
  expect(await times(`?alarm=boiling-near&from=${minute(3)}`)).toEqual(['10:04']);
  expect(await times(`?alarm=boiling-near&to=${minute(4) - 1}`)).toEqual(['10:02']);
  expect(await times(`?alarm=boiling-near&from=${minute(2)}&to=${minute(4)}`)).toEqual(['10:04', '10:02']);
  expect((await daemon.get('/api/v1/alarms?alarm=rising-fast')).json.alarms).toEqual([]);
  expectProblem(await daemon.get('/api/v1/alarms?from=yesterday'), 400, 'body-invalid');
});

test('the run of a batch is streamed as lines that replay to the same alarms', async () => {
  const { daemon, batch } = await twiceNear();
  // Alarm events are written with the commit after the one that raised them.
  await daemon.read('barn/r2/liquid-temperature', 20);
  const { status, headers, text } = await daemon.get(`/api/v1/batches/${batch}/run`);
  expect(status).toBe(200);
  expect(headers['content-type']).toContain('application/x-ndjson');
  const run = new Replay();
  const told = text
    .trimEnd()
    .split('\n')
    .flatMap((line) => run.push(line)) as { type: string; event?: string; alarm: string; at: string }[];
  expect(told.filter(({ type }) => type === 'refused')).toEqual([]);
  const raised = told.filter(({ event }) => event === 'raised').map(({ alarm, at }) => `${at} ${alarm}`);
  expect(raised.filter((line) => line.endsWith('boiling-near'))).toHaveLength(2);
  const kept = await history(daemon, '?vessel=barn:r1');
  expect(raised.sort()).toEqual(kept.map(({ alarm, at }: (typeof told)[0]) => `${at} ${alarm}`).sort());
  expectProblem(await daemon.get('/api/v1/batches/none/run'), 404, 'batch-unknown');
});

test('a run of more than is read at a time comes whole and in order, while readings go on coming in', async () => {
  const { daemon, batch, clock } = await twiceNear();
  const from = clock.wallMs() + 1;
  clock.advance(60_000);
  const topic = readingTopic('barn', 'r1', 'room-humidity');
  for (let message = 0; message < 6; message++) {
    const readings = Array.from({ length: 2000 }, (_, i) => ({
      value: 2000 * message + i,
      at: from + 2000 * message + i,
    }));
    await daemon.publish(topic, JSON.stringify(readings));
  }
  const [{ text }] = await Promise.all([
    daemon.get(`/api/v1/batches/${batch}/run`),
    daemon.read('barn/r2/liquid-temperature', 20),
  ]);
  const values = text
    .trimEnd()
    .split('\n')
    .map((line) => JSON.parse(line))
    .filter(({ channel }) => channel === 'room-humidity')
    .map(({ value }) => value);
  expect(values).toEqual(Array.from({ length: 12_000 }, (_, i) => i));
});
