import { type ChildProcess, execFile, spawn, spawnSync } from 'node:child_process';
import { copyFileSync, mkdirSync, readFileSync, writeFileSync } from 'node:fs';
import { join } from 'node:path';
import { fileURLToPath } from 'node:url';
import { promisify } from 'node:util';
import { connectAsync } from 'mqtt';
import { describe, expect, onTestFinished, test } from 'vitest';
import { readConfig } from '../../daemon/config.ts';
import { temporaryDir } from '../daemon/store/fixture.ts';
import { Api, eventually } from '../support/api.ts';
import { endWithTests } from '../support/children.ts';
import { startRelay } from '../support/mosquitto.ts';
import { LOOPBACK, startHere } from '../support/serving.ts';

const run = promisify(execFile);
const EXAMPLES = fileURLToPath(new URL('../../docs/examples/', import.meta.url));
const BOARDS = fileURLToPath(new URL('./examples/', import.meta.url));
/** A python3 that has an MQTT library: Debian's packages are for Debian's own. */
const PYTHON_WITH_MQTT = ['python3', '/usr/bin/python3'].find(
  (program) => spawnSync(program, ['-c', 'import paho.mqtt']).status === 0,
);

/** A daemon that lets one device in, by a link that can be cut. */
async function watched(topics: string | null = null) {
  const folder = temporaryDir();
  const daemon = await startHere({
    data: join(folder, 'data'),
    topics: topics === null ? [] : readConfig(topics).topics!,
  });
  onTestFinished(daemon.close);
  const api = new Api(daemon.httpPort);
  await api.ready();
  const set = await api.call('PUT', '/api/v1/publishers/r1-probe', { site: 'home' });
  const { secret } = (await set.json()) as { secret: string };
  const relay = await startRelay(daemon.mqttPort!);
  onTestFinished(relay.stop);
  const presence = async (): Promise<string | undefined> => {
    const { devices } = await api.get<{ devices: { device: string; presence: string }[] }>('/api/v1/devices');
    return devices.find(({ device }) => device === 'r1-probe')?.presence;
  };
  return { folder, api, secret, relay, port: daemon.mqttPort!, presence };
}

type Watched = Awaited<ReturnType<typeof watched>>;

function settings({ folder, secret, relay }: Watched, example: string): string {
  const file = join(folder, 'settings.json');
  const shown = JSON.parse(readFileSync(join(EXAMPLES, example), 'utf8'));
  writeFileSync(file, JSON.stringify({ ...shown, broker: LOOPBACK, port: relay.port, password: secret }));
  return file;
}

/** How each example is started; what it is to publish comes to it line by line. */
const STARTS = {
  'MicroPython, on a board that python3 plays': (at) => {
    settings(at, 'micropython/settings.example.json');
    return spawn('python3', [join(BOARDS, 'micropython/board.py'), join(EXAMPLES, 'micropython/main.py')], {
      cwd: at.folder,
      stdio: ['pipe', 'ignore', 'inherit'],
    });
  },
  Python: (at) =>
    spawn(PYTHON_WITH_MQTT!, [join(EXAMPLES, 'publish.py'), settings(at, 'settings.example.json')], {
      stdio: ['pipe', 'ignore', 'inherit'],
    }),
  'the shell': ({ folder, secret, relay }) => {
    const options = `-h ${LOOPBACK}\n-p ${relay.port}\n-u r1-probe\n-P ${secret}\n`;
    writeFileSync(join(folder, 'mosquitto_pub'), options, { mode: 0o600 });
    const words = ['home', 'r1', 'liquid-temperature', 'r1-probe'];
    return spawn(join(EXAMPLES, 'publish.sh'), words, {
      env: { ...process.env, XDG_CONFIG_HOME: folder },
      stdio: ['pipe', 'ignore', 'inherit'],
    });
  },
} satisfies Record<string, (at: Watched) => ChildProcess>;

describe.for(Object.keys(STARTS) as (keyof typeof STARTS)[])('%s', (name) => {
  test.skipIf(name === 'Python' && PYTHON_WITH_MQTT === undefined)(
    'publishes each reading once with its time and number, over a cut of the link, and is gone at its end',
    async () => {
      const at = await watched();
      const beganMs = Date.now();
      const device = endWithTests(STARTS[name](at));
      const say = (value: number) => void device.stdin!.write(`${value}\n`);
      const arrived = (count: number) =>
        eventually(
          () => at.api.raw('home:r1'),
          ({ t }) => t.length >= count,
        );
      say(54.2);
      await arrived(1);
      expect(await at.presence()).toBe('here');
      say(54.3);
      await arrived(2);
      expect(at.relay.cut()).toBeGreaterThan(0);
      for (const value of [54.4, 54.5, 54.6]) say(value);
      const { t, value, seq } = await arrived(5);
      expect(value).toEqual([54.2, 54.3, 54.4, 54.5, 54.6]);
      expect(seq).toEqual([0, 1, 2, 3, 4]);
      for (const atMs of t) expect(atMs).toBeGreaterThan(beganMs - 1000);
      for (const atMs of t) expect(atMs).toBeLessThanOrEqual(Date.now());
      const ended = new Promise<number | null>((resolve) => device.once('exit', resolve));
      device.stdin!.end();
      expect(await ended).toBe(0);
      await eventually(at.presence, (presence) => presence === 'gone');
      // Twice sent is not twice stored, and nothing of it was refused.
      expect((await at.api.raw('home:r1')).t).toHaveLength(5);
      expect(await at.api.refused()).toEqual([]);
    },
  );
});

test('the sketch for a microcontroller publishes what it kept while the link was lost', {
  timeout: 60_000,
}, async () => {
  const at = await watched();
  copyFileSync(join(EXAMPLES, 'microcontroller/secrets.example.h'), join(at.folder, 'secrets.h'));
  mkdirSync(join(at.folder, 'out'));
  const board = join(at.folder, 'out/board');
  const sketch = join(EXAMPLES, 'microcontroller/microcontroller.ino');
  await run('g++', [
    ...['-std=c++17', '-Wall', '-Wextra', '-Werror', `-DSKETCH="${sketch}"`],
    ...['-I', join(BOARDS, 'arduino'), '-I', at.folder, '-o', board, '-x', 'c++'],
    join(BOARDS, 'arduino/board.cpp'),
  ]);
  // Its clock is set after 2.5 s; the link is lost from 5 to 9 s after its start.
  const startMs = Date.now() - 20_000;
  const { stdout } = await run(board, [startMs, 2500, 5000, 9000, 14_000].map(String));
  const [will, ...lines] = stdout.trimEnd().split('\n');
  expect(will).toBe('will esterwatch/v1/presence/home/r1-probe\t1\t1\tgone');
  const device = await connectAsync(`mqtt://${LOOPBACK}:${at.port}`, {
    username: 'r1-probe',
    password: at.secret,
  });
  for (const line of lines) {
    const [topic, qos, retain, payload] = line.split('\t') as [string, string, string, string];
    await device.publishAsync(topic, payload, { qos: Number(qos) as 0 | 1, retain: retain === '1' });
  }
  await device.endAsync();
  expect(await at.presence()).toBe('here');
  const { t, value, seq } = await at.api.raw('home:r1');
  const timed = t.flatMap((atMs, i) => (seq[i] === null ? [] : [{ atMs, value: value[i]!, seq: seq[i]! }]));
  // Before its clock was set: plain numbers, stamped when they came.
  expect(t.length - timed.length).toBe(2);
  expect(timed.map((one) => one.seq)).toEqual(Array.from({ length: timed.length }, (_, i) => i));
  expect(timed.length).toBeGreaterThanOrEqual(10);
  for (const [i, one] of timed.entries()) {
    expect(one.atMs - timed[0]!.atMs).toBeCloseTo(1000 * i, -2);
    expect(one.value).toBeCloseTo(timed[0]!.value + 0.1 * i, 1);
  }
  expect(timed[0]!.atMs - startMs).toBeGreaterThanOrEqual(2500);
  expect(await at.api.refused()).toEqual([]);
});

test('a device with topics and JSON of its own reaches several channels by the configuration', async () => {
  const at = await watched(join(EXAMPLES, 'own-topics.json'));
  const device = await connectAsync(`mqtt://${LOOPBACK}:${at.port}`, {
    username: 'r1-probe',
    password: at.secret,
  });
  const state = { probes: { oil: { fahrenheit: 129.6 } }, motor: { turnsPerSecond: 5.2 }, uptime: 17 };
  await device.publishAsync('shed/box1/state', JSON.stringify(state), { qos: 1 });
  await device.publishAsync('shed/box1/heater', '1', { qos: 1 });
  expect((await at.api.raw('home:r1')).value[0]).toBeCloseTo(54.222, 3);
  expect((await at.api.raw('home:r1', 'stirrer-speed')).value[0]).toBeCloseTo(312, 6);
  expect((await at.api.raw('home:r1', 'heater')).value).toEqual([1]);
  expect(await at.api.refused()).toEqual([]);
  // One that is not in it this time is refused by itself.
  await device.publishAsync('shed/box1/state', '{"motor":{"turnsPerSecond":5}}', { qos: 1 });
  await device.endAsync();
  expect((await at.api.raw('home:r1', 'stirrer-speed')).value).toHaveLength(2);
  expect((await at.api.refused()).map(({ topic, count }) => [topic, count])).toEqual([
    ['shed/box1/state', 1],
  ]);
});
