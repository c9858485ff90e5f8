import { spawnSync } from 'node:child_process';
import { once } from 'node:events';
import { chmodSync, mkdtempSync, rmSync, writeFileSync } from 'node:fs';
import { type AddressInfo, createServer } from 'node:net';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { fileURLToPath } from 'node:url';
import { beforeEach, expect, onTestFinished, test } from 'vitest';
import { probeSchema } from '../../probe/configuration.ts';
import { runCommand, startCommand } from '../support/command.ts';
import { freePort } from '../support/mosquitto.ts';
import { MosquittoClients } from '../support/mosquitto-clients.ts';
import { SensorTree } from '../support/sensor-tree.ts';
import { dataFolder, LOOPBACK, startHere } from '../support/serving.ts';
import { startSilentBroker } from '../support/silent-broker.ts';

const MAIN = fileURLToPath(new URL('../../dist/daemon/main.js', import.meta.url));
/** The user and group that own nothing (Debian: base-passwd). */
const NOBODY = 65_534;

let folder: string;
let tree: SensorTree;
beforeEach(() => {
  folder = mkdtempSync(join(tmpdir(), 'probe-command-'));
  tree = new SensorTree();
  onTestFinished(() => {
    tree.remove();
    rmSync(folder, { recursive: true, force: true });
  });
});

const run = (...args: string[]) => runCommand(folder, ['probe', '--root', tree.root, ...args]);

const THERMOMETER = { kind: 'one-wire', id: '28-0316a2791eff', channel: 'liquid-temperature' };

function configured(change: object = {}): string {
  const file = join(folder, 'probe.json');
  const whole = {
    broker: `mqtt://${LOOPBACK}:1`,
    device: 'r1-probe',
    site: 'home',
    vessel: 'r1',
    sources: [THERMOMETER],
  };
  writeFileSync(file, JSON.stringify({ ...whole, ...change }));
  return file;
}

test('nothing connected is one line that says what to do', async () => {
  for (const args of [[], ['--check']]) {
    const { code, out, err } = await run(...args);
    expect({ code, out, lines: err.split('\n').length }).toEqual({ code: 2, out: '', lines: 2 });
    expect(err).toContain('modprobe');
  }
});

test('what is found can be kept as it is printed, and checked, and read without it', async () => {
  tree.oneWire(THERMOMETER.id, 54.25);
  tree.chip('sys/class/hwmon/hwmon3', 'nct6775', { temp1_input: 30_000 });
  const { code, out, err } = await run();
  expect([code, err.split('\n').length]).toEqual([0, 2]);
  const configuration = probeSchema.parse(JSON.parse(out));
  expect(configuration.sources.map(({ channel }) => channel)).toEqual([
    'liquid-temperature',
    'nct6775-temp1',
  ]);
  const found = await run('--check');
  expect([found.code, found.err]).toEqual([0, '']);
  expect(found.out).toBe(
    'liquid-temperature: 54.25 °C  (1-Wire 28-0316a2791eff)\nnct6775-temp1: 30 °C  (hwmon nct6775 temp1)\n',
  );
});

test('a check says what each reads, what does not, and whether the broker lets it in; nothing is stored', async () => {
  const { data, remove } = dataFolder();
  onTestFinished(remove);
  const daemon = await startHere({ data });
  onTestFinished(daemon.close);
  tree.oneWire(THERMOMETER.id, 54.25);
  const broker = `mqtt://${LOOPBACK}:${daemon.mqttPort}`;
  const other = { kind: 'hwmon', chip: 'lm75', input: 'temp1', channel: 'liquid-temperature-2' };
  const good = await run(
    '--config',
    configured({ broker, sources: [{ ...THERMOMETER, scale: 2, offset: 1 }] }),
    '--check',
  );
  expect(good).toEqual({
    code: 0,
    err: '',
    out: 'liquid-temperature: 109.5  (1-Wire 28-0316a2791eff)\nbroker: lets r1-probe in, and acknowledges what it publishes\n',
  });
  const bad = await run('--config', configured({ broker, sources: [THERMOMETER, other] }), '--check');
  expect([bad.code, bad.err]).toEqual([1, '']);
  expect(bad.out).toMatch(
    /^liquid-temperature: 54.25 °C .*\nliquid-temperature-2: nothing .*no chip lm75.*\nbroker: lets/,
  );
  const vessels = await (await fetch(`http://${LOOPBACK}:${daemon.httpPort}/api/v1/vessels`)).json();
  expect(vessels).toEqual({ vessels: [] });
});

test('a broker that lets it in and acknowledges nothing is told by a check', async () => {
  tree.oneWire(THERMOMETER.id, 54.25);
  const { port } = await startSilentBroker();
  const { code, out } = await run(
    '--config',
    configured({ broker: `mqtt://${LOOPBACK}:${port}` }),
    '--check',
  );
  expect(code).toBe(1);
  expect(out).toMatch(/\nbroker: .* lets r1-probe in, but acknowledges nothing that it publishes/);
});

test('a check leaves the presence as it is', async () => {
  const { data, remove } = dataFolder();
  onTestFinished(remove);
  const daemon = await startHere({ data });
  onTestFinished(daemon.close);
  tree.oneWire(THERMOMETER.id, 54.25);
  const clients = new MosquittoClients(daemon.mqttPort!);
  const topic = 'esterwatch/v1/presence/home/r1-probe';
  const file = configured({ broker: `mqtt://${LOOPBACK}:${daemon.mqttPort}` });
  expect((await run('--config', file, '--check')).code).toBe(0);
  expect(await clients.retained(topic)).toBe('gone');
  const probe = startCommand(folder, ['probe', '--root', tree.root, '--config', file]);
  await probe.says(/publishing to/);
  expect((await run('--config', file, '--check')).code).toBe(0);
  expect(await clients.retained(topic)).toBe('here');
});

/** A server that answers whatever comes with this, for ever; a port for it. */
async function answering(text: string): Promise<number> {
  const server = createServer((socket) => {
    socket.on('error', () => {});
    socket.on('data', () => socket.end(text));
  }).listen(0, LOOPBACK);
  await once(server, 'listening');
  onTestFinished(() => void server.close());
  return (server.address() as AddressInfo).port;
}

test('a wrong broker is a sentence that says what to do', async () => {
  tree.oneWire(THERMOMETER.id, 54.25);
  const page = await answering('HTTP/1.1 400 Bad Request\r\n\r\n');
  for (const [broker, wanted] of [
    [`mqtt://${LOOPBACK}:${await freePort()}`, /nothing listens at .*--mqtt 0\.0\.0\.0:1883/],
    [`mqtt://${LOOPBACK}:${page}`, /not as a broker does.*8080.*1883/],
    ['mqtt://no-such-host.invalid', /not known in this network/],
  ] as const) {
    const { code, out } = await run('--config', configured({ broker }), '--check');
    expect(code).toBe(1);
    expect(out.trimEnd().split('\n').at(-1)).toMatch(wanted);
  }
});

test.for<[object, string]>([
  [{ site: 'Home' }, 'site: a name has small letters'],
  [
    { sources: [{ ...THERMOMETER, channel: 'Liquid-Temperature' }] },
    'sources.0.channel: a name has small letters',
  ],
  [{ sources: [THERMOMETER, THERMOMETER] }, 'liquid-temperature-2'],
  [{ broker: '10.0.0.5:1883' }, 'a broker is like mqtt://'],
])('a configuration with %j', async ([change, names]) => {
  const { code, out, err } = await run('--config', configured(change));
  expect({ code, out, lines: err.split('\n').length }).toEqual({ code: 2, out: '', lines: 2 });
  expect(err).toContain(names);
});

test('a file that it may not read says how to be let', ({ skip }) => {
  tree.oneWire(THERMOMETER.id, 54.25);
  chmodSync(join(tree.root, 'sys/bus/w1/devices', THERMOMETER.id, 'w1_slave'), 0);
  chmodSync(tree.root, 0o755);
  // The superuser may read everything, and is nobody here.
  const as = process.geteuid?.() === 0 ? { uid: NOBODY, gid: NOBODY } : {};
  if (spawnSync('test', ['-r', MAIN], as).status !== 0) return skip('nobody may read the build here');
  const { status, stdout } = spawnSync(process.execPath, [MAIN, 'probe', '--root', tree.root, '--check'], {
    ...as,
    cwd: tree.root,
    encoding: 'utf8',
  });
  expect(status).toBe(1);
  expect(stdout).toMatch(/^liquid-temperature: nothing .*w1_slave may not be read by this user.*usermod/);
});

test('a folder that cannot be used is one line', async () => {
  writeFileSync(join(folder, 'file'), '');
  const { ended, err } = startCommand(folder, [
    'probe',
    '--root',
    tree.root,
    '--config',
    configured({ keep: join(folder, 'file/kept') }),
  ]);
  expect(await ended).toBe(2);
  expect(err()).toMatch(/^esterwatch: .*file\/kept.*\n$/);
});
