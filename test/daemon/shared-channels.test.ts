import { mkdtempSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { connectAsync, type IClientOptions, type MqttClient } from 'mqtt';
import { beforeEach, expect, onTestFinished, test } from 'vitest';
import { describeSender, knownAs } from '../../daemon/broker/sender.ts';
import { ArrivalClock } from '../../daemon/clock.ts';
import { openAccess } from '../../daemon/commands/open-access.ts';
import { SharedChannels } from '../../daemon/intake/shared-channels.ts';
import type { NewAction } from '../../daemon/store/store.ts';
import type { Alarm } from '../../shared/wire/api.ts';
import { ManualClock } from '../support/manual-clock.ts';
import { patiently } from '../support/patiently.ts';
import { type RunningDaemon, runDaemon } from './running-daemon.ts';

const TOPIC = 'esterwatch/v1/reading/barn/r1/liquid-temperature';

let data: string;
let clock: ManualClock;
beforeEach(() => {
  const folder = mkdtempSync(join(tmpdir(), 'esterwatch-shared-'));
  data = folder;
  clock = new ManualClock(Date.UTC(2026, 2, 2, 10));
  return () => rmSync(folder, { recursive: true, force: true });
});

async function device({ mqttPort }: RunningDaemon, options: IClientOptions): Promise<MqttClient> {
  const client = await connectAsync(`mqtt://127.0.0.1:${mqttPort}`, {
    reconnectPeriod: 0,
    keepalive: 0,
    ...options,
  });
  onTestFinished(() => client.endAsync(true));
  return client;
}

/** Each sends its value in turn, a second apart. */
async function inTurn(times: number, ...senders: [MqttClient, string][]): Promise<void> {
  for (let i = 0; i < times; i++)
    for (const [client, value] of senders) {
      clock.advance(1000);
      await client.publishAsync(TOPIC, value, { qos: 1 });
    }
}

const alarmsOf = async (daemon: RunningDaemon): Promise<Alarm[]> =>
  (await daemon.get('/api/v1/alarms')).json.alarms;
const shared = async (daemon: RunningDaemon): Promise<Alarm[]> =>
  (await alarmsOf(daemon)).filter(({ alarm }) => alarm === 'two-devices');

test('two devices on one channel are one alarm that names both, and stands until one has been silent', async () => {
  const daemon = await runDaemon({ data, clock });
  const one = await device(daemon, { clientId: 'shed-1', username: 'kettle', password: 'not to be said' });
  const other = await device(daemon, { clientId: 'shed-2' });
  await inTurn(60, [one, '21'], [other, '54']);
  await patiently(async () => expect(await shared(daemon)).toHaveLength(1));
  const [alarm] = await shared(daemon);
  expect(alarm).toMatchObject({ vessel: 'r1', standing: true, priority: 'medium' });
  expect(alarm!.because).toContain('device kettle (client id shed-1, 127.0.0.1)');
  expect(alarm!.because).toContain('a device without a user name (client id shed-2, 127.0.0.1)');
  expect(alarm!.because).not.toContain('not to be said');
  // What to do, too.
  expect(alarm!.todo).toContain('liquid-temperature-2');
  // Two of the sixty hops came before it was known what they are.
  const jumps = (await alarmsOf(daemon)).filter((each) => each.alarm === 'probe-jump');
  expect(jumps.filter(({ standing }) => standing)).toEqual([]);
  expect(jumps.length).toBeLessThanOrEqual(2);

  // One goes on alone.
  await inTurn(119, [one, '21']);
  expect((await shared(daemon))[0]).toMatchObject({ standing: true });
  await inTurn(3, [one, '21']);
  await patiently(async () => expect((await shared(daemon))[0]).toMatchObject({ standing: false }));
});

test('after a restart it stands on as the same alarm, and ends if the two do not go on', async () => {
  const before = await runDaemon({ data, clock });
  const one = await device(before, { clientId: 'shed-1' });
  const other = await device(before, { clientId: 'shed-2' });
  await inTurn(3, [one, '21'], [other, '21.5']);
  await patiently(async () => expect(await shared(before)).toHaveLength(1));
  const [{ id }] = (await shared(before)) as [Alarm];
  await before.stop();
  const daemon = await runDaemon({ data, clock });
  const [again] = (await shared(daemon)) as [Alarm];
  expect(again).toMatchObject({ id, standing: true });
  // How long they usually wait is not known any more.
  clock.advance(3_599_000);
  expect(await shared(daemon)).toMatchObject([{ id, standing: true }]);
  clock.advance(2000);
  await patiently(async () => expect(await shared(daemon)).toMatchObject([{ id, standing: false }]));
});

test('two that send every five minutes stand on over a restart as the same alarm, until one is silent', async () => {
  const before = await runDaemon({ data, clock });
  const connect = async (to: RunningDaemon) =>
    [await device(to, { clientId: 'shed-1' }), await device(to, { clientId: 'shed-2' })] as const;
  /** Seconds from one message to the next, each of the other one. */
  const send = async (to: RunningDaemon, clients: readonly MqttClient[], ...afterSeconds: number[]) => {
    const said: unknown[] = [];
    for (const [i, seconds] of afterSeconds.entries()) {
      clock.advance(1000 * seconds);
      await clients[i % 2]!.publishAsync(TOPIC, '21', { qos: 1 });
      said.push(...(await shared(to)).map(({ id, standing }) => [id, standing]));
    }
    return said;
  };
  await send(before, await connect(before), 150, 150, 150, 150, 150, 150);
  await patiently(async () => expect(await shared(before)).toHaveLength(1));
  const [{ id }] = (await shared(before)) as [Alarm];
  await before.stop();
  const daemon = await runDaemon({ data, clock });
  const [one, other] = await connect(daemon);
  // The first comes soon after the start, which says nothing of how long it waits.
  const said = await send(daemon, [one, other], 10, 150, 150, 150, 150, 150);
  expect(said).toEqual(Array.from({ length: 6 }, () => [id, true]));
  // Five times five minutes from its last.
  expect((await send(daemon, [one, one], 300, 300, 300, 300)).at(-1)).toEqual([id, true]);
  await send(daemon, [one], 310);
  await patiently(async () => expect(await shared(daemon)).toMatchObject([{ id, standing: false }]));
});

test('one device that connects anew under other names, or sends to several channels, is no second one', async () => {
  const daemon = await runDaemon({ data, clock });
  for (let i = 0; i < 6; i++) {
    const client = await device(daemon, { clientId: `loop-${i}` });
    await inTurn(2, [client, '21']);
    await client.publishAsync(TOPIC.replace('r1', 'r2'), '21', { qos: 1 });
    await client.endAsync();
  }
  // One that was replaced does not come back.
  const [old, fresh] = [
    await device(daemon, { clientId: 'old' }),
    await device(daemon, { clientId: 'new' }),
  ] as const;
  await inTurn(5, [old, '21']);
  await inTurn(5, [fresh, '21']);
  expect(await shared(daemon)).toEqual([]);
});

/** Publishes once under a client id of its own, as a shell's loop does. */
async function once(daemon: RunningDaemon, value: string, options: IClientOptions): Promise<void> {
  clock.advance(1000);
  const client = await device(daemon, options);
  await client.publishAsync(TOPIC, value, { qos: 1 });
  await client.endAsync();
}

test('devices that connect anew for each message are told apart by their user names', async () => {
  const daemon = await runDaemon({ data, clock });
  for (let i = 0; i < 3; i++)
    for (const username of ['kettle', 'still'])
      await once(daemon, '21', { clientId: `${username}-${i}`, username, password: 'x' });
  await patiently(async () => expect(await shared(daemon)).toHaveLength(1));
  const { because } = (await shared(daemon))[0]!;
  for (const name of ['kettle', 'still']) expect(because).toContain(`device ${name} (127.0.0.1)`);
});

test('a loop that makes client ids up hides no two that stay, and fills no history', async () => {
  const daemon = await runDaemon({ data, clock });
  const one = await device(daemon, { clientId: 'shed-1' });
  const other = await device(daemon, { clientId: 'shed-2' });
  for (let i = 0; i < 3; i++) {
    await inTurn(1, [one, '21'], [other, '21']);
    for (let j = 0; j < 10; j++) await once(daemon, '21', { clientId: `loop-${i}-${j}` });
  }
  await patiently(async () => expect(await shared(daemon)).toHaveLength(1));
  const { because } = (await shared(daemon))[0]!;
  expect(because).toContain('shed-1');
  expect(because).toContain('shed-2');
});

test('of one channel no more is noted than once in ten seconds, and the last is noted', async () => {
  const noted: [number, string[]][] = [];
  const senders = new SharedChannels({
    watch: { sites: () => [] },
    recorder: {
      submit: async (_site, [action]) => {
        noted.push([clock.wallMs(), ((action as NewAction).body as { senders: string[] }).senders]);
        return [];
      },
    },
    arrivals: new ArrivalClock(clock),
    clock,
  });
  onTestFinished(() => senders.close());
  const hear = (clientId: string) => {
    const from = knownAs({ user: 'kettle', clientId, address: '10.0.0.7' });
    senders.heard('barn', 'r1', 'liquid-temperature', from);
    clock.advance(100);
  };
  for (const id of 'abababcacbcadadcdbcdabcdeaebecede') hear(id);
  expect(noted).toHaveLength(1);
  clock.advance(11_000);
  expect(noted).toHaveLength(2);
  expect(noted[1]![1]).toHaveLength(5);
  expect(noted[1]![0] - noted[0]![0]).toBeGreaterThanOrEqual(10_000);
});

test('two that use the secret of one device are told apart', async () => {
  const daemon = await runDaemon({ data, clock });
  const password = openAccess(data).setPublisher('kettle', 'barn', 'the owner');
  const [one, other] = [
    await device(daemon, { clientId: 'a', username: 'kettle', password }),
    await device(daemon, { clientId: 'b', username: 'kettle', password }),
  ] as const;
  await inTurn(2, [one, '21'], [other, '21']);
  await patiently(async () => expect(await shared(daemon)).toHaveLength(1));
  expect((await shared(daemon))[0]!.because).not.toContain(password);
});

test('a sender is said by what is known of it, on one line and no longer than a line', () => {
  const address = '::ffff:192.168.1.20';
  expect(describeSender({ user: 'kettle', clientId: 'x', address })).toBe(
    'device kettle (client id x, 192.168.1.20)',
  );
  expect(describeSender({ user: undefined, clientId: '', address: 'fe80::1' })).toBe(
    'a device without a user name (fe80::1)',
  );
  const made = describeSender({
    user: `a\n\u0007${'b'.repeat(9000)}`,
    clientId: undefined,
    address: undefined,
  });
  expect(made).not.toMatch(/[\n\u0007]/);
  expect(made.length).toBeLessThan(100);
});
