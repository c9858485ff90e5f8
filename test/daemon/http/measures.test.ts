import { expect, test } from 'vitest';
import { alarmMeasuresSchema } from '../../../shared/wire/alarm-measures.ts';
import { ManualClock } from '../../support/manual-clock.ts';
import { patiently } from '../../support/patiently.ts';
import { type RunningDaemon, runDaemon, sharedDaemon } from '../running-daemon.ts';
import { expectProblem } from './problem.ts';

const START_MS = Date.UTC(2026, 2, 2, 10);
const HOUR_MS = 3_600_000;

const measures = async (daemon: RunningDaemon, query = '') => {
  const { status, json } = await daemon.get(`/api/v1/alarms/measures${query}`);
  expect(status).toBe(200);
  return alarmMeasuresSchema.strict().parse(json);
};

test('three alarms of a morning, one that follows from another, one shelved', async () => {
  const clock = new ManualClock(START_MS);
  const daemon = await runDaemon({ clock });
  await daemon.read('barn/r1/liquid-temperature', 60);
  await daemon.publish('esterwatch/v1/presence/barn/r1', 'here');
  await daemon.send('PUT', '/api/v1/sites/barn', { pressureHPa: 1013.25 });
  const { json: batch } = await daemon.send('POST', '/api/v1/batches', { vessel: 'barn:r1' });
  await daemon.send('POST', `/api/v1/batches/${batch.id}/stage`, { stage: 'react' });
  // Near boiling, three times within 60 s.
  for (const value of [62.5, 60, 62.5, 60, 62.5, 60]) {
    clock.advance(1000);
    await daemon.read('barn/r1/liquid-temperature', value);
  }
  // Then the device is gone, and with it the readings: told once.
  await daemon.publish('esterwatch/v1/presence/barn/r1', 'gone');
  clock.advance(60_000);
  const standing = (await daemon.get('/api/v1/alarms?standing=true')).json.alarms;
  const gone = standing.find(({ alarm }: { alarm: string }) => alarm === 'device-gone');
  await daemon.send('POST', `/api/v1/alarms/${gone.id}/shelve`, {
    reason: 'new cell is charging',
    minutes: 60,
  });
  clock.advance(25 * HOUR_MS);

  const answer = await patiently(async () => {
    const taken = await measures(daemon);
    expect(taken.alarms).toBe(5);
    return taken;
  });
  expect(answer).toMatchObject({
    from: '2026-03-02T10:00:00.000Z',
    complete: true,
    // Near three times, the device gone, and gone still an hour later.
    alarms: 5,
    notTold: { explained: 1, lateAndOver: 0 },
    perDay: { highest: { day: '2026-03-02', count: 5 } },
    perTenMinutes: { highest: { at: '2026-03-02T10:00:00.000Z', count: 4 }, floodPercent: 0 },
    byPriority: { high: { count: 5, percent: 100 } },
    mostFrequent: {
      alarms: [
        { site: 'barn', vessel: 'r1', alarm: 'boiling-near', count: 3, percent: 60 },
        { alarm: 'device-gone', count: 2, percent: 40 },
      ],
    },
    stale: { alarms: 1, mostOnOneDay: 1 },
    chattering: [{ site: 'barn', vessel: 'r1', alarm: 'boiling-near', most: 3 }],
  });
  expect(answer.days).toBeCloseTo(25 / 24, 2);
  expect(answer.longestStanding[0]).toMatchObject({ id: gone.id, alarm: 'device-gone', clearedAt: null });

  const hour = await measures(daemon, `?from=${START_MS}&to=${START_MS + 3000}`);
  expect(hour).toMatchObject({ to: '2026-03-02T10:00:03.000Z', alarms: 2, chattering: [] });
  const before = await measures(daemon, '?from=2026-01-01T00:00:00.000Z&to=2026-01-31T00:00:00.000Z');
  expect(before).toMatchObject({ days: 0, alarms: 0, longestStanding: [] });
});

test('a store in which nothing happened yet has no alarms, of no days', async () => {
  const daemon = await runDaemon({ clock: new ManualClock(START_MS) });
  expect(await measures(daemon)).toMatchObject({
    from: '2026-03-02T10:00:00.000Z',
    to: '2026-03-02T10:00:00.000Z',
    days: 0,
    alarms: 0,
    complete: true,
  });
});

const running = sharedDaemon(async () => {});

test.for([
  'from=x',
  'to=yesterday',
  'from=2026-03-02',
  'from=2030000000000000',
  'days=3',
  'from=0&to=40000000000',
])('asked wrongly, ?%s is refused', async (query) => {
  expectProblem(await running().get(`/api/v1/alarms/measures?${query}`), 400, 'body-invalid');
});
