import { join } from 'node:path';
import { setImmediate } from 'node:timers/promises';
import { expect, test, vi } from 'vitest';
import { openReadable } from '../../daemon/store/sqlite/database.ts';
import { isDifference, verifyDatabase } from '../../daemon/store/sqlite/verify.ts';
import { ManualClock } from '../support/manual-clock.ts';
import { runDaemon } from './running-daemon.ts';
import { temporaryDir } from './store/fixture.ts';

const HOUR_MS = 3_600_000;
const DAY_MS = 24 * HOUR_MS;
const START_MS = Date.UTC(2026, 2, 2, 10);
const PROBE = 'barn/r1/liquid-temperature';
const RAW = '/api/v1/vessels/r1/readings?channel=liquid-temperature&points=raw&from=0';

test('readings older than configured go, those of a batch stay, and a restart goes on', async () => {
  const data = join(temporaryDir(), 'data');
  const clock = new ManualClock(START_MS);
  const retention = { days: 3 };
  const daemon = await runDaemon({ clock, data, retention });
  const values = async () => (await daemon.get(RAW)).json.value;
  const passHours = async (hours: number) => {
    for (let quarter = 0; quarter < 4 * hours; quarter++) {
      clock.advance(HOUR_MS / 4);
      await setImmediate();
    }
  };
  await daemon.read(PROBE, 20);
  await daemon.send('PUT', '/api/v1/sites/barn', { altitudeM: 340 });
  await passHours(5);
  const opened = await daemon.send('POST', '/api/v1/batches', {
    vessel: 'barn:r1',
    name: 'Small one',
    plan: {},
  });
  expect(opened.status).toBe(201);
  await daemon.read(PROBE, 55);
  const stage = `/api/v1/batches/${opened.json.id}/stage`;
  expect((await daemon.send('POST', stage, { stage: 'void', by: 'Ida' })).status).toBe(200);
  await passHours(5);
  await daemon.read(PROBE, 21);
  await passHours(2);
  expect(await values()).toEqual([20, 55, 21]);
  clock.advance(3 * DAY_MS);
  await daemon.read(PROBE, 22);
  await passHours(2);
  await vi.waitFor(async () => expect(await values()).toEqual([55, 22]));
  const { json } = await daemon.get('/api/v1/vessels/r1/readings?channel=liquid-temperature&points=2&from=0');
  expect(json.min[0]).toBe(20); // still drawn
  await daemon.stop();

  const again = await runDaemon({ clock, data, retention });
  expect((await again.get(RAW)).json.value).toEqual([55, 22]);
  const reader = openReadable(data);
  expect(isDifference(verifyDatabase(reader))).toBe(false);
  reader.close();
  expect([...daemon.errors, ...again.errors]).toEqual([]);
});
