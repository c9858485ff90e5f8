import { mkdtempSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { connectAsync, type IClientOptions } from 'mqtt';
import pino from 'pino';
import { expect, onTestFinished, test } from 'vitest';
import { newSecret } from '../../daemon/access/access-file.ts';
import { NotLetIn } from '../../daemon/access/not-let-in.ts';
import { knownAs } from '../../daemon/broker/sender.ts';
import { openAccess } from '../../daemon/commands/open-access.ts';
import { RefusedList } from '../../daemon/intake/refused-list.ts';
import { Api } from '../support/api.ts';
import { ManualClock } from '../support/manual-clock.ts';
import { LOOPBACK, startHere } from '../support/serving.ts';

/** A daemon with a device that is set up, and what it logs. */
async function guarded() {
  const data = mkdtempSync(join(tmpdir(), 'esterwatch-not-let-in-'));
  const secret = openAccess(data).setPublisher('kettle', 'barn', 'the owner');
  const logged: string[] = [];
  const log = pino({ level: 'warn' }, { write: (line: string) => void logged.push(JSON.parse(line).msg) });
  const daemon = await startHere({ data, log });
  onTestFinished(async () => {
    await daemon.close();
    rmSync(data, { recursive: true, force: true });
  });
  const tries = (options: IClientOptions) =>
    expect(
      connectAsync(`mqtt://${LOOPBACK}:${daemon.mqttPort}`, { reconnectPeriod: 0, ...options }),
    ).rejects.toMatchObject({ code: 5 });
  const refused = () => new Api(daemon.httpPort).refused();
  return { secret, logged, tries, refused };
}

test('a device that is not let in is named in the list and in the log, and its password never', async () => {
  const { secret, logged, tries, refused } = await guarded();
  await tries({ username: 'kettle', password: 'guessed wrong', clientId: 'shed-1' });
  const kettle = 'device kettle (client id shed-1, 127.0.0.1)';
  expect(await refused()).toMatchObject([
    { topic: 'sign-in of kettle', code: 'device-not-let-in', count: 1, from: kettle },
  ]);
  await tries({ username: 'still', password: secret, clientId: 'shed-2' });
  await tries({ clientId: 'shed-3' });
  const others = (await refused()).find(({ topic }) => topic === 'sign-in');
  expect(others).toMatchObject({
    count: 2,
    from: 'a device without a user name (client id shed-3, 127.0.0.1)',
  });
  // Name and password changed round.
  await tries({ username: secret, password: 'kettle', clientId: 'shed-4' });
  const all = [...logged, JSON.stringify(await refused())].join('\n');
  expect(all).toContain('a device that gives a password for its user name (client id shed-4, 127.0.0.1)');
  for (const said of [kettle, 'device still (client id shed-2', 'shed-3'])
    expect(logged.join('\n')).toContain(said);
  expect(all).not.toContain(secret);
  expect(all).not.toContain('guessed wrong');
});

test('a password is shown nowhere, wherever a device puts it', async () => {
  const { secret, logged, tries, refused } = await guarded();
  const other = newSecret();
  for (const one of [secret, other]) {
    await tries({ username: ` ${one} `, password: 'kettle', clientId: 'shed-1' });
    await tries({ username: `kettle:${one}`, password: 'x', clientId: 'shed-2' });
    await tries({ username: 'kettle', password: 'x', clientId: `shed-3_${one}` });
    await tries({ username: `${'k'.repeat(40)} ${one}`, password: 'x', clientId: 'shed-4' });
  }
  const all = [...logged, JSON.stringify(await refused())].join('\n');
  expect(all).toContain('shed-2');
  const list = new RefusedList();
  const from = knownAs({ user: 'kettle', clientId: `x${secret}`, address: '10.0.0.7' });
  list.note(`shed/kettle:${other}/temperature`, 'topic-unknown', 0, from);
  list.note(`${'a/'.repeat(95)}${other}`, 'topic-unknown', 0, from);
  const shown = all + JSON.stringify(list.list());
  expect(shown).toContain('device kettle (client id [not shown: may be a password], 10.0.0.7)');
  // Not even a part, where it is cut.
  for (const one of [secret, other])
    for (const part of [one.slice(0, 10), one.slice(-10)]) expect(shown).not.toContain(part);
});

test('of refusals the one longest without news makes room, and one device cannot push out all others', () => {
  const list = new RefusedList();
  const at = (address: string) => knownAs({ user: 'kettle', clientId: 'x', address });
  list.note('shed/first', 'topic-unknown', 0, at('10.0.0.1'));
  list.note('shed/second', 'topic-unknown', 1, null);
  for (let i = 0; i < 2000; i++) list.note(`made-up/${i}`, 'topic-unknown', 2 + i, at('10.0.0.2'));
  const topics = () => list.list().map(({ topic }) => topic);
  expect(topics()).toHaveLength(102);
  expect(topics()).toEqual(expect.arrayContaining(['made-up/1999', 'shed/first', 'shed/second']));
  list.note('shed/first', 'topic-unknown', 3000, at('10.0.0.1'));
  for (let i = 0; i < 999; i++) list.note(`other/${i}`, 'topic-unknown', 4000 + i, at(`10.0.1.${i}`));
  expect(topics()).toHaveLength(1000);
  expect(topics()).toEqual(expect.arrayContaining(['other/998', 'shed/first']));
  expect(topics()).not.toContain('shed/second');
  expect(list.list().reduce((sum, { count }) => sum + count, list.others)).toBe(list.total);
});

test('the log is told of one device once in ten minutes, and of ten a minute', () => {
  const clock = new ManualClock(Date.UTC(2026, 2, 2, 10));
  const refused = new RefusedList();
  const told: string[] = [];
  const notLetIn = new NotLetIn({
    access: { publishers: () => [{ name: 'kettle', site: null }] },
    refused,
    arrivals: { nowMs: () => clock.wallMs() },
    clock,
    warn: (message) => told.push(message),
  });
  const tried = (user: string, clientId: string) => notLetIn.note({ user, clientId, address: '10.0.0.7' });
  // Its client id is another each time.
  for (let i = 0; i < 30; i++) tried('kettle', `id-${i}`);
  expect(told).toHaveLength(1);
  clock.advance(599_000);
  tried('kettle', 'x');
  expect(told).toHaveLength(1);
  clock.advance(1000);
  tried('kettle', 'x');
  expect(told).toHaveLength(2);
  clock.advance(1000);
  for (let i = 0; i < 30; i++) tried(`made-up-${i}`, 'x');
  expect(told).toHaveLength(11);
  expect(refused.list().map(({ topic, count }) => [topic, count])).toEqual([
    ['sign-in', 30],
    ['sign-in of kettle', 32],
  ]);
});
