import {
  chownSync,
  cpSync,
  mkdirSync,
  mkdtempSync,
  readFileSync,
  rmSync,
  statSync,
  writeFileSync,
} from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterEach, beforeAll, beforeEach, describe, expect, test } from 'vitest';
import { WebSocket } from 'ws';
import { Access } from '../../../daemon/access/access.ts';
import { ArrivalClock } from '../../../daemon/clock.ts';
import { openAccess } from '../../../daemon/commands/open-access.ts';
import { UsageError } from '../../../daemon/commands/usage.ts';
import { eventually } from '../../support/api.ts';
import { ManualClock } from '../../support/manual-clock.ts';
import { patiently } from '../../support/patiently.ts';
import { type Answer, type RunningDaemon, runDaemon } from '../running-daemon.ts';
import { expectProblem } from './problem.ts';

const START_MS = Date.UTC(2026, 2, 2, 10);
const DAY_MS = 24 * 3_600_000;
const SESSION = '/api/v1/session';
const ADA = { name: 'Ada Brook', passphrase: 'seven ducks in a row' };
const BEN = { name: 'Ben', passphrase: 'a kettle full of rain' };

let data: string;
beforeEach(() => {
  data = mkdtempSync(join(tmpdir(), 'esterwatch-access-'));
});
afterEach(() => rmSync(data, { recursive: true, force: true }));

/** A passphrase takes long to be hashed, as is meant: people are set up and signed in once for all tests. */
let ready: { data: string; ada: { cookie: string }; ben: { cookie: string } };
beforeAll(async () => {
  const prepared = mkdtempSync(join(tmpdir(), 'esterwatch-access-'));
  const cleanUps: (() => Promise<void>)[] = [];
  const daemon = await runDaemon({ data: prepared, clock: new ManualClock(START_MS) }, (cleanUp) =>
    cleanUps.push(cleanUp),
  );
  const put = ({ name, passphrase }: typeof ADA, rights: string[], headers = {}) =>
    daemon.send('PUT', `/api/v1/people/${encodeURIComponent(name)}`, { rights, passphrase }, headers);
  expect((await put(ADA, ['keep', 'work'])).status).toBe(204);
  const ada = await signIn(daemon, ADA);
  expect((await put(BEN, ['work'], ada)).status).toBe(204);
  ready = { data: prepared, ada, ben: await signIn(daemon, BEN) };
  for (const cleanUp of cleanUps) await cleanUp();
  return () => rmSync(prepared, { recursive: true, force: true });
});

/** A daemon with a keeper, Ada, and somebody who may work, Ben, both signed in. */
async function guarded() {
  for (const name of ['access.json', 'sessions.json']) cpSync(join(ready.data, name), join(data, name));
  const clock = new ManualClock(START_MS);
  const daemon = await runDaemon({ data, clock });
  await daemon.read('barn/r1/liquid-temperature', 20);
  return { ...daemon, clock, ada: ready.ada, ben: ready.ben };
}

const cookieOf = ({ headers }: Answer): string => headers['set-cookie']![0]!.split(';')[0]!;

async function signIn(daemon: RunningDaemon, who: { name: string; passphrase: string }) {
  const answer = await daemon.send('POST', SESSION, who);
  expect(answer.status).toBe(200);
  return { cookie: cookieOf(answer) };
}

const state = (daemon: RunningDaemon, headers = {}) =>
  daemon.send('PUT', '/api/v1/sites/barn', { altitudeM: 340 }, headers);

describe('while no person is set up', () => {
  test('everybody on the machine may do everything', async () => {
    const daemon = await runDaemon({ data });
    expect((await state(daemon)).status).toBe(200);
    expect((await daemon.get(SESSION)).json).toEqual({ wanted: false, person: null });
  });

  test('the first is one who may set up others', async () => {
    const daemon = await runDaemon({ data });
    const first = { rights: ['work'], passphrase: ADA.passphrase };
    expectProblem(await daemon.send('PUT', '/api/v1/people/Ada', first), 409, 'nobody-keeps');
    expect((await daemon.get('/api/v1/vessels')).status).toBe(200);
  });
});

describe('as soon as a person is set up', () => {
  test('everything but health, the session and the page wants a sign-in', async () => {
    const { ada, ben, ...daemon } = await guarded();
    for (const path of [
      '/api/v1/vessels',
      '/api/v1/vessels/r1',
      '/api/v1/openapi.json',
      '/metrics',
      '/api/v1/people',
      '/api/v1/nothing',
      '/api',
      '/%61pi/v1/vessels',
      '//api/v1/vessels',
      '/API/v1/vessels',
    ]) {
      expectProblem(await daemon.get(path), 401, 'sign-in-wanted');
    }
    expectProblem(await state(daemon), 401, 'sign-in-wanted');
    expectProblem(await daemon.send('POST', '/api/v1/plans', {}), 401, 'sign-in-wanted');
    expect((await daemon.get('/api/v1/health')).status).toBe(200);
    expect((await daemon.get(SESSION)).json).toEqual({ wanted: true, person: null });
    expect((await daemon.get('/')).status).toBe(200);
    expect(await socketStatus(daemon, {})).toBe(401);
  });

  test('who signs in gets a cookie that no script can read and no other site can send', async () => {
    const daemon = await guarded();
    const answer = await daemon.send('POST', SESSION, ADA);
    expect(answer.json).toEqual({
      wanted: true,
      person: { name: ADA.name, rights: ['look', 'work', 'keep'] },
    });
    expect(answer.headers['set-cookie']![0]).toMatch(/; Path=\/; HttpOnly; SameSite=Strict$/i);
    const cookie = cookieOf(answer);
    expect((await daemon.get('/api/v1/vessels', { cookie })).status).toBe(200);
    expect(await socketStatus(daemon, { cookie })).toBe('open');
  });

  test('rights are what they are', async () => {
    const { ada, ben, ...daemon } = await guarded();
    expectProblem(await state(daemon, ben), 403, 'right-missing');
    const thermometer = '/api/v1/vessels/r1/thermometers/liquid-temperature';
    const checked = await daemon.send('POST', `${thermometer}/checks`, { ice: { readC: 0 } }, ben);
    expectProblem(checked, 403, 'right-missing');
    const withdrawn = await daemon.send('POST', `${thermometer}/withdraw`, { reason: 'wrong' }, ben);
    expectProblem(withdrawn, 403, 'right-missing');
    expectProblem(await daemon.get('/api/v1/people', ben), 403, 'right-missing');
    const typed = { channel: 'liquid-temperature', value: 21 };
    expect((await daemon.send('POST', '/api/v1/vessels/r1/readings', typed, ben)).status).toBe(201);
    expect((await state(daemon, ada)).status).toBe(200);
    // To look only: changes nothing, but may have a plan computed.
    const look = { rights: [] };
    expect((await daemon.send('PUT', '/api/v1/people/Ben', look, ada)).status).toBe(204);
    const again = await daemon.send('POST', '/api/v1/vessels/r1/readings', typed, ben);
    expectProblem(again, 403, 'right-missing');
    expect((await daemon.send('POST', '/api/v1/plans', {}, ben)).status).toBe(200);
  });

  test('whoever is signed in did it, whatever the body says', async () => {
    const { ada, ben, ...daemon } = await guarded();
    expect((await state(daemon, ada)).status).toBe(200);
    const plan = { by: 'Mallory', vessel: 'barn:r1', plan: {} };
    const batch = (await daemon.send('POST', '/api/v1/batches', plan, ben)).json;
    const entry = { what: { kind: 'note', text: 'hello' }, by: 'Mallory' };
    const path = `/api/v1/batches/${batch.id}`;
    const noted = (await daemon.send('POST', `${path}/entries`, entry, ben)).json;
    const stage = { stage: 'warm', by: 'Mallory', anyway: { reason: 'a test' } };
    const staged = (await daemon.send('POST', `${path}/stage`, stage, ben)).json;
    const lot = { kind: 'methanol', name: 'Drum', site: 'barn', litres: 200, by: 'Mallory' };
    const kept = (await daemon.send('POST', '/api/v1/lots', lot, ben)).json;
    expect([noted.by, staged.stages.at(-1).by, kept.by]).toEqual(['Ben', 'Ben', 'Ben']);
    expect(JSON.stringify((await daemon.get('/api/v1/vessels/r1/timeline', ada)).json)).not.toContain(
      'Mallory',
    );
  });

  test('how one is reached is one’s own to set, and to see; who sets up people sees all of it', async () => {
    const { ada, ben, ...daemon } = await guarded();
    const own = (name: string) => `/api/v1/reach/people/${encodeURIComponent(name)}`;
    const wishes = { email: 'someone@barn.example' };
    expect((await daemon.send('PUT', own(BEN.name), wishes, ben)).status).toBe(200);
    expect((await daemon.send('PUT', own(ADA.name), wishes, ada)).status).toBe(200);
    expectProblem(await daemon.send('PUT', own(ADA.name), wishes, ben), 403, 'right-missing');
    expectProblem(await daemon.send('DELETE', own(ADA.name), undefined, ben), 403, 'right-missing');
    const test = { way: 'email' };
    expectProblem(await daemon.send('POST', `${own(ADA.name)}/test`, test, ben), 403, 'right-missing');
    const server = { smtp: null };
    expectProblem(await daemon.send('PUT', '/api/v1/reach', server, ben), 403, 'right-missing');
    const seen = async (who: Record<string, string>) =>
      (await daemon.get('/api/v1/reach', who)).json.people.map(({ name }: { name: string }) => name);
    expect(await seen(ben)).toEqual(['Ben']);
    expect((await seen(ada)).sort()).toEqual([ADA.name, 'Ben']);
    // A link out of a message asks nobody to sign in.
    expectProblem(await daemon.get('/api/v1/answers/nothing'), 404, 'answer-unknown');
    await daemon.send('DELETE', '/api/v1/people/Ben', undefined, ada);
    await patiently(async () => expect(await seen(ada)).toEqual([ADA.name]));
  });

  test('who signs out, or is removed, sees no more, on a socket that is open neither', async () => {
    const { ada, ben, ...daemon } = await guarded();
    const codes: number[] = [];
    for (const { cookie } of [ada, ben]) {
      const socket = new WebSocket(`ws://127.0.0.1:${daemon.httpPort}/api/v1/live`, { headers: { cookie } });
      socket.on('close', (code) => codes.push(code));
      await new Promise((resolve) => socket.once('message', resolve));
    }
    expect((await daemon.send('DELETE', '/api/v1/people/Ben', undefined, ada)).status).toBe(204);
    expect((await daemon.send('DELETE', SESSION, undefined, ada)).status).toBe(204);
    expectProblem(await daemon.get('/api/v1/vessels', ben), 401, 'sign-in-wanted');
    expectProblem(await daemon.get('/api/v1/vessels', ada), 401, 'sign-in-wanted');
    daemon.clock.advance(3000);
    await patiently(() => expect(codes).toEqual([4401, 4401]));
  });

  test('a session lasts over a restart, and 30 days unused', async () => {
    const { ada, ...daemon } = await guarded();
    await daemon.stop();
    const next = await runDaemon({ data, clock: new ManualClock(START_MS + 29 * DAY_MS) });
    expect((await next.get('/api/v1/vessels', ada)).status).toBe(200);
    await next.stop();
    const last = await runDaemon({ data, clock: new ManualClock(START_MS + 60 * DAY_MS) });
    expectProblem(await last.get('/api/v1/vessels', ada), 401, 'sign-in-wanted');
  });

  test('another passphrase ends the sessions that there are', async () => {
    const { ben, ...daemon } = await guarded();
    const path = '/api/v1/session/passphrase';
    const passphrase = 'a fiddle without strings';
    const wrong = { old: ADA.passphrase, passphrase };
    expectProblem(await daemon.send('PUT', path, wrong, ben), 401, 'sign-in-refused');
    const weak = { old: BEN.passphrase, passphrase: 'short' };
    expectProblem(await daemon.send('PUT', path, weak, ben), 400, 'passphrase-weak');
    expect((await daemon.send('PUT', path, { old: BEN.passphrase, passphrase }, ben)).status).toBe(204);
    expectProblem(await daemon.get('/api/v1/vessels', ben), 401, 'sign-in-wanted');
    await signIn(daemon, { ...BEN, passphrase });
  });

  test('a passphrase that is soon guessed will not do', async () => {
    const daemon = await runDaemon({ data });
    const weak = ['short', '1234567890123', 'Password 1234', 'a'.repeat(16), 'ada brook 1', 'x'.repeat(257)];
    for (const passphrase of weak) {
      const answer = await daemon.send('PUT', '/api/v1/people/Ada%20Brook', { rights: ['keep'], passphrase });
      expect(answer.status, passphrase).toBe(400);
    }
    expect((await daemon.get(SESSION)).json.wanted).toBe(false);
  });

  test('the last who may set up people stays', async () => {
    const { ada, ...daemon } = await guarded();
    const path = `/api/v1/people/${encodeURIComponent(ADA.name)}`;
    expectProblem(await daemon.send('DELETE', path, undefined, ada), 409, 'nobody-keeps');
    expectProblem(await daemon.send('PUT', path, { rights: ['work'] }, ada), 409, 'nobody-keeps');
    expectProblem(await daemon.send('PUT', '/api/v1/people/Cy', {}, ada), 404, 'person-unknown');
  });
});

describe('wrong tries', () => {
  test('after five in a minute, none until it is over; those signed in go on', async () => {
    const { ada, ...daemon } = await guarded();
    for (const name of [ADA.name, ADA.name, 'Nobody', BEN.name, 'constructor']) {
      const answer = await daemon.send('POST', SESSION, { name, passphrase: 'a wrong passphrase' });
      expectProblem(answer, 401, 'sign-in-refused');
    }
    const refused = await daemon.send('POST', SESSION, ADA);
    expectProblem(refused, 429, 'too-many-tries');
    expect(Number(refused.headers['retry-after'])).toBeGreaterThan(0);
    expect(Number(refused.headers['retry-after'])).toBeLessThanOrEqual(60);
    expect((await daemon.get('/api/v1/vessels', ada)).status).toBe(200);
    daemon.clock.advance(60_001);
    await signIn(daemon, ADA);
  });

  test('many at a time are compared one after the other, and no more than five of them', async () => {
    const daemon = await guarded();
    const body = { name: ADA.name, passphrase: 'a wrong passphrase' };
    const answers = await Promise.all(Array.from({ length: 12 }, () => daemon.send('POST', SESSION, body)));
    expect(answers.filter(({ status }) => status === 401)).toHaveLength(5);
    expect(answers.filter(({ status }) => status === 429)).toHaveLength(7);
  });

  test('a body that is no sign-in is no try', async () => {
    const daemon = await guarded();
    for (const body of [{}, [], { name: 'Ada' }, { name: 7, passphrase: 7 }, { ...ADA, more: 1 }]) {
      expectProblem(await daemon.send('POST', SESSION, body), 400, 'body-invalid');
    }
    await signIn(daemon, ADA);
  });
});

describe('tokens of scripts', () => {
  const bearer = (secret: string) => ({ authorization: `Bearer ${secret}` });

  test('may what they were given, as long as their person may, until their end', async () => {
    const { ada, ben, ...daemon } = await guarded();
    const body = { name: 'plotter', rights: ['look', 'work'], days: 10 };
    const { secret } = (await daemon.send('POST', '/api/v1/tokens', body, ben)).json;
    expect((await daemon.get('/metrics', bearer(secret))).status).toBe(200);
    expectProblem(await state(daemon, bearer(secret)), 403, 'right-missing');
    await daemon.send('PUT', '/api/v1/people/Ben', { rights: ['look'] }, ada);
    const typed = { channel: 'liquid-temperature', value: 21 };
    const post = () => daemon.send('POST', '/api/v1/vessels/r1/readings', typed, bearer(secret));
    expectProblem(await post(), 403, 'right-missing');
    await daemon.send('PUT', '/api/v1/people/Ben', { rights: ['work'] }, ada);
    expect((await post()).status).toBe(201);
    daemon.clock.setWallBy(10 * DAY_MS);
    expectProblem(await post(), 401, 'sign-in-wanted');
  });

  test('end with who made them, or when they are removed; nobody gives away what they have not', async () => {
    const { ada, ben, ...daemon } = await guarded();
    const tooMuch = { name: 'plotter', rights: ['keep'] };
    expectProblem(await daemon.send('POST', '/api/v1/tokens', tooMuch, ben), 403, 'right-missing');
    const make = async (name: string) =>
      (await daemon.send('POST', '/api/v1/tokens', { name }, ben)).json.secret as string;
    const [first, second] = [await make('one'), await make('two')];
    expect((await daemon.send('DELETE', '/api/v1/tokens/Ben/one', undefined, ben)).status).toBe(204);
    expectProblem(await daemon.get('/api/v1/vessels', bearer(first)), 401, 'sign-in-wanted');
    expect((await daemon.get('/api/v1/vessels', bearer(second))).status).toBe(200);
    await daemon.send('DELETE', '/api/v1/people/Ben', undefined, ada);
    expectProblem(await daemon.get('/api/v1/vessels', bearer(second)), 401, 'sign-in-wanted');
  });

  test('anything else is none', async () => {
    const daemon = await guarded();
    for (const secret of ['', 'x', 'A'.repeat(32), '../../etc', 'a b']) {
      expectProblem(await daemon.get('/api/v1/vessels', bearer(secret)), 401, 'sign-in-wanted');
    }
  });
});

test('a token’s end ends what is open by it, and no script makes itself another', async () => {
  const { ben, ...daemon } = await guarded();
  const { secret } = (await daemon.send('POST', '/api/v1/tokens', { name: 'plotter', days: 1 }, ben)).json;
  const headers = { authorization: `Bearer ${secret}` };
  const again = await daemon.send('POST', '/api/v1/tokens', { name: 'other' }, headers);
  expectProblem(again, 403, 'right-missing');
  expectProblem(
    await daemon.send('DELETE', '/api/v1/tokens/Ben/plotter', undefined, headers),
    403,
    'right-missing',
  );
  const socket = new WebSocket(`ws://127.0.0.1:${daemon.httpPort}/api/v1/live`, { headers });
  const closed = new Promise<number>((resolve) => socket.once('close', resolve));
  await new Promise((resolve) => socket.once('message', resolve));
  daemon.clock.setWallBy(DAY_MS);
  daemon.clock.advance(3000);
  expect(await closed).toBe(4401);
});

test('a disk that refuses what is kept of sessions shuts nobody out, and ends nothing', async () => {
  const { ada, ...daemon } = await guarded();
  rmSync(join(data, 'sessions.json'));
  mkdirSync(join(data, 'sessions.json'));
  daemon.clock.setWallBy(2 * 3_600_000);
  daemon.clock.advance(3000);
  expect((await daemon.get('/api/v1/vessels', ada)).status).toBe(200);
  await signIn(daemon, BEN);
});

test('under TLS no other cookie counts than the one that nobody else can set', () => {
  for (const name of ['access.json', 'sessions.json']) cpSync(join(ready.data, name), join(data, name));
  const clock = new ManualClock(START_MS);
  const access = new Access({ dataFolder: data, clock, arrivals: new ArrivalClock(clock) });
  expect(access.caller(ready.ada, false)?.name).toBe(ADA.name);
  expect(access.caller(ready.ada, true)).toBeNull();
  expect(access.caller({ cookie: `__Host-${ready.ada.cookie}` }, true)?.name).toBe(ADA.name);
});

describe('the list of who is let in', () => {
  test('is for its owner alone, and has no passphrase and no secret in it', async () => {
    const { ada, ...daemon } = await guarded();
    const { secret } = (await daemon.send('POST', '/api/v1/tokens', { name: 'plotter' }, ada)).json;
    for (const name of ['access.json', 'sessions.json']) {
      const text = readFileSync(join(data, name), 'utf8');
      expect(statSync(join(data, name)).mode & 0o777).toBe(0o600);
      for (const hidden of [ADA.passphrase, secret, ada.cookie.split('=')[1]!])
        expect(text).not.toContain(hidden);
    }
  });

  // Only root can give a file to somebody else.
  test.runIf(process.getuid?.() === 0)(
    'stays readable to the daemon’s user when root changes it',
    async () => {
      const owners = () =>
        ['access.json', 'sessions.json', 'reach.json'].map((name) => {
          const { uid, gid, mode } = statSync(join(data, name));
          return [uid, gid, mode & 0o777];
        });
      const user = [65_534, 65_533] as const;
      chownSync(data, ...user);
      const { passphrase } = ADA;
      await openAccess(data).setPerson(ADA.name, { rights: ['keep'], passphrase }, 'the owner');
      const daemon = await runDaemon({ data });
      const ada = await signIn(daemon, ADA);
      const body = { smtp: null };
      expect((await daemon.send('PUT', '/api/v1/reach', body, ada)).status).toBeLessThan(300);
      expect(owners()).toEqual(Array(3).fill([...user, 0o600]));
      // It goes by the file, where there is one, whoever has the folder.
      chownSync(data, 0, 0);
      openAccess(data).setPublisher('esp-1', 'barn', 'the owner');
      expect(owners()[0]).toEqual([...user, 0o600]);
    },
  );

  test('has an end: one more is refused, and another secret for one of them is not', async () => {
    const daemon = await runDaemon({ data });
    openAccess(data).setPublisher('probe-0', 'barn', 'the owner');
    const file = join(data, 'access.json');
    const list = JSON.parse(readFileSync(file, 'utf8'));
    const [device] = list.devices;
    list.devices = Array.from({ length: 5000 }, (_, i) => ({ ...device, name: `probe-${i}` }));
    writeFileSync(file, JSON.stringify(list));
    const put = (name: string) => daemon.send('PUT', `/api/v1/publishers/${name}`, { site: 'barn' });
    expectProblem(await put('probe-5000'), 409, 'no-room');
    expect((await put('probe-4999')).status).toBe(200);
  });

  test('damaged, or gone, lets nobody in, and is told', async () => {
    const { ada, ...daemon } = await guarded();
    const whole = readFileSync(join(data, 'access.json'), 'utf8');
    for (const text of ['', '{}', '{"people":[]}', whole.replace('scrypt', 'crypt')]) {
      writeFileSync(join(data, 'access.json'), text);
      expectProblem(await daemon.get('/api/v1/vessels', ada), 503, 'access-unreadable');
      expect(await socketStatus(daemon, ada)).toBe(503);
    }
    const { status, json } = await daemon.get('/api/v1/health');
    expect([status, json.ready, json.access]).toEqual([
      200,
      true,
      { readable: false, because: expect.any(String) },
    ]);
    rmSync(join(data, 'access.json'));
    expectProblem(await daemon.get('/api/v1/vessels', ada), 503, 'access-unreadable');
    writeFileSync(join(data, 'access.json'), whole);
    expect((await daemon.get('/api/v1/vessels', ada)).status).toBe(200);
  });

  test('gone before a start where somebody had signed in lets nobody in either', async () => {
    await (await guarded()).stop();
    rmSync(join(data, 'access.json'));
    expect(() => openAccess(data).people()).toThrow(UsageError);
  });

  test('is changed by a command beside the daemon, which knows it at once', async () => {
    const daemon = await runDaemon({ data });
    await daemon.read('barn/r1/liquid-temperature', 20);
    await openAccess(data).setPerson(
      'Cy',
      { rights: ['look'], passphrase: 'nine owls on a fence' },
      'the owner',
    );
    expectProblem(await daemon.get('/api/v1/vessels'), 401, 'sign-in-wanted');
    await signIn(daemon, { name: 'Cy', passphrase: 'nine owls on a fence' });
  });

  test('who is removed and set up again by commands goes on being told', async () => {
    const { clock, ...daemon } = await guarded();
    const wishes = { post: { url: 'http://127.0.0.1:9/siren', secret: 'long enough' } };
    await daemon.send('PUT', '/api/v1/reach/people/Ben', wishes, daemon.ada);
    const access = openAccess(data);
    access.removePerson('Ben', 'the owner');
    await access.setPerson('Ben', { rights: ['work'], passphrase: BEN.passphrase }, 'the owner');
    clock.advance(10_000);
    const reached = async () => (await daemon.get('/api/v1/reach', daemon.ada)).json.people;
    await patiently(async () => {
      const { json } = await daemon.get('/api/v1/access/history', daemon.ada);
      expect(JSON.stringify(json)).toContain('"may":null');
    });
    expect(await reached()).toMatchObject([{ name: 'Ben' }]);
  });

  test('a command that sets another passphrase, or removes and adds a person, ends their sessions here', async () => {
    const { ada, ben, ...daemon } = await guarded();
    openAccess(data).removePerson('Ben', 'the owner');
    expectProblem(await daemon.get('/api/v1/vessels', ben), 401, 'sign-in-wanted');
    await openAccess(data).setPerson('Ben', { passphrase: BEN.passphrase }, 'the owner');
    expectProblem(await daemon.get('/api/v1/vessels', ben), 401, 'sign-in-wanted');
    expect((await daemon.get('/api/v1/vessels', ada)).status).toBe(200);
  });
});

test('the history has who signed in, who was refused, and whose rights changed', async () => {
  const { ada, ...daemon } = await guarded();
  await signIn(daemon, ADA);
  await daemon.send('POST', SESSION, { name: 'my passphrase typed as a name', passphrase: 'x' });
  await daemon.send('POST', SESSION, { name: 'Ben', passphrase: 'x' });
  await daemon.send('PUT', '/api/v1/publishers/esp-1', { site: 'barn' }, ada);
  await openAccess(data).removePerson('Ben', 'the owner');
  daemon.clock.advance(6000);
  // What a command changed is looked for every few seconds.
  const history = await eventually(
    async () => (await daemon.get('/api/v1/access/history', ada)).json.history,
    (notes) => notes.some(({ by }: { by: string }) => by === 'the owner'),
  );
  const told = history.map(({ at: _, from: __, ...rest }: { at: string; from: string }) => rest);
  expect(told).toEqual(
    expect.arrayContaining([
      {
        what: 'access-changed',
        by: 'somebody on the machine',
        kind: 'person',
        name: ADA.name,
        may: 'look,work,keep',
      },
      { what: 'signed-in', by: ADA.name },
      { what: 'access-changed', by: ADA.name, kind: 'person', name: 'Ben', may: 'look,work' },
      { what: 'sign-in-refused', by: 'someone', person: null },
      { what: 'sign-in-refused', by: 'someone', person: 'Ben' },
      { what: 'access-changed', by: ADA.name, kind: 'device', name: 'esp-1', may: 'barn' },
      { what: 'access-changed', by: 'the owner', kind: 'person', name: 'Ben', may: null },
    ]),
  );
  expect(JSON.stringify(history)).not.toContain('my passphrase');
});

/** How a request for the live socket is answered: `open`, or the status with which it is refused. */
function socketStatus(daemon: RunningDaemon, headers: Record<string, string>): Promise<string | number> {
  return new Promise((resolve, reject) => {
    const socket = new WebSocket(`ws://127.0.0.1:${daemon.httpPort}/api/v1/live`, { headers });
    socket.on('open', () => {
      resolve('open');
      socket.terminate();
    });
    socket.on('unexpected-response', (_, answer) => {
      resolve(answer.statusCode!);
      answer.destroy();
    });
    socket.on('error', reject);
  });
}
