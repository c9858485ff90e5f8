import { writeFileSync } from 'node:fs';
import { connectAsync, type MqttClient } from 'mqtt';
import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { eventually } from '../support/api.ts';
import { dataFolder } from '../support/serving.ts';
import { BROKERS, startWatched, type Watched } from '../support/watched.ts';

const READING = 'esterwatch/v1/reading/shed';
const AHEAD = new Date(Date.now() + 365 * 86_400_000).toISOString();

interface Bad {
  what: string;
  topic: string;
  payload: string | Buffer;
  code: string;
  retain?: boolean;
  /** An outside broker is not asked for such topics. */
  own?: boolean;
}

const BAD: Bad[] = [
  { what: 'an unknown topic', topic: 'shed/thermometer', payload: '50', code: 'topic-unknown', own: true },
  { what: 'a deep unknown topic', topic: 'a/'.repeat(30), payload: '50', code: 'topic-unknown', own: true },
  {
    what: 'an alarm topic',
    topic: 'esterwatch/v1/alarm/shed/r1',
    payload: '[]',
    code: 'topic-reserved',
    own: true,
  },
  {
    what: 'the beat',
    topic: 'esterwatch/v1/beat/shed',
    payload: '{"state":"gone"}',
    code: 'topic-reserved',
    own: true,
  },
  { what: 'a level too few', topic: `${READING}/r1`, payload: '50', code: 'topic-misnamed' },
  {
    what: 'capital letters',
    topic: `${READING}/R1/liquid-temperature`,
    payload: '50',
    code: 'topic-misnamed',
  },
  {
    what: 'text for a number',
    topic: `${READING}/b1/liquid-temperature`,
    payload: 'warm',
    code: 'value-not-number',
  },
  { what: 'NaN', topic: `${READING}/b2/liquid-temperature`, payload: 'NaN', code: 'value-not-number' },
  {
    what: 'a text as value',
    topic: `${READING}/b3/liquid-temperature`,
    payload: '{"value":"61"}',
    code: 'value-not-number',
  },
  {
    what: '1 MB',
    topic: `${READING}/b4/liquid-temperature`,
    payload: '5'.repeat(1_000_000),
    code: 'payload-too-large',
  },
  {
    what: 'invalid UTF-8',
    topic: `${READING}/b5/liquid-temperature`,
    payload: Buffer.from([0x36, 0x31, 0xff, 0xfe]),
    code: 'payload-not-utf8',
  },
  {
    what: 'a year ahead',
    topic: `${READING}/b6/liquid-temperature`,
    payload: `{"value":50,"at":"${AHEAD}"}`,
    code: 'clock-ahead',
  },
  { what: 'an empty payload', topic: `${READING}/b7/liquid-temperature`, payload: '', code: 'payload-empty' },
  { what: 'an empty array', topic: `${READING}/b8/liquid-temperature`, payload: '[]', code: 'payload-empty' },
  {
    what: 'half an object',
    topic: `${READING}/b9/liquid-temperature`,
    payload: '{"value":',
    code: 'payload-form',
  },
  { what: 'no presence', topic: 'esterwatch/v1/presence/shed/node', payload: 'maybe', code: 'presence-form' },
];

describe.each(BROKERS)('what cannot be taken in, at %s', (broker) => {
  const own = broker === 'its own broker';
  let watched: Watched;
  let device: MqttClient;
  let onlooker: MqttClient;
  const seen: string[] = [];
  beforeAll(async () => {
    watched = await startWatched(broker);
    device = await connectAsync(watched.brokerUrl, { reconnectPeriod: 0 });
    onlooker = await connectAsync(watched.brokerUrl);
    onlooker.on('message', (topic) => seen.push(topic));
    await onlooker.subscribeAsync('#', { qos: 1 });
  });
  afterAll(async () => {
    await device?.endAsync(true);
    await onlooker?.endAsync(true);
    await watched?.close();
  });
  const listed = (topic: string, code: string) =>
    eventually(
      async () => (await watched.api.refused()).find((one) => one.code === code && one.topic === topic),
      (one) => one !== undefined,
    );
  const good = async (vessel: string, value: number) => {
    const before = (await watched.api.raw(`shed:${vessel}`)).t.length;
    await device.publishAsync(`${READING}/${vessel}/liquid-temperature`, String(value), { qos: 1 });
    await eventually(
      () => watched.api.raw(`shed:${vessel}`),
      ({ t }) => t.length === before + 1,
    );
  };

  test.each(BAD.filter((bad) => own || !bad.own))(
    '$what is acknowledged and listed as $code',
    async ({ topic, payload, code }) => {
      for (const qos of [0, 1, 2] as const) await device.publishAsync(topic, payload, { qos });
      await device.publishAsync(topic, payload, { qos: 1, retain: true });
      const one = await eventually(
        () => listed(topic, code),
        (entry) => entry!.count === 4,
      );
      expect(one!.because.length).toBeGreaterThan(10);
      await good('r1', 50);
    },
  );

  test('a retained reading without a time is listed, as nobody can tell when it was', async () => {
    const topic = `${READING}/kept/liquid-temperature`;
    const publishing = { qos: 1, retain: true } as const;
    if (own) await device.publishAsync(topic, '50', publishing);
    else {
      // A broker passes it on as fresh to those who are there already; the daemon that comes later sees it kept.
      await device.publishAsync(topic, '50', publishing);
      const later = await startWatched(broker, watched.brokerPort);
      expect((await later.api.refused()).map(({ topic: of, code }) => [of, code])).toContainEqual([
        topic,
        'retained-without-time',
      ]);
      expect((await later.api.raw('shed:kept')).t).toEqual([]);
      await later.close();
      return;
    }
    await listed(topic, 'retained-without-time');
    await device.publishAsync(
      `${READING}/kept/liquid-temperature`,
      '{"value":50,"at":"2026-03-02T10:15:00Z"}',
      publishing,
    );
    await eventually(
      () => watched.api.raw('shed:kept'),
      ({ value }) => value.length === 1 && value[0] === 50,
    );
  });

  test('mosquitto_pub is told nothing: it ends well, with a file of 1 MB too', async () => {
    const { data: file, remove } = dataFolder();
    writeFileSync(file, '5'.repeat(1_000_000));
    await watched.clients.publishFile(`${READING}/file/liquid-temperature`, file);
    await watched.clients.publish(`${READING}/none/liquid-temperature`, null);
    remove();
    await listed(`${READING}/file/liquid-temperature`, 'payload-too-large');
    await listed(`${READING}/none/liquid-temperature`, 'payload-empty');
  });

  test('of an array each reading is taken or refused on its own', async () => {
    const topic = `${READING}/part/liquid-temperature`;
    const at = '2026-03-02T10:15:00.000Z';
    await device.publishAsync(topic, `[{"value":50,"at":"${at}"},{"value":"x","at":"${at}"}]`, { qos: 1 });
    await listed(topic, 'value-not-number');
    const { value } = await eventually(
      () => watched.api.raw('shed:part'),
      ({ t }) => t.length > 0,
    );
    expect(value).toEqual([50]);
  });

  test('−127 is stored, marked as not sound, and warned of', async () => {
    await good('wild', 50);
    await good('wild', -127);
    expect((await watched.api.raw('shed:wild')).value).toEqual([50, -127]);
    const vessel = await watched.api.vessel('shed:wild');
    expect(vessel.readings['liquid-temperature']).toMatchObject({ value: -127, sound: false });
    expect(vessel.liquidC).toBe(50);
    expect(vessel.alarms).toMatchObject([
      { alarm: 'probe-out-of-range', priority: 'medium', standing: true },
    ]);
    expect((await watched.api.refused()).filter(({ topic }) => topic.includes('/wild/'))).toEqual([]);
  });

  test('nothing of what was refused reaches anybody else, now or later', { skip: !own }, async () => {
    const will = await connectAsync(watched.brokerUrl, {
      reconnectPeriod: 0,
      will: { topic: 'esterwatch/v1/alarm/shed/r9', payload: Buffer.from('[]'), qos: 1, retain: true },
    });
    will.stream.destroy();
    await listed('esterwatch/v1/alarm/shed/r9', 'topic-reserved');
    await device.publishAsync(`${READING}/last/liquid-temperature`, '50', { qos: 1 });
    await eventually(
      () => seen,
      (topics) => topics.includes(`${READING}/last/liquid-temperature`),
    );
    const newcomer = await connectAsync(watched.brokerUrl);
    const kept: string[] = [];
    newcomer.on('message', (topic, payload) => kept.push(`${topic} ${payload}`));
    await newcomer.subscribeAsync(['#', '$refused'], { qos: 1 }).catch(() => {});
    await device.publishAsync(`${READING}/last/liquid-temperature`, '51', { qos: 1 });
    await eventually(
      () => kept,
      (topics) => topics.includes(`${READING}/last/liquid-temperature 51`),
    );
    await newcomer.endAsync();

    const refused = new Set(BAD.map(({ topic }) => topic));
    // The daemon's own topics are there with what the daemon says.
    for (const topic of ['esterwatch/v1/alarm/shed/r1', 'esterwatch/v1/beat/shed']) refused.delete(topic);
    expect(seen.filter((topic) => refused.has(topic))).toEqual([]);
    expect(kept.filter((line) => refused.has(line.split(' ')[0]!))).toEqual([]);
    expect(seen.filter((topic) => topic.startsWith('$refused') || topic.endsWith('/r9'))).toEqual([]);
    expect(kept.find((line) => line.startsWith('esterwatch/v1/beat/shed '))).toContain('"watching"');
  });

  test('the daemon goes on', async () => {
    const health = await watched.api.get<{ ready: boolean }>('/api/v1/health');
    expect(health.ready).toBe(true);
    expect(device.connected).toBe(true);
  });
});
