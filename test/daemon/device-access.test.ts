import { mkdtempSync, rmSync } from 'node:fs';
import { connect as connectSocket } from 'node:net';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { connectAsync, type IClientOptions, type MqttClient } from 'mqtt';
import { beforeEach, expect, onTestFinished, test } from 'vitest';
import { openAccess } from '../../daemon/commands/open-access.ts';
import { patiently } from '../support/patiently.ts';
import { type RunningDaemon, runDaemon } from './running-daemon.ts';

let data: string;
beforeEach(() => {
  const folder = mkdtempSync(join(tmpdir(), 'esterwatch-devices-'));
  data = folder;
  return () => rmSync(folder, { recursive: true, force: true });
});

const OWNER = 'the owner';

async function device({ mqttPort }: RunningDaemon, options: IClientOptions = {}): Promise<MqttClient> {
  const client = await connectAsync(`mqtt://127.0.0.1:${mqttPort}`, { reconnectPeriod: 0, ...options });
  onTestFinished(() => client.endAsync(true));
  return client;
}

const reading = (channel: string) => `esterwatch/v1/reading/${channel}`;
const send = (client: MqttClient, topic: string, payload = '20') =>
  client.publishAsync(topic, payload, { qos: 1 });
const refusedTopics = async (daemon: RunningDaemon): Promise<string[]> =>
  (await daemon.get('/api/v1/refused')).json.refused.map(
    ({ code, topic }: { code: string; topic: string }) => `${code} ${topic}`,
  );

test('as soon as a device is set up, others are not let in, and those that are in are cut off', async () => {
  const daemon = await runDaemon({ data });
  const before = await device(daemon);
  await send(before, reading('barn/r1/liquid-temperature'));
  const cutOff = new Promise<void>((resolve) => before.once('close', () => resolve()));
  const secret = openAccess(data).setPublisher('probe-1', 'barn', OWNER);
  await cutOff;
  for (const options of [
    {},
    { username: 'probe-1' },
    { username: 'probe-1', password: 'wrong' },
    { username: 'probe-2', password: secret },
    { username: 'constructor', password: secret },
    { password: secret, username: '' },
  ]) {
    await expect(device(daemon, options)).rejects.toMatchObject({ code: 5 });
  }
  const client = await device(daemon, { username: 'probe-1', password: secret });
  await send(client, reading('barn/r1/liquid-temperature'), '21');
  expect((await daemon.get('/api/v1/vessels/r1')).json.readings['liquid-temperature'].value).toBe(21);
});

test('a device publishes for its site, and its own presence; anything else is acknowledged, dropped and listed', async () => {
  const daemon = await runDaemon({ data });
  const secret = openAccess(data).setPublisher('probe-1', 'barn', OWNER);
  const client = await device(daemon, { username: 'probe-1', password: secret });
  await send(client, reading('barn/r1/liquid-temperature'));
  await send(client, 'esterwatch/v1/presence/barn/probe-1', 'here');
  const refused = [
    ['device-not-allowed', reading('shed/r1/liquid-temperature'), '20'],
    ['device-not-allowed', 'esterwatch/v1/presence/barn/probe-2', 'gone'],
    ['device-not-allowed', 'esterwatch/v1/presence/shed/probe-1', 'here'],
    ['topic-reserved', 'esterwatch/v1/alarm/barn/r1', '[]'],
    ['topic-reserved', 'esterwatch/v1/beat/barn', '{}'],
    ['topic-unknown', 'chat/of/devices', 'hello'],
  ] as const;
  for (const [, topic, payload] of refused) await send(client, topic, payload);
  expect((await refusedTopics(daemon)).sort()).toEqual(
    refused.map(([code, topic]) => `${code} ${topic}`).sort(),
  );
  const { sites } = (await daemon.get('/api/v1/sites')).json;
  expect(sites.map(({ site }: { site: string }) => site)).toEqual(['barn']);
});

test('a last will is no way round', async () => {
  const daemon = await runDaemon({ data });
  const secret = openAccess(data).setPublisher('probe-1', 'barn', OWNER);
  const topics = [
    'esterwatch/v1/alarm/barn/r1',
    reading('shed/r1/liquid-temperature'),
    'esterwatch/v1/presence/shed/x',
  ];
  for (const topic of topics) {
    for (const qos of [1, 2] as const) {
      const will = { topic, payload: Buffer.from('20'), qos, retain: false };
      const client = await device(daemon, { username: 'probe-1', password: secret, will });
      client.stream.destroy();
    }
  }
  await patiently(async () =>
    expect((await refusedTopics(daemon)).sort()).toEqual([
      `device-not-allowed ${topics[2]}`,
      `device-not-allowed ${topics[1]}`,
      `topic-reserved ${topics[0]}`,
    ]),
  );
  expect((await daemon.get('/api/v1/sites')).json.sites).toEqual([]);
});

test('a device listens to what is of its site', async () => {
  const daemon = await runDaemon({ data });
  const access = openAccess(data);
  const secret = access.setPublisher('lamp', 'barn', OWNER);
  const client = await device(daemon, { username: 'lamp', password: secret });
  const granted = async (filter: string) => (await client.subscribeAsync(filter, { qos: 0 }))[0]?.qos;
  expect(await granted('esterwatch/v1/alarm/barn/+')).toBe(0);
  expect(await granted('esterwatch/v1/+/barn/#')).toBe(0);
  for (const filter of [
    '#',
    'esterwatch/#',
    'esterwatch/v1/alarm/+/+',
    'esterwatch/v1/alarm/shed/r1',
    '$SYS/#',
  ]) {
    await expect(granted(filter), filter).rejects.toThrow();
  }
});

test('no device ends the connection of another by taking its name', async () => {
  const daemon = await runDaemon({ data });
  const access = openAccess(data);
  const [first, second] = [
    access.setPublisher('probe-1', 'barn', OWNER),
    access.setPublisher('probe-2', 'barn', OWNER),
  ];
  const own = await device(daemon, { username: 'probe-1', password: first, clientId: 'probe-1' });
  let closed = false;
  own.once('close', () => {
    closed = true;
  });
  await device(daemon, { username: 'probe-2', password: second, clientId: 'probe-1' });
  await send(own, reading('barn/r1/liquid-temperature'));
  expect(closed).toBe(false);
});

test('a device that was removed, or has another secret, is cut off', async () => {
  const daemon = await runDaemon({ data });
  const access = openAccess(data);
  for (const [name, change] of [
    ['probe-1', () => access.removePublisher('probe-1', OWNER)],
    ['probe-2', () => access.setPublisher('probe-2', 'barn', OWNER)],
    ['probe-3', () => access.setPublisher('probe-3', 'shed', OWNER)],
  ] as const) {
    access.setPublisher('stays', 'barn', OWNER);
    const client = await device(daemon, {
      username: name,
      password: access.setPublisher(name, 'barn', OWNER),
    });
    const cutOff = new Promise<void>((resolve) => client.once('close', () => resolve()));
    change();
    await cutOff;
  }
});

test('a device may have five connections, and no more', async () => {
  const daemon = await runDaemon({ data });
  const secret = openAccess(data).setPublisher('probe-1', 'barn', OWNER);
  const options = { username: 'probe-1', password: secret };
  const clients = [];
  for (let i = 0; i < 5; i++) clients.push(await device(daemon, options));
  await expect(device(daemon, options)).rejects.toMatchObject({ code: 3 });
  await clients[0]!.endAsync();
  await patiently(() => device(daemon, options));
});

test('a topic of too many levels, and a packet that is too large, end the connection; others go on', async () => {
  const daemon = await runDaemon({ data });
  const deep = await device(daemon);
  const closed = new Promise<void>((resolve) => deep.once('close', () => resolve()));
  deep.publish('a/'.repeat(120), '20', { qos: 1 });
  await closed;
  // CONNECT, then the head of a PUBLISH that says it is 200 MB long (MQTT 3.1.1, 2.2.3).
  const socket = connectSocket(daemon.mqttPort, '127.0.0.1');
  const ended = new Promise<void>((resolve) => socket.once('close', () => resolve()));
  socket.on('error', () => {});
  socket.write(Buffer.from('100c00044d5154540402003c0000', 'hex'));
  await new Promise((resolve) => socket.once('data', resolve));
  socket.write(Buffer.from('3080c2d75f00046162636420', 'hex'));
  await ended;
  await daemon.read('barn/r1/liquid-temperature', 20);
});

test('who sends much right behind its CONNECT, as MQTT allows, is taken in', async () => {
  const daemon = await runDaemon({ data });
  const socket = connectSocket(daemon.mqttPort, '127.0.0.1');
  onTestFinished(() => void socket.destroy());
  const topic = Buffer.from(reading('barn/r1/liquid-temperature'));
  const payload = Buffer.from(`20${' '.repeat(200_000)}`);
  const length = 2 + topic.length + 2 + payload.length;
  // CONNECT and PUBLISH with QoS 1 in one piece (MQTT 3.1.1, 3.1.4: a client need not wait for CONNACK).
  socket.write(
    Buffer.concat([
      Buffer.from('100c00044d5154540402003c0000', 'hex'),
      Buffer.from([
        0x32,
        (length & 0x7f) | 0x80,
        ((length >> 7) & 0x7f) | 0x80,
        length >> 14,
        0,
        topic.length,
      ]),
      topic,
      Buffer.from([0, 1]),
      payload,
    ]),
  );
  let answer = '';
  socket.on('data', (data) => {
    answer += data.toString('hex');
  });
  // CONNACK, then PUBACK of packet 1.
  await patiently(() => expect(answer).toBe('2002000040020001'));
});

// These two take their time, and take it beside each other.
test.concurrent('who does not say who it is, is cut off', { timeout: 40_000 }, async ({
  expect,
  onTestFinished,
}) => {
  const daemon = await runDaemon({}, onTestFinished);
  const socket = connectSocket(daemon.mqttPort, '127.0.0.1');
  socket.on('error', () => {});
  const startMs = performance.now();
  await new Promise<void>((resolve) => socket.once('close', () => resolve()));
  expect(performance.now() - startMs).toBeLessThan(20_000);
});

test.concurrent('who sends without end waits for its turn, and others are taken in meanwhile', {
  timeout: 45_000,
}, async ({ expect, onTestFinished }) => {
  const daemon = await runDaemon({}, onTestFinished);
  await daemon.read('barn/r1/liquid-temperature', 20);
  const socket = connectSocket(daemon.mqttPort, '127.0.0.1');
  socket.on('error', () => {});
  onTestFinished(() => void socket.destroy());
  socket.write(Buffer.from('100c00044d5154540402003c0000', 'hex'));
  await new Promise((resolve) => socket.once('data', resolve));
  const topic = Buffer.from(reading('barn/r1/flood'));
  const payload = Buffer.from(`1${' '.repeat(200)}`);
  const length = 2 + topic.length + payload.length;
  // PUBLISH with QoS 0 (MQTT 3.1.1, 3.3).
  const packet = Buffer.concat([
    Buffer.from([0x30, (length & 0x7f) | 0x80, length >> 7, 0, topic.length]),
    topic,
    payload,
  ]);
  // What a connection may send at one go and a second (docs/security.md), and what is read of it at once: up to twice
  // what a socket holds ready.
  const [AT_ONCE, A_SECOND] = [20_000, 2000];
  const readAtOnce = (2 * 65_536) / packet.length;
  const FLOOD = 60_000;
  // So many can be told from no limit at all on a machine that stores more than 4,300 a second.
  const ENOUGH = 40_000;
  let others = 1;
  let flood = 0;
  const startMs = performance.now();
  const elapsedS = () => (performance.now() - startMs) / 1000;
  socket.write(Buffer.concat(Array.from({ length: FLOOD }, () => packet)));
  while (flood < ENOUGH && elapsedS() < 20) {
    await new Promise((resolve) => setTimeout(resolve, 200));
    await daemon.read('barn/r1/liquid-temperature', 20 + others / 100);
    others += 1;
    const { text } = await daemon.get('/metrics');
    flood = Number(/^esterwatch_readings_stored(?:_total)? (\d+)$/m.exec(text)![1]) - others;
    expect(flood).toBeLessThanOrEqual(AT_ONCE + A_SECOND * elapsedS() + readAtOnce);
  }
  expect(flood).toBeGreaterThan(0);
  const { readings } = (await daemon.get('/api/v1/vessels/r1')).json;
  expect(readings['liquid-temperature'].value).toBe(20 + (others - 1) / 100);
});

test('who is not let in stands among what was refused: by name where that is set up', async () => {
  const daemon = await runDaemon({ data });
  openAccess(data).setPublisher('probe-1', 'barn', OWNER);
  for (const username of ['probe-1', 'made-up', 'made-up-too'])
    await expect(device(daemon, { username, password: 'wrong' })).rejects.toMatchObject({ code: 5 });
  expect((await refusedTopics(daemon)).sort()).toEqual([
    'device-not-let-in sign-in',
    'device-not-let-in sign-in of probe-1',
  ]);
});

test('two connections of one device without an id of their own go on beside each other', async () => {
  const daemon = await runDaemon({ data });
  const password = openAccess(data).setPublisher('probe-1', 'barn', OWNER);
  const options = { username: 'probe-1', password, clientId: '', clean: true };
  const clients = [await device(daemon, options), await device(daemon, options)];
  for (const client of clients) await send(client, reading('barn/r1/liquid-temperature'));
  expect(clients.map(({ connected }) => connected)).toEqual([true, true]);
});

test('a connection has two hundred subscriptions at most; one that is given up makes room', async () => {
  const daemon = await runDaemon({ data });
  const client = await device(daemon);
  const filter = (i: number) => `esterwatch/v1/alarm/barn/v${i}`;
  for (let i = 0; i < 200; i++) await client.subscribeAsync(filter(i));
  await expect(client.subscribeAsync(filter(200))).rejects.toThrow();
  // Giving up what it never had makes no room, and what it has already needs none.
  await client.unsubscribeAsync(filter(999));
  await expect(client.subscribeAsync(filter(200))).rejects.toThrow();
  await client.subscribeAsync(filter(1));
  await client.unsubscribeAsync(filter(0));
  await client.subscribeAsync(filter(201));
});
