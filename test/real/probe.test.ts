import { existsSync, mkdtempSync, readdirSync, readFileSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { setTimeout as wait } from 'node:timers/promises';
import { beforeEach, expect, onTestFinished, test } from 'vitest';
import { openAccess } from '../../daemon/commands/open-access.ts';
import type { ProbeClock } from '../../probe/clock.ts';
import { probeSchema } from '../../probe/configuration.ts';
import { startProbe } from '../../probe/probe.ts';
import { Api, eventually } from '../support/api.ts';
import { type Run, startCommand } from '../support/command.ts';
import { ManualClock } from '../support/manual-clock.ts';
import { freePort, startMosquitto, startRelay } from '../support/mosquitto.ts';
import { MosquittoClients } from '../support/mosquitto-clients.ts';
import { SensorTree } from '../support/sensor-tree.ts';
import { dataFolder, LOOPBACK, serve, startHere } from '../support/serving.ts';
import { startSilentBroker } from '../support/silent-broker.ts';
import { isThorough } from '../support/thorough.ts';

const PROBE = '28-0316a2791eff';

let folder: string;
let tree: SensorTree;
beforeEach(() => {
  folder = mkdtempSync(join(tmpdir(), 'probe-'));
  tree = new SensorTree();
  tree.oneWire(PROBE, 54.25);
  onTestFinished(() => {
    tree.remove();
    rmSync(folder, { recursive: true, force: true });
  });
});

function freshData(): string {
  const { data, remove } = dataFolder();
  onTestFinished(remove);
  return data;
}

const configuration = (port: number, more: object = {}) => ({
  broker: `mqtt://${LOOPBACK}:${port}`,
  device: 'r1-probe',
  site: 'home',
  vessel: 'r1',
  everySeconds: 0.1,
  keep: join(folder, 'kept'),
  sources: [{ kind: 'one-wire', id: PROBE, channel: 'liquid-temperature' }],
  ...more,
});

/** `esterwatch probe` as built, a process of its own. */
function startProbeCommand(port: number, more: object = {}): Run {
  const file = join(folder, 'probe.json');
  writeFileSync(file, JSON.stringify(configuration(port, more)));
  return startCommand(folder, ['probe', '--config', file, '--root', tree.root]);
}

const kept = () =>
  existsSync(join(folder, 'kept'))
    ? readdirSync(join(folder, 'kept')).filter((name) => name.endsWith('.kept'))
    : [];

const keptLines = () =>
  kept().reduce(
    (sum, name) => sum + readFileSync(join(folder, 'kept', name), 'utf8').split('\n').length - 1,
    0,
  );

/** Time and number of each reading in the kept files; a line that is being written is none yet. */
const keptReadings = (): string[] =>
  kept().flatMap((name) =>
    readFileSync(join(folder, 'kept', name), 'utf8')
      .split('\n')
      .slice(0, -1)
      .map((line) => {
        const [, , atMs, seq] = JSON.parse(line);
        return `${atMs} ${seq}`;
      }),
  );

/** Numbers without a gap but to a full thousand, which is a start after a kill; each once, in their order. */
function expectNoneLost(seq: readonly (number | null)[]): void {
  expect(seq[0]).toBe(0);
  const gaps = seq.slice(1).flatMap((number, i) => (number === seq[i]! + 1 ? [] : [[seq[i]!, number!]]));
  for (const [before, after] of gaps as [number, number][]) {
    expect(after % 1000, `from ${before} to ${after}`).toBe(0);
    expect(after).toBeGreaterThan(before);
  }
}

const stored = async (api: Api, atLeast: number) =>
  eventually(
    () => api.raw('home:r1'),
    ({ t }) => t.length >= atLeast,
  );

test('what a probe reads is there, with time and number, and nothing lies on its disk', async () => {
  const served = await serve({ data: freshData() });
  onTestFinished(() => served.kill('SIGKILL'));
  const api = new Api(served.httpPort);
  const probe = startProbeCommand(served.mqttPort!);
  const { t, value, seq } = await stored(api, 10);
  expect(new Set(value)).toEqual(new Set([54.25]));
  expectNoneLost(seq);
  expect(Math.abs(t.at(-1)! - Date.now())).toBeLessThan(20_000);
  expect(kept()).toEqual([]);
  probe.child.kill('SIGTERM');
  expect(await probe.ended).toBe(0);
  // It goes on where it was.
  const before = (await api.raw('home:r1')).seq.at(-1)!;
  startProbeCommand(served.mqttPort!);
  const again = await stored(api, before + 10);
  expect(again.seq).toEqual(again.seq.map((_, i) => i));
});

test('a sensor that is pulled out says nothing, and goes on when it is back', async () => {
  const served = await serve({ data: freshData() });
  onTestFinished(() => served.kill('SIGKILL'));
  const api = new Api(served.httpPort);
  const probe = startProbeCommand(served.mqttPort!);
  await stored(api, 3);
  tree.remove('sys/bus/w1/devices');
  await probe.says(/liquid-temperature: .*is not there/);
  const { t } = await api.raw('home:r1');
  tree.oneWire(PROBE, 61.5);
  await probe.says(/is read again/);
  const after = await stored(api, t.length + 3);
  expect(after.value.at(-1)).toBe(61.5);
  expectNoneLost(after.seq);
  expect(after.seq.at(-1)).toBe(after.seq.length - 1);
  // It is told once, not at each look.
  expect(probe.err().match(/is not there/g)).toHaveLength(1);
});

test('what is no number, another at each look, is told once', async () => {
  const probe = startProbeCommand(await freePort());
  const file = `sys/bus/w1/devices/${PROBE}/w1_slave`;
  for (let i = 0; i < 10; i++) {
    tree.write(file, `garbage ${i}`);
    await wait(200);
  }
  tree.oneWire(PROBE, 54.25);
  await probe.says(/is read again/);
  expect(probe.err().match(/which is no measurement/g)).toHaveLength(1);
});

test('with the link cut and the machine killed again and again, no reading is lost and none comes twice', async () => {
  const served = await serve({ data: freshData() });
  onTestFinished(() => served.kill('SIGKILL'));
  const api = new Api(served.httpPort);
  const relay = await startRelay(served.mqttPort!);
  onTestFinished(relay.stop);
  let probe = startProbeCommand(relay.port);
  await stored(api, 5);
  const wanted: string[] = [];
  for (let round = 0; round < 3; round++) {
    relay.unheard();
    relay.cut();
    await eventually(kept, (files) => files.length > 0);
    await wait(500);
    // What is on the disk now must come; what is looked at next is lost with the machine, and nobody knows of it.
    const standing = keptReadings();
    expect(standing.length).toBeGreaterThan(0);
    wanted.push(...standing);
    probe.child.kill('SIGKILL');
    await probe.ended;
    probe = startProbeCommand(relay.port);
    await wait(700);
    const { t } = await api.raw('home:r1');
    relay.heard();
    await eventually(kept, (left) => left.length === 0);
    await stored(api, t.length + 5);
  }
  probe.child.kill('SIGTERM');
  expect(await probe.ended).toBe(0);
  const { seq, t } = await api.raw('home:r1');
  const there = new Set(seq.map((number, i) => `${t[i]} ${number}`));
  expect(wanted.filter((reading) => !there.has(reading))).toEqual([]);
  expectNoneLost(seq);
  expect(new Set(seq).size).toBe(seq.length);
  // Three kills, so three beginnings at a thousand.
  expect(seq.at(-1)!).toBeGreaterThanOrEqual(3000);
  expect(seq.at(-1)!).toBeLessThan(4000);
  expect(t).toEqual([...t].sort((a, b) => a - b));
  expect(await api.refused()).toEqual([]);
});

test('with a link that is silently gone, a kill loses the last second at most', async () => {
  const served = await serve({ data: freshData() });
  onTestFinished(() => served.kill('SIGKILL'));
  const api = new Api(served.httpPort);
  const relay = await startRelay(served.mqttPort!);
  onTestFinished(relay.stop);
  const first = startProbeCommand(relay.port);
  await stored(api, 5);
  relay.unheard();
  await eventually(keptLines, (count) => count > 10);
  first.child.kill('SIGKILL');
  const killedMs = Date.now();
  await first.ended;
  const keptThen = keptLines();
  relay.heard();
  startProbeCommand(relay.port);
  await eventually(keptLines, (count) => count === 0);
  const { seq, t } = await stored(api, 5 + keptThen);
  expectNoneLost(seq);
  // All that was kept is there, which is all but what was read in the last second.
  const before = t.filter((at) => at <= killedMs);
  expect(before.length).toBeGreaterThanOrEqual(5 + keptThen);
  // A loaded machine takes longer to write.
  if (isThorough) expect(killedMs - before.at(-1)!).toBeLessThan(3000);
});

test('two probes of one name are told apart from a bad network', async () => {
  const served = await serve({ data: freshData() });
  onTestFinished(() => served.kill('SIGKILL'));
  const first = startProbeCommand(served.mqttPort!);
  await first.says(/publishing to/);
  const second = startProbeCommand(served.mqttPort!, { keep: join(folder, 'other') });
  await Promise.any([
    first.says(/look whether another probe has the same/),
    second.says(/look whether another probe has the same/),
  ]);
});

/** A probe in this process on a clock that the test moves on, looking once a second. */
async function startOnClock(port: number, clock: ProbeClock) {
  const said: string[] = [];
  const log = { info: (text: string) => void said.push(text), warn: (text: string) => void said.push(text) };
  const parsed = probeSchema.parse(configuration(port, { everySeconds: 1 }));
  const probe = await startProbe({ configuration: parsed, root: tree.root, clock, log });
  onTestFinished(probe.close);
  const says = (wanted: RegExp) =>
    eventually(
      () => said,
      (texts) => texts.some((text) => wanted.test(text)),
    );
  return { probe, says, said };
}

test('a broker that lets it in and acknowledges nothing is told once and tried anew; nothing is lost', async () => {
  const broker = await startSilentBroker();
  // Long enough ago that nothing is ahead of anybody's clock.
  const clock = new ManualClock(Date.now() - 3_600_000);
  const { says, said } = await startOnClock(broker.port, clock);
  await says(/publishing to/);
  const seconds = async (count: number) => {
    for (let i = 0; i < count; i++) {
      clock.advance(1000);
      await wait(10);
    }
  };
  await seconds(20);
  expect(said.some((text) => /acknowledges nothing/.test(text))).toBe(false);
  await eventually(
    () => seconds(5).then(() => broker.connections()),
    (count) => count >= 3,
  );
  expect(said.filter((text) => /acknowledges nothing that it publishes/.test(text))).toHaveLength(1);
  expect(said.filter((text) => /there again|publishing to/.test(text))).toHaveLength(1);
  broker.acknowledge();
  await eventually(
    () => seconds(1).then(kept),
    (files) => files.length === 0,
  );
  await says(/acknowledges again/);
  expect(said.filter((text) => /acknowledges/.test(text))).toHaveLength(2);
  const seq = broker.seq();
  expect([...new Set(seq)].sort((a, b) => a - b)).toEqual(
    Array.from({ length: Math.max(...seq) + 1 }, (_, i) => i),
  );
});

test('ten minutes without a link, a reading a second: all come afterwards, with their own times', async () => {
  // The daemon's, too: the probe goes by its own only where they agree.
  const clock = new ManualClock(Date.UTC(2026, 2, 2));
  const daemon = await startHere({ data: freshData(), clock });
  onTestFinished(daemon.close);
  const api = new Api(daemon.httpPort);
  const relay = await startRelay(daemon.mqttPort!);
  onTestFinished(relay.stop);
  const startMs = clock.wallMs();
  const { says } = await startOnClock(relay.port, clock);
  const celsiusAt = (second: number) => 40 + (second % 80) / 8;
  let second = 0;
  /** A second goes by; resolves once what was read in it is where it belongs. */
  const goOn = async (isThere: () => Promise<boolean> | boolean) => {
    tree.oneWire(PROBE, celsiusAt(second));
    clock.advance(second === 0 ? 0 : 1000);
    second++;
    await eventually(isThere, (there) => there, 2);
  };
  await says(/publishing to/);
  for (let i = 0; i < 5; i++) await goOn(async () => (await api.raw('home:r1')).t.length === second);

  relay.unheard();
  relay.cut();
  await says(/is gone: readings are kept/);
  for (let i = 1; i <= 600; i++) await goOn(() => keptLines() === i);
  expect((await api.raw('home:r1')).t).toHaveLength(5);

  relay.heard();
  // It tries again within 30 s, and then nothing is left.
  while (kept().length > 0) {
    expect(second).toBeLessThan(700);
    const before = keptLines();
    await goOn(() => keptLines() !== before || kept().length === 0);
    await wait(20);
  }
  for (let i = 0; i < 5; i++) await goOn(async () => (await api.raw('home:r1')).t.length === second);

  const { t, value, seq } = await api.raw('home:r1');
  const seconds = Array.from({ length: second }, (_, i) => i);
  expect(seq).toEqual(seconds);
  expect(t).toEqual(seconds.map((i) => startMs + 1000 * i));
  expect(value).toEqual(seconds.map(celsiusAt));
  expect(await api.refused()).toEqual([]);
});

test('a machine whose clock is in 1970 goes by the daemon’s, also for what it read before', async () => {
  const daemon = await startHere({ data: freshData() });
  onTestFinished(daemon.close);
  const api = new Api(daemon.httpPort);
  const relay = await startRelay(daemon.mqttPort!);
  onTestFinished(relay.stop);
  const clock = new ManualClock(5000);
  relay.unheard();
  const { says } = await startOnClock(relay.port, clock);
  clock.advance(0);
  await says(/clock is not set/);
  for (let i = 1; i < 5; i++) {
    clock.advance(1000);
    await wait(100);
  }
  relay.heard();
  for (let i = 5; i < 40; i++) {
    clock.advance(1000);
    await wait(20);
  }
  await says(/goes by the daemon/);
  // A look that took too long left the next one out.
  const { t, seq } = await stored(api, 20);
  expect(seq).toEqual(seq.map((_, i) => i));
  for (const [i, at] of t.slice(1).entries()) {
    expect((at - t[i]!) % 1000).toBe(0);
    expect(at).toBeGreaterThan(t[i]!);
  }
  // In a time of the daemon's: the newest reading was just now.
  expect(Math.abs(t.at(-1)! - Date.now())).toBeLessThan(25_000);
  expect(await api.refused()).toEqual([]);
});

test.for([
  ['2 h behind, as where a system began with a time that it had saved,', -2],
  ['2 h ahead', 2],
] as const)('a machine whose clock is %s goes by the daemon’s until it is set', async ([, hours]) => {
  const clock = new ManualClock(Date.UTC(2026, 2, 2));
  const daemon = await startHere({ data: freshData(), clock });
  onTestFinished(daemon.close);
  const api = new Api(daemon.httpPort);
  const away = hours * 3_600_000;
  const own: ProbeClock = {
    wallMs: () => clock.wallMs() + wrongMs,
    monotonicMs: () => clock.monotonicMs(),
    after: (ms, call) => clock.after(ms, call),
  };
  let wrongMs = away;
  const { says } = await startOnClock(daemon.mqttPort!, own);
  await says(/publishing to/);
  for (let i = 0; i < 20; i++) {
    clock.advance(1000);
    await wait(50);
  }
  await says(/goes by the daemon/);
  /** Seconds go by until the newest reading is as wanted, its time being so many ms behind the daemon's. */
  const until = (isWanted: (behindMs: number) => boolean) =>
    eventually(
      async () => {
        clock.advance(1000);
        await wait(50);
        return { nowMs: clock.wallMs(), t: (await api.raw('home:r1')).t };
      },
      ({ nowMs, t }) => isWanted(nowMs - t.at(-1)!),
    );
  await until((behindMs) => Math.abs(behindMs) <= 5000);
  // It is set, though not to the second: its own holds from then on, which ends in another quarter.
  wrongMs = 7250;
  await until((behindMs) => Math.abs(behindMs) < 10_000 && Math.abs(behindMs) % 500 === 250);
  for (let i = 0; i < 6; i++) {
    clock.advance(1000);
    await wait(50);
  }
  await says(/goes by its own/);
});

test('by way of Mosquitto: presence, and a broker that was away', async () => {
  const mosquitto = await startMosquitto();
  const { port } = mosquitto;
  const data = freshData();
  const first = await serve({ data, broker: `mqtt://${LOOPBACK}:${port}` });
  onTestFinished(() => first.kill('SIGKILL'));
  const api = new Api(first.httpPort);
  await api.ready();
  const probe = startProbeCommand(port);
  await stored(api, 5);
  const presence = () => new MosquittoClients(port).retained('esterwatch/v1/presence/home/r1-probe');
  expect(await presence()).toBe('here');

  await mosquitto.stop();
  await probe.says(/nothing listens at/);
  await eventually(kept, (files) => files.length > 0);
  await wait(500);
  const again = await startMosquitto(port);
  onTestFinished(again.stop);
  await eventually(kept, (files) => files.length === 0);
  expect(await presence()).toBe('here');
  probe.child.kill('SIGKILL');
  await eventually(presence, (text) => text === 'gone');
});

test('a device that is set up gets in with its password, and says what is wrong with another', async () => {
  const data = freshData();
  const served = await serve({ data });
  onTestFinished(() => served.kill('SIGKILL'));
  const password = openAccess(data).setPublisher('r1-probe', 'home', 'the owner');
  const wrong = startProbeCommand(served.mqttPort!, { password: 'another' });
  await wrong.says(/does not let r1-probe in.*device add r1-probe --site home/);
  wrong.child.kill('SIGTERM');
  expect(await wrong.ended).toBe(0);
  expect(wrong.err()).not.toContain('another"');
  // What was read meanwhile is not lost.
  startProbeCommand(served.mqttPort!, { password });
  const { seq } = await stored(new Api(served.httpPort), 5);
  expectNoneLost(seq);
});

test('a stop says what is kept and not sent', async () => {
  const served = await serve({ data: freshData() });
  onTestFinished(() => served.kill('SIGKILL'));
  const ending = async (port: number, isSoFar: () => Promise<unknown>) => {
    const probe = startProbeCommand(port);
    await isSoFar();
    probe.child.kill('SIGTERM');
    expect(await probe.ended).toBe(0);
    expect(probe.err()).not.toContain('everything acknowledged is stored');
    return probe.err();
  };
  const apart = await freePort();
  const first = await ending(apart, () => eventually(keptLines, (count) => count > 5));
  expect(first).toContain(`stopped; ${keptLines()} readings that nobody acknowledged are kept in`);
  const before = keptLines();
  const second = await ending(apart, () => eventually(keptLines, (count) => count > before + 5));
  expect(second).toMatch(/stopped; about \d+ readings/);
  const api = new Api(served.httpPort);
  const sent = await ending(served.mqttPort!, async () => {
    await stored(api, before);
    await eventually(kept, (files) => files.length === 0);
  });
  expect(sent).toMatch(/stopped; (nothing is kept that waits|\d+ readings that nobody)/);
  expect(/nothing is kept/.test(sent)).toBe(kept().length === 0);
});

test('one folder is one probe’s', async () => {
  const port = await freePort();
  const first = startProbeCommand(port);
  await first.says(/nothing listens at/);
  const second = startProbeCommand(port);
  expect(await second.ended).toBe(2);
  expect(second.err()).toMatch(/another probe is running/);
});
