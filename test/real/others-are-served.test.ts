import { once } from 'node:events';
import { mkdtempSync, rmSync } from 'node:fs';
import { connect, type Socket } from 'node:net';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { connectAsync } from 'mqtt';
import { expect, type OnTestFinishedHandler, test } from 'vitest';
import { WebSocket } from 'ws';
import { openAccess } from '../../daemon/commands/open-access.ts';
import { presenceTopic, readingTopic } from '../../shared/wire/topics.ts';
import { ask, type RunningDaemon, runDaemon } from '../daemon/running-daemon.ts';
import { eventually } from '../support/api.ts';
import { Link } from '../support/link.ts';
import { dataFolderOnDisk, LOOPBACK, serve } from '../support/serving.ts';
import { isThorough, share } from '../support/thorough.ts';

/** Connections of each kind that do nothing. */
const IDLE = share(2000, 10);
const HOST = 'Host: localhost\r\n';
const LIVE = `GET /api/v1/live HTTP/1.1\r\n${HOST}Connection: Upgrade\r\nUpgrade: websocket\r\nSec-WebSocket-Version: 13\r\nSec-WebSocket-Key: dGhlIHNhbXBsZSBub25jZQ==\r\n\r\n`;
const field = (text: string): Buffer => {
  const bytes = Buffer.from(text);
  return Buffer.concat([Buffer.from([0, bytes.length]), bytes]);
};
/** CONNECT, with a last will that the device is gone or without one (MQTT 3.1.1, 3.1), of 127 bytes at most. */
function connectPacket(id: string, keepAliveS: number, hasWill: boolean): Buffer {
  const [CLEAN, WILL_AT_QOS_1] = [0b10, 0b1100];
  const body = Buffer.concat([
    field('MQTT'),
    Buffer.from([4, CLEAN | (hasWill ? WILL_AT_QOS_1 : 0), 0, keepAliveS]),
    field(id),
    ...(hasWill ? [field(presenceTopic('barn', id)), field('gone')] : []),
  ]);
  return Buffer.concat([Buffer.from([0x10, body.length]), body]);
}
/** Short, s; and yet a busy machine sends something within it. */
const KEEP_ALIVE_S = 4;
const PINGREQ = Buffer.from([0xc0, 0]);

type Ports = Pick<RunningDaemon, 'httpPort' | 'mqttPort'>;

type AtEnd = (cleanUp: OnTestFinishedHandler) => void;

/** A connection that says something and is then let be; resolves once it is there. */
async function open(port: number, text: string | Buffer, atEnd: AtEnd): Promise<Socket> {
  const socket = connect(port, LOOPBACK);
  socket.on('error', () => {});
  atEnd(() => void socket.destroy());
  await once(socket, 'connect');
  if (text.length > 0) socket.write(text);
  return socket;
}

let readings = 0;

/** A device's reading is acknowledged, a page's request answered, and it shows the reading. */
async function othersAreServed({ httpPort, mqttPort }: Ports, headers: Record<string, string> = {}) {
  const device = await connectAsync(`mqtt://${LOOPBACK}:${mqttPort}`, { reconnectPeriod: 0 });
  const value = 20 + readings++ / 100;
  await device.publishAsync(readingTopic('barn', 'r1', 'liquid-temperature'), String(value), { qos: 1 });
  await device.endAsync();
  const { status, json } = await ask(httpPort, 'GET', '/api/v1/vessels/barn:r1', headers);
  expect(status).toBe(200);
  expect(json.readings['liquid-temperature'].value).toBe(value);
}

const viewersOf = async ({ httpPort }: Ports): Promise<number> =>
  Number(/^esterwatch_viewers (\d+)/m.exec((await ask(httpPort, 'GET', '/metrics')).text)![1]);

/** Beside each other: some of them only wait. */
const testBesideOthers = isThorough ? test : test.concurrent;

testBesideOthers(
  `${IDLE} connections of each kind that do nothing`,
  { timeout: 180_000 },
  async ({ expect, onTestFinished }) => {
    const { data, remove } = dataFolderOnDisk();
    onTestFinished(remove);
    const served = await serve({ data });
    onTestFinished(() => served.kill('SIGKILL'));
    const ports = { httpPort: served.httpPort, mqttPort: served.mqttPort! };
    await othersAreServed(ports);
    // As many at a time as a listener has room for in its queue.
    for (let from = 0; from < IDLE; from += 100) {
      await Promise.all(
        Array.from({ length: 100 }, async (_, i) => {
          const mqtt = await open(
            ports.mqttPort,
            connectPacket(`idle-${from + i}`, 0, false),
            onTestFinished,
          );
          await once(mqtt, 'data');
          await open(ports.httpPort, '', onTestFinished);
          await open(ports.httpPort, LIVE, onTestFinished);
        }),
      );
    }
    // Beyond so many, viewers are told that there is no room (docs/security.md).
    await eventually(
      () => viewersOf(ports),
      (count) => count === Math.min(IDLE, 1000),
    );
    await othersAreServed(ports);
    served.kill('SIGTERM');
    expect((await served.ended).code).toBe(0);
  },
);

testBesideOthers(
  'clients that ask for much and read nothing of it',
  { timeout: 60_000 },
  async ({ expect, onTestFinished }) => {
    const daemon = await runDaemon({}, onTestFinished);
    // A channel that is long to tell.
    const kept = Array.from({ length: 5000 }, (_, seq) => ({ value: seq, at: Date.now() - seq, seq }));
    await daemon.publish(readingTopic('barn', 'r1', 'lamp'), JSON.stringify(kept));
    const paths = [
      '/api/v1/openapi.json',
      '/api/v1/vessels/barn:r1/readings?channel=lamp&points=raw&from=0',
      '/api/v1/vessels/barn:r1/readings.csv?channel=lamp&from=0',
      '/',
    ];
    for (let i = 0; i < share(200, 20); i++) {
      const path = paths[i % paths.length];
      const slow = await open(
        daemon.httpPort,
        `GET ${path} HTTP/1.1\r\n${HOST}\r\n`.repeat(50),
        onTestFinished,
      );
      slow.pause();
    }
    await othersAreServed(daemon);
    expect(daemon.errors).toEqual([]);
  },
);

testBesideOthers(
  'devices and pages whose links are open at one end only',
  { timeout: 60_000 },
  async ({ expect, onTestFinished }) => {
    const daemon = await runDaemon({}, onTestFinished);
    const links = {
      mqtt: await Link.open(daemon.mqttPort),
      http: await Link.open(daemon.httpPort),
    };
    for (const link of Object.values(links)) onTestFinished(() => link.close());
    const gone = new Set<string>();
    const listener = await connectAsync(`mqtt://${LOOPBACK}:${daemon.mqttPort}`, { reconnectPeriod: 0 });
    onTestFinished(() => listener.endAsync(true));
    listener.on('message', (topic, payload) => {
      if (payload.toString() === 'gone') gone.add(topic);
    });
    await listener.subscribeAsync(presenceTopic('barn', '+'), { qos: 1 });
    const COUNT = share(200, 10);
    const names = Array.from({ length: COUNT }, (_, i) => `half-${i}`);
    for (const name of names) {
      // Both say that they are there, for as long as their links last.
      const device = await open(links.mqtt.port, connectPacket(name, KEEP_ALIVE_S, true), onTestFinished);
      const pinging = setInterval(() => device.write(PINGREQ), 1000);
      device.once('close', () => clearInterval(pinging));
      device.resume();
      const page = new WebSocket(`ws://${LOOPBACK}:${links.http.port}/api/v1/live`, {
        headers: { host: 'localhost' },
      });
      onTestFinished(() => page.terminate());
      await once(page, 'message');
      page.on('error', () => {});
    }
    expect(await viewersOf(daemon)).toBe(COUNT);
    expect([...gone]).toEqual([]);
    for (const link of Object.values(links)) link.leave('far');
    await othersAreServed(daemon);
    // A page's link that nobody answers is given up; a device's after one and a half of its keep-alive (MQTT 3.1.1, 3.1.2.10).
    await eventually(
      () => gone.size,
      (devices) => devices === COUNT,
      200,
      30_000,
    );
    await eventually(
      () => viewersOf(daemon),
      (count) => count === 0,
      200,
      30_000,
    );
    expect([...gone].sort()).toEqual(names.map((name) => presenceTopic('barn', name)).sort());
    await othersAreServed(daemon);
  },
);

testBesideOthers(
  'a flood of wrong sign-ins: whoever is signed in is served',
  { timeout: 60_000 },
  async ({ expect, onTestFinished }) => {
    const data = mkdtempSync(join(tmpdir(), 'esterwatch-flood-'));
    onTestFinished(() => rmSync(data, { recursive: true, force: true }));
    const daemon = await runDaemon({ data }, onTestFinished);
    const passphrase = 'a long walk to the oil press';
    const access = openAccess(data);
    await access.setPerson('Ada Brook', { rights: ['look', 'work'], passphrase }, 'the owner');
    const signIn = (name: string, what: string) =>
      daemon.send('POST', '/api/v1/session', { name, passphrase: what });
    const signedIn = await signIn('Ada Brook', passphrase);
    expect(signedIn.status).toBe(200);
    const cookie = String(signedIn.headers['set-cookie']).split(';')[0]!;

    const statuses = new Map<number, number>();
    let isOver = false;
    const flooding = Promise.all(
      Array.from({ length: 50 }, async (_, from) => {
        for (let i = 0; i < share(40, 4); i++) {
          const { status } = await signIn(i % 2 === 0 ? 'Ada Brook' : `nobody ${from}`, `a wrong guess ${i}`);
          statuses.set(status, (statuses.get(status) ?? 0) + 1);
        }
      }),
    ).then(() => {
      isOver = true;
    });
    for (let i = 0; !isOver || i < 3; i++) await othersAreServed(daemon, { cookie });
    await flooding;
    expect([...statuses.keys()].filter((status) => status !== 401 && status !== 429)).toEqual([]);
    expect(statuses.get(429)).toBeGreaterThan(0);
    expect(daemon.errors).toEqual([]);
  },
);

/** It takes the time that it is about. */
test.runIf(isThorough)(
  'pages that read nothing are cut off before they have an old picture',
  {
    timeout: 90_000,
  },
  async ({ expect, onTestFinished }) => {
    const daemon = await runDaemon({}, onTestFinished);
    await daemon.read('barn/r1/liquid-temperature', 20);
    const awake = await daemon.look();
    const asleep = await Promise.all(
      Array.from({ length: 50 }, () => open(daemon.httpPort, LIVE, onTestFinished)),
    );
    await eventually(
      () => viewersOf(daemon),
      (count) => count === asleep.length + 1,
    );
    // Nothing is read of them from now on: a socket without a listener is paused.
    await othersAreServed(daemon);
    await eventually(
      () => viewersOf(daemon),
      (count) => count === 1,
      200,
      30_000,
    );
    expect(awake.socket.readyState).toBe(awake.socket.OPEN);
    await othersAreServed(daemon);
  },
);
