import { expect, test } from 'vitest';
import { methanolBoilingC } from '../../../shared/chemistry/methanol.ts';
import type { LiveMessage } from '../../../shared/wire/api.ts';
import { deviceSchema, siteSchema } from '../../../shared/wire/set-up.ts';
import { ManualClock } from '../../support/manual-clock.ts';
import { runDaemon } from '../running-daemon.ts';
import { temporaryDir } from '../store/fixture.ts';
import { expectProblem } from './problem.ts';

const START_MS = Date.UTC(2026, 2, 2, 10);
const HERE = 'esterwatch/v1/presence/barn';

test('devices are listed with what they said last and the newest reading of what they serve', async () => {
  const clock = new ManualClock(START_MS);
  const daemon = await runDaemon({ clock });
  expect((await daemon.get('/api/v1/devices')).json).toEqual({ devices: [], senders: [] });
  await daemon.publish(`${HERE}/r1-probe`, 'here');
  await daemon.publish(`${HERE}/logger`, 'here');
  await daemon.read('barn/r1/liquid-temperature', 20);
  clock.advance(5000);
  await daemon.read('barn/r2/stirrer-speed', 310);
  await daemon.publish(`${HERE}/logger`, 'gone');
  // Typed in, so no device's.
  clock.advance(5000);
  await daemon.send('POST', '/api/v1/vessels/r1/readings', { channel: 'liquid-temperature', value: 21 });

  const { json } = await daemon.get('/api/v1/devices');
  // Who sent it, by what the broker knows; nobody for what was typed in.
  const sender = expect.stringMatching(/^a device without a user name \(client id \S+, 127\.0\.0\.1\)$/);
  expect(json.senders).toEqual([
    { site: 'barn', vessel: 'r1', channel: 'liquid-temperature', sender },
    { site: 'barn', vessel: 'r2', channel: 'stirrer-speed', sender },
  ]);
  const devices = Object.fromEntries(
    json.devices.map((device: unknown) => {
      const { device: name, ...rest } = deviceSchema.strict().parse(device);
      return [name, rest];
    }),
  );
  expect(devices).toEqual({
    'r1-probe': {
      site: 'barn',
      presence: 'here',
      since: '2026-03-02T10:00:00.000Z',
      vessel: 'r1',
      newest: null,
    },
    logger: {
      site: 'barn',
      presence: 'gone',
      since: '2026-03-02T10:00:05.000Z',
      vessel: null,
      newest: {
        vessel: 'r2',
        channel: 'stirrer-speed',
        at: '2026-03-02T10:00:05.000Z',
        value: 310,
        sound: true,
      },
    },
  });
  await daemon.read('barn/r1/liquid-temperature', 22);
  const again = (await daemon.get('/api/v1/devices')).json.devices;
  expect(again.map(({ newest }: { newest: { value: number } }) => newest.value)).toEqual([22, 22]);
});

test('a barometer is said to be heard, and to count only near what was stated and while it is new', async () => {
  const clock = new ManualClock(START_MS);
  const daemon = await runDaemon({ clock });
  await daemon.send('PUT', '/api/v1/sites/barn', { pressureHPa: 950 });
  await daemon.read('barn/r1/ambient-pressure', 980);
  const site = async () => siteSchema.strict().parse((await daemon.get('/api/v1/sites')).json.sites[0]);
  expect(await site()).toMatchObject({
    boilingC: methanolBoilingC({ pressureHPa: 980 }),
    barometer: { at: '2026-03-02T10:00:00.000Z', pressureHPa: 980, counts: true },
  });
  clock.advance(3_600_001);
  expect(await site()).toMatchObject({
    boilingC: methanolBoilingC({ pressureHPa: 950 }),
    barometer: { pressureHPa: 980, counts: false },
  });
  await daemon.read('barn/r1/ambient-pressure', 991);
  expect(await site()).toMatchObject({
    boilingC: methanolBoilingC({ pressureHPa: 950 }),
    barometer: { pressureHPa: 991, counts: false },
  });
});

test('a test warning reaches who looks on, is noted, raises nothing, and is known after a restart', async () => {
  const data = `${temporaryDir()}/data`;
  const clock = new ManualClock(START_MS);
  const daemon = await runDaemon({ clock, data });
  expectProblem(await daemon.send('POST', '/api/v1/sites/barn/test-warning', {}), 404, 'site-unknown');
  await daemon.read('barn/r1/liquid-temperature', 20);
  const viewer = await daemon.look();
  const answer = await daemon.send('POST', '/api/v1/sites/barn/test-warning', { by: 'Ada Brook' });
  expect(answer.status).toBe(204);
  const heard = await viewer.until(
    (message): message is Extract<LiveMessage, { type: 'test-warning' }> => message.type === 'test-warning',
  );
  expect(heard).toEqual({
    type: 'test-warning',
    at: '2026-03-02T10:00:00.000Z',
    site: 'barn',
    by: 'Ada Brook',
  });
  // Of two who send one at once each knows its own.
  await daemon.send('POST', '/api/v1/sites/barn/test-warning', { by: 'Ada Brook', mark: 'this-page' });
  const mine = await viewer.until(
    (message): message is Extract<LiveMessage, { type: 'test-warning' }> =>
      message.type === 'test-warning' && message.mark !== undefined,
  );
  expect(mine).toMatchObject({ by: 'Ada Brook', mark: 'this-page' });
  expect((await daemon.get('/api/v1/alarms')).json.alarms).toEqual([]);
  await daemon.stop();

  const again = await runDaemon({ clock, data });
  expect((await again.get('/api/v1/sites')).json.sites[0].warningTested).toEqual({
    at: '2026-03-02T10:00:00.000Z',
    by: 'Ada Brook',
  });
});
