import { once } from 'node:events';
import { connect } from 'node:net';
import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import type { RawReadings } from '../../shared/wire/api.ts';
import { eventually } from '../support/api.ts';
import { LOOPBACK } from '../support/serving.ts';
import { BROKERS, startWatched, type Watched } from '../support/watched.ts';

const AT = '2026-03-02T10:15:00.000Z';
const AT_MS = Date.parse(AT);
const BEAT = 'esterwatch/v1/beat/shed';

describe.each(BROKERS)('mosquitto_pub through %s', (broker) => {
  let watched: Watched;
  beforeAll(async () => {
    watched = await startWatched(broker);
  });
  afterAll(() => watched?.close());

  const topic = (vessel: string, channel = 'liquid-temperature') =>
    `esterwatch/v1/reading/shed/${vessel}/${channel}`;
  const publish = (to: string, payload: string | null, ...more: string[]) =>
    watched.clients.publish(to, payload, ...more);
  const stored = (vessel: string, count: number, channel?: string): Promise<RawReadings> =>
    eventually(
      () => watched.api.raw(`shed:${vessel}`, channel),
      ({ t }) => t.length >= count,
    );
  const refusals = (of: string, code: string): Promise<number> =>
    eventually(
      async () =>
        (await watched.api.refused()).find((one) => one.topic === of && one.code === code)?.count ?? 0,
      (count) => count > 0,
    );

  test.each(['0', '1', '2'])('a plain number at QoS %s is stamped on arrival', async (qos) => {
    const before = Date.now();
    await publish(topic(`plain-${qos}`), '61.4', '-q', qos);
    const { t, value, seq } = await stored(`plain-${qos}`, 1);
    expect({ value, seq }).toEqual({ value: [61.4], seq: [null] });
    expect(t[0]).toBeGreaterThanOrEqual(before - 1);
    expect(t[0]).toBeLessThanOrEqual(Date.now() + 1);
  });

  test('an object may bring its time and number', async () => {
    await publish(topic('object'), `{"value":61.4,"at":"${AT}","seq":1041}`);
    expect(await stored('object', 1)).toEqual({ t: [AT_MS], value: [61.4], seq: [1041] });
  });

  test('an object without a time is stamped, and a time may be epoch milliseconds', async () => {
    await publish(topic('bare'), '{"value":12.25}');
    await publish(topic('epoch'), `{"value":12.5,"at":${AT_MS}}`, '-q', '2');
    expect((await stored('bare', 1)).value).toEqual([12.25]);
    expect(await stored('epoch', 1)).toEqual({ t: [AT_MS], value: [12.5], seq: [null] });
  });

  test('an array is what a device kept while it was offline', async () => {
    const kept = [0, 1, 2].map((i) => ({ value: 50 + i / 8, at: AT_MS + i * 1000, seq: 7 + i }));
    await publish(topic('array'), JSON.stringify(kept));
    expect(await stored('array', 3)).toEqual({
      t: [AT_MS, AT_MS + 1000, AT_MS + 2000],
      value: [50, 50.125, 50.25],
      seq: [7, 8, 9],
    });
  });

  // RFC 8428, 5.1.1 (a single point, without a time) and the resolution of base fields in 4.6.
  test('a SenML pack is resolved', async () => {
    await publish(topic('senml-now'), '[{"n":"urn:dev:ow:10e2073a01080063","u":"Cel","v":23.1}]');
    await publish(
      topic('senml'),
      `[{"bn":"urn:dev:ow:10e2073a01080063","bt":${AT_MS / 1000},"bu":"Cel","bv":20,"v":3.5},{"t":-5,"v":3},{"t":-2.5,"u":"K","v":290}]`,
    );
    expect((await stored('senml-now', 1)).value).toEqual([23.1]);
    const { t, value } = await stored('senml', 3);
    expect(t).toEqual([AT_MS - 5000, AT_MS - 2500, AT_MS]);
    expect(value[0]).toBe(23);
    expect(value[1]).toBeCloseTo(310 - 273.15, 9);
    expect(value[2]).toBe(23.5);
  });

  test('temperatures may come in °F and K', async () => {
    await publish(topic('units'), `{"value":140,"unit":"degF","at":${AT_MS}}`);
    await publish(topic('units'), `{"value":333.15,"unit":"K","at":${AT_MS + 1000}}`);
    await publish(topic('units'), `{"value":61,"unit":"Cel","at":${AT_MS + 2000}}`);
    const { value } = await stored('units', 3);
    expect(value[0]).toBeCloseTo(60, 9);
    expect(value[1]).toBeCloseTo(60, 9);
    expect(value[2]).toBe(61);
  });

  test.each(['1', '2'])('sent twice at QoS %s, stored once; another value is refused', async (qos) => {
    const to = topic(`twice-${qos}`);
    const reading = (value: number, seq: number) => `{"value":${value},"at":"${AT}","seq":${seq}}`;
    await publish(to, reading(40, 1), '-q', qos);
    await publish(to, reading(40, 1), '-q', qos);
    await publish(to, reading(41, 1), '-q', qos);
    // The same time with another number is another reading: the end of what is to be taken in.
    await publish(to, reading(42, 2), '-q', qos);
    expect(await stored(`twice-${qos}`, 2)).toEqual({ t: [AT_MS, AT_MS], value: [40, 42], seq: [1, 2] });
    expect(await refusals(to, 'value-conflict')).toBe(1);
  });

  test('a device says that it is here, and its last will that it is gone', async () => {
    const device = 'esterwatch/v1/presence/shed/node-1';
    const said = async () =>
      (await watched.store.actions('shed'))
        .filter(({ action }) => action === 'presence')
        .map(({ body }) => (body as { presence: string }).presence);
    await publish(topic('present'), '20');
    await stored('present', 1);
    const client = await watched.clients.withLastWill({ topic: device, payload: 'gone' }, BEAT);
    await publish(device, 'here', '-r');
    await eventually(said, (list) => list.length === 1);
    expect(await watched.clients.retained(device)).toBe('here');
    const exited = once(client, 'exit');
    client.kill('SIGKILL');
    await exited;
    expect(await eventually(said, (list) => list.length === 2)).toEqual(['here', 'gone']);
    expect(await watched.clients.retained(device)).toBe('gone');
  });

  test('the beat and the standing alarms are retained', async () => {
    await publish(topic('quiet'), '20');
    await publish(topic('wild'), '-127');
    const standing = (vessel: string) => () => watched.clients.retained(`esterwatch/v1/alarm/shed/${vessel}`);
    await eventually(standing('wild'), (text) => text.includes('"alarm":"probe-out-of-range"'));
    expect(await eventually(standing('quiet'), (text) => text !== '')).toBe('[]');
    const beat = JSON.parse(await watched.clients.retained(BEAT));
    expect(beat.state).toBe('watching');
    expect(Math.abs(Date.parse(beat.at) - Date.now())).toBeLessThan(20_000);
  });

  test('health says which broker it is', async () => {
    const health = await watched.api.get<{ ready: boolean; broker: object }>('/api/v1/health');
    expect(health.broker).toMatchObject({
      kind: broker === 'its own broker' ? 'embedded' : 'outside',
      connected: true,
    });
    expect(health.ready).toBe(true);
  });
});

describe('a client that asks for MQTT 5', () => {
  let watched: Watched;
  beforeAll(async () => {
    watched = await startWatched('its own broker');
  });
  afterAll(() => watched?.close());

  test('gets CONNACK 1, unacceptable protocol version, and is cut off', async () => {
    const socket = connect(watched.brokerPort, LOOPBACK);
    await once(socket, 'connect');
    // CONNECT: protocol name MQTT, level 5, clean start, keep alive 60 s, no properties, client id 'a'.
    socket.write(Buffer.from('100e00044d5154540502003c00000161', 'hex'));
    let answer = Buffer.alloc(0);
    socket.on('data', (chunk) => {
      answer = Buffer.concat([answer, chunk]);
    });
    await once(socket, 'close');
    // MQTT 3.1.1, 3.2: fixed header 20 02, no session, return code 1.
    expect(answer.toString('hex')).toBe('20020001');
  });

  test('mosquitto_pub -V 5 fails; -V 311 does not', async () => {
    const topic = 'esterwatch/v1/reading/shed/r1/liquid-temperature';
    await expect(watched.clients.publish(topic, '50', '-V', '5')).rejects.toThrow();
    await watched.clients.publish(topic, '51', '-V', '311');
    expect((await watched.api.raw('shed:r1')).value).toEqual([51]);
  });
});
