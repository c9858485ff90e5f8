import { spawn, spawnSync } from 'node:child_process';
import {
  existsSync,
  mkdtempSync,
  readdirSync,
  readFileSync,
  rmSync,
  statSync,
  utimesSync,
  writeFileSync,
} from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterAll, afterEach, beforeAll, beforeEach, expect, onTestFinished, test, vi } from 'vitest';
import { ArrivalClock } from '../../daemon/clock.ts';
import { ManualClock } from '../support/manual-clock.ts';
import { expectProblem } from './http/problem.ts';

const WRONG = 'not even nearly right';
/** What happens before the next passphrase is hashed; once. */
let beforeHash: (() => Promise<unknown>) | undefined;
/** Loaded anew with another way to hash, which no other file of this run is to get. */
let Access: typeof import('../../daemon/access/access.ts').Access;
let openAccess: typeof import('../../daemon/commands/open-access.ts').openAccess;
let runDaemon: typeof import('./running-daemon.ts').runDaemon;
beforeAll(async () => {
  vi.resetModules();
  vi.doMock(import('../../daemon/access/passphrase.ts'), async (original) => {
    const real = await original();
    return {
      ...real,
      // So many are tried that each cannot take as long as it does.
      isPassphrase: async (passphrase: string, kept: string) =>
        passphrase !== WRONG && real.isPassphrase(passphrase, kept),
      hashOf: async (passphrase: string) => {
        const before = beforeHash;
        beforeHash = undefined;
        await before?.();
        return real.hashOf(passphrase);
      },
    };
  });
  ({ Access } = await import('../../daemon/access/access.ts'));
  ({ openAccess } = await import('../../daemon/commands/open-access.ts'));
  ({ runDaemon } = await import('./running-daemon.ts'));
});
afterAll(() => {
  vi.doUnmock(import('../../daemon/access/passphrase.ts'));
  vi.resetModules();
});

const ADA = { name: 'Ada Brook', passphrase: 'seven ducks in a row' };
const RESET = 'nine owls on a fence';
const STOLEN = 'a fiddle without strings';

let data: string;
beforeEach(() => {
  data = mkdtempSync(join(tmpdir(), 'esterwatch-access-'));
});
afterEach(() => rmSync(data, { recursive: true, force: true }));

const asOwner = (change: { passphrase?: string; rights?: ('look' | 'work' | 'keep')[] }) =>
  openAccess(data).setPerson(ADA.name, change, 'the owner');

/** A daemon in which Ada is signed in. */
async function withAda() {
  await asOwner({ passphrase: ADA.passphrase, rights: ['keep', 'work'] });
  const clock = new ManualClock(Date.UTC(2026, 2, 2, 10));
  const daemon = await runDaemon({ data, clock });
  const signIn = (passphrase: string) =>
    daemon.send('POST', '/api/v1/session', { name: ADA.name, passphrase });
  const cookie = (await signIn(ADA.passphrase)).headers['set-cookie']![0]!.split(';')[0]!;
  return { ...daemon, clock, ada: { cookie }, signIn };
}

test('a passphrase that is set while a person changes theirs stays', async () => {
  const { ada, signIn, send } = await withAda();
  beforeHash = () => asOwner({ passphrase: RESET });
  const body = { old: ADA.passphrase, passphrase: STOLEN };
  const answer = await send('PUT', '/api/v1/session/passphrase', body, ada);
  expectProblem(answer, 401, 'sign-in-refused');
  expectProblem(await signIn(STOLEN), 401, 'sign-in-refused');
  expect((await signIn(RESET)).status).toBe(200);
});

test('rights that are taken while a person changes their passphrase do not come back', async () => {
  const { ada, signIn, send } = await withAda();
  beforeHash = () => asOwner({ rights: ['look'] });
  const body = { old: ADA.passphrase, passphrase: RESET };
  expect((await send('PUT', '/api/v1/session/passphrase', body, ada)).status).toBe(204);
  expect((await signIn(RESET)).json.person.rights).toEqual(['look']);
});

test('nobody keeps a person from signing in from where they did before, be it before a restart', async () => {
  await asOwner({ passphrase: ADA.passphrase, rights: ['keep'] });
  const open = () => {
    const clock = new ManualClock(Date.UTC(2026, 2, 2, 10));
    return new Access({ dataFolder: data, clock, arrivals: new ArrivalClock(clock) });
  };
  const [home, other] = ['192.0.2.7', '192.0.2.8'];
  const guess = async (access: InstanceType<typeof Access>) => {
    for (let i = 0; i < 90; i++)
      expect(await access.signIn(ADA.name, WRONG, `198.51.100.${Math.floor(i / 5)}`)).toEqual({
        wrong: true,
      });
  };
  const tried = async (access: InstanceType<typeof Access>, address: string, passphrase = ADA.passphrase) =>
    Object.keys(await access.signIn(ADA.name, passphrase, address));
  const first = open();
  const signedIn = await first.signIn(ADA.name, ADA.passphrase, home);
  if (!('secret' in signedIn)) throw new Error('nobody was signed in');
  // In the same run it needs no session that goes on.
  first.signOut(first.caller({ cookie: `esterwatch-session=${signedIn.secret}` }, false)!);
  await guess(first);
  expect(await tried(first, other)).toContain('waitMs');
  expect(await tried(first, home)).toContain('secret');
  const second = open();
  await guess(second);
  expect(await tried(second, other)).toContain('waitMs');
  expect(await tried(second, home)).toContain('secret');
  // As many wrong ones as from anywhere, and then none.
  for (let i = 0; i < 5; i++) expect(await tried(second, home, WRONG)).toEqual(['wrong']);
  expect(await tried(second, home)).toContain('waitMs');
});

test('the history has every wrong passphrase, and once a minute that somebody is turned away', async () => {
  const { ada, clock, get, read, send, signIn } = await withAda();
  await read('barn/r1/liquid-temperature', 20);
  const change = () => send('PUT', '/api/v1/session/passphrase', { old: WRONG, passphrase: STOLEN }, ada);
  const noted = async () =>
    (await get('/api/v1/access/history', ada)).json.history
      .filter(({ what }: { what: string }) => what === 'sign-in-refused')
      .map(({ at: _, ...rest }: { at: string }) => rest);
  const refused = { what: 'sign-in-refused', by: 'someone', person: ADA.name, from: '127.0.0.1' };
  expectProblem(await change(), 401, 'sign-in-refused');
  expect(await noted()).toEqual([refused]);
  for (let i = 0; i < 4; i++) {
    // Notes of one moment are one.
    clock.advance(1);
    expectProblem(await signIn(WRONG), 401, 'sign-in-refused');
  }
  for (let i = 0; i < 3; i++) {
    clock.advance(1000);
    expectProblem(await signIn(ADA.passphrase), 429, 'too-many-tries');
    expectProblem(await change(), 429, 'too-many-tries');
  }
  const turnedAway = { ...refused, tooMany: true };
  expect(await noted()).toEqual([turnedAway, ...Array(5).fill(refused)]);
  clock.advance(60_001);
  for (let i = 0; i < 5; i++) {
    clock.advance(1);
    expectProblem(await signIn(WRONG), 401, 'sign-in-refused');
  }
  for (let i = 0; i < 2; i++) {
    clock.advance(1);
    expectProblem(await signIn(WRONG), 429, 'too-many-tries');
  }
  expect((await noted())[0]).toEqual(turnedAway);
  expect(await noted()).toHaveLength(12);
});

const lock = () => join(data, 'access.json.lock');
const put = (daemon: Awaited<ReturnType<typeof runDaemon>>) =>
  daemon.send('PUT', '/api/v1/publishers/esp-1', { site: 'barn' });

test('what another process is changing is left to it', async () => {
  const daemon = await runDaemon({ data });
  const other = spawn(process.execPath, ['-e', 'setTimeout(() => {}, 600_000)']);
  onTestFinished(() => void other.kill());
  writeFileSync(lock(), `${other.pid} 0123456789abcdef`);
  expectProblem(await put(daemon), 503, 'access-busy');
  expect(readFileSync(lock(), 'utf8')).toBe(`${other.pid} 0123456789abcdef`);
  expect(existsSync(join(data, 'access.json'))).toBe(false);
  rmSync(lock());
  expect((await put(daemon)).status).toBe(200);
  expect(existsSync(lock())).toBe(false);
});

test('what a process that died left behind holds nobody up, and what is just begun is waited for', async () => {
  const daemon = await runDaemon({ data });
  const dead = spawnSync(process.execPath, ['-e', '']).pid;
  writeFileSync(lock(), `${dead} 0123456789abcdef`);
  expect((await put(daemon)).status).toBe(200);
  // One that had this one’s number before.
  writeFileSync(lock(), `${process.pid} 0123456789abcdef`);
  expect((await put(daemon)).status).toBe(200);
  writeFileSync(lock(), '');
  expectProblem(await put(daemon), 503, 'access-busy');
  const before = statSync(lock()).mtimeMs / 1000 - 11;
  utimesSync(lock(), before, before);
  expect((await put(daemon)).status).toBe(200);
  expect(readdirSync(data).filter((name) => name.startsWith('access.json.'))).toEqual([]);
});
