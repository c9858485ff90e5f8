import { connectAsync } from 'mqtt';
import { expect, onTestFinished, test } from 'vitest';
import type { Alarm } from '../../shared/wire/api.ts';
import { Api, eventually } from '../support/api.ts';
import { MosquittoClients } from '../support/mosquitto-clients.ts';
import { dataFolder, esterwatch, LOOPBACK, serve } from '../support/serving.ts';
import { isThorough } from '../support/thorough.ts';

const TOPIC = 'esterwatch/v1/reading/shed/r1/liquid-temperature';

async function start(data: string) {
  const served = await serve({ data });
  onTestFinished(() => served.kill('SIGKILL'));
  const device = await connectAsync(`mqtt://${LOOPBACK}:${served.mqttPort}`, { reconnectPeriod: 0 });
  onTestFinished(() => device.endAsync(true));
  const measure = (value: number) => device.publishAsync(TOPIC, String(value), { qos: 1 });
  return { served, measure, api: new Api(served.httpPort), clients: new MosquittoClients(served.mqttPort!) };
}

function freshData(): string {
  const { data, remove } = dataFolder();
  onTestFinished(remove);
  return data;
}

const boiling = async (api: Api, query = '') =>
  (await api.alarms(query)).filter(({ alarm }) => alarm.startsWith('boiling-'));
/** What must be the same after a restart. */
const same = (alarms: readonly Alarm[]) =>
  alarms.map(({ id, alarm, at, standing, acknowledged, clearedAt }) => ({
    id,
    alarm,
    at,
    standing,
    acknowledged,
    clearedAt,
  }));

/** Both signals of a clean stop in each; in an ordinary run one here and the other there. */
const AFTER = [
  { signal: 'SIGKILL', code: null },
  { signal: 'SIGINT', code: 0 },
  ...(isThorough ? [{ signal: 'SIGTERM', code: 0 } as const] : []),
] as const;

test.each(AFTER)('after $signal alarms stand as before, none twice', async ({ signal, code }) => {
  const data = freshData();
  const first = await start(data);
  await first.measure(60.5);
  await first.api.stateSite('shed', { altitudeM: 0 });
  const batch = await first.api.openBatch('shed:r1');
  await first.api.enter(batch, 'react');
  // Near, over, and near again; then at the boiling point (64.5 °C at sea level), which stands.
  for (const value of [62.5, 60, 62.5, 64.8]) await first.measure(value);
  const before = await eventually(
    () => boiling(first.api),
    ({ length }) => length === 3,
  );
  await first.api.call('POST', `/api/v1/alarms/${before[0]!.id}/acknowledge`, {
    by: 'Ada Brook',
    reason: 'seen',
  });
  await eventually(
    () => boiling(first.api),
    (alarms) => alarms.some(({ acknowledged }) => acknowledged !== null),
  );
  const known = await boiling(first.api);
  const standing = await boiling(first.api, '?standing=true');
  expect(standing.filter((alarm) => alarm.standing)).toHaveLength(2);

  const stopping = performance.now();
  first.served.kill(signal);
  const ending = await first.served.ended;
  expect({ code: ending.code, signal: ending.signal }).toEqual({
    code,
    signal: code === null ? signal : null,
  });
  expect(performance.now() - stopping).toBeLessThan(10_000);

  const second = await start(data);
  expect(same(await boiling(second.api))).toEqual(same(known));
  expect(same(await boiling(second.api, '?standing=true'))).toEqual(same(standing));
  expect((await second.api.raw('shed:r1')).value).toEqual([60.5, 62.5, 60, 62.5, 64.8]);
  expect((await second.api.vessel('shed:r1')).stage).toBe('react');
  const topic = JSON.parse(await second.clients.retained('esterwatch/v1/alarm/shed/r1')) as Alarm[];
  expect(
    topic
      .filter(({ alarm }) => alarm.startsWith('boiling-'))
      .map(({ id }) => id)
      .sort(),
  ).toEqual(
    standing
      .filter((alarm) => alarm.standing)
      .map(({ id }) => id)
      .sort(),
  );

  // They go on from where they were: over by what is read now, and not raised anew.
  for (const value of [62.3, 59.9]) await second.measure(value);
  const after = await eventually(
    () => boiling(second.api),
    (alarms) => alarms.every((alarm) => !alarm.standing),
  );
  expect(after.map(({ id }) => id)).toEqual(known.map(({ id }) => id));
});

test.each(isThorough ? (['SIGTERM', 'SIGINT'] as const) : (['SIGTERM'] as const))(
  '%s amid readings: every acknowledged one is kept',
  async (signal) => {
    const data = freshData();
    const { served } = await start(data);
    const device = await connectAsync(`mqtt://${LOOPBACK}:${served.mqttPort}`, { reconnectPeriod: 0 });
    const acknowledged: number[] = [];
    const publish = async () => {
      for (let seq = 0; seq < 2000; seq++) {
        // The link breaks with the daemon's end: what is on its way then is never answered.
        const sent = device.publishAsync(
          TOPIC,
          JSON.stringify({ value: 50, at: 1_770_000_000_000 + seq, seq }),
          { qos: 1 },
        );
        await Promise.race([sent, served.ended]);
        if (!device.connected) return;
        if (acknowledged.push(seq) === 100) served.kill(signal);
      }
    };
    await publish().catch(() => {});
    expect((await served.ended).code).toBe(0);
    device.end(true);
    expect(acknowledged.length).toBeGreaterThanOrEqual(100);
    expect(acknowledged.length).toBeLessThan(2000);
    const { api } = await start(data);
    const { seq } = await api.raw('shed:r1');
    expect(acknowledged.filter((one) => !seq.includes(one))).toEqual([]);
  },
);

test('a clean stop says that nobody watches, and a start that somebody does', async () => {
  const data = freshData();
  const { served, measure } = await start(data);
  const onlooker = await connectAsync(`mqtt://${LOOPBACK}:${served.mqttPort}`, { reconnectPeriod: 0 });
  const beats: string[] = [];
  onlooker.on('message', (_topic, payload) => beats.push(JSON.parse(String(payload)).state));
  await onlooker.subscribeAsync('esterwatch/v1/beat/shed', { qos: 1 });
  await measure(50);
  await eventually(
    () => beats,
    (list) => list.includes('watching'),
  );
  served.kill('SIGTERM');
  await served.ended;
  await eventually(
    () => beats.at(-1),
    (state) => state === 'gone',
  );
  onlooker.end(true);
  const again = await start(data);
  expect(await again.clients.retained('esterwatch/v1/beat/shed')).toContain('"watching"');
});

test('a second daemon on the same data ends with 2 and one line, and the first goes on', async () => {
  const data = freshData();
  const { measure, api } = await start(data);
  const second = await esterwatch([
    'serve',
    '--data',
    data,
    '--http',
    `${LOOPBACK}:0`,
    '--mqtt',
    `${LOOPBACK}:0`,
  ]);
  expect(second.code).toBe(2);
  expect(second.stderr.trimEnd().split('\n')).toHaveLength(1);
  expect(second.stderr).toContain(data);
  await measure(50);
  expect((await api.raw('shed:r1')).value).toEqual([50]);
});

test('a port that somebody else has: 2 and one line', async () => {
  const { served } = await start(freshData());
  for (const taken of [
    ['--http', `${LOOPBACK}:${served.httpPort}`, '--mqtt', `${LOOPBACK}:0`],
    ['--http', `${LOOPBACK}:0`, '--mqtt', `${LOOPBACK}:${served.mqttPort}`],
  ]) {
    const { code, stderr } = await esterwatch(['serve', '--data', freshData(), ...taken]);
    expect(code).toBe(2);
    expect(stderr.trimEnd().split('\n')).toHaveLength(1);
  }
});
