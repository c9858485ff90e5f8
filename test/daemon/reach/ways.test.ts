import { createHmac, createPublicKey, verify } from 'node:crypto';
import { once } from 'node:events';
import { readFileSync, statSync, writeFileSync } from 'node:fs';
import { type AddressInfo, createServer } from 'node:net';
import { join } from 'node:path';
import { generate } from 'selfsigned';
import { describe, expect, onTestFinished, test } from 'vitest';
import { email } from '../../../daemon/reach/ways/email.ts';
import { NotSent, send } from '../../../daemon/reach/ways/outgoing.ts';
import { testWords } from '../../../daemon/reach/words.ts';
import { postedSchema, type Reach, reachSchema, smtpSchema } from '../../../shared/wire/reach.ts';
import { Api } from '../../support/api.ts';
import { ManualClock } from '../../support/manual-clock.ts';
import { Browser, mailServer, receiver } from '../../support/receivers.ts';
import { serve } from '../../support/serving.ts';
import { expectProblem } from '../http/problem.ts';
import { type RunningDaemon, runDaemon } from '../running-daemon.ts';
import { temporaryDir } from '../store/fixture.ts';

const SECRET = 'a secret of the siren';

const put = async (daemon: RunningDaemon, name: string, wishes: object): Promise<Reach> => {
  const { status, json, text } = await daemon.send('PUT', `/api/v1/reach/people/${name}`, wishes);
  expect(status, text).toBe(200);
  return json;
};
const putServer = (daemon: RunningDaemon, smtp: object | null) =>
  daemon.send('PUT', '/api/v1/reach', { smtp });
const testWay = async (daemon: RunningDaemon, name: string, way: string) =>
  (await daemon.send('POST', `/api/v1/reach/people/${name}/test`, { way })).json;

async function withFolder(): Promise<{ daemon: RunningDaemon; data: string }> {
  const data = join(temporaryDir(), 'data');
  return { data, daemon: await runDaemon({ data }) };
}

describe('e-mail', () => {
  test('goes by STARTTLS with a sign-in, and the test says that it arrived', async () => {
    const { cert, private: key } = await generate([{ name: 'commonName', value: 'localhost' }], {
      extensions: [{ name: 'subjectAltName', altNames: [{ type: 2, value: 'localhost' }] }],
    });
    const server = await mailServer({ tls: { key, cert }, login: { user: 'shed', password: 'pass phrase' } });
    const { daemon } = await withFolder();
    const smtp = {
      host: 'localhost',
      port: server.port,
      security: 'starttls',
      user: 'shed',
      password: 'pass phrase',
      from: 'shed@example.org',
    };
    await put(daemon, 'Ada', { email: 'ada@example.org' });
    // A certificate that nobody vouches for is not trusted unasked.
    await putServer(daemon, smtp);
    expect(await testWay(daemon, 'Ada', 'email')).toMatchObject({ result: 'failed' });
    expect(server.mails).toEqual([]);
    await putServer(daemon, { ...smtp, ca: cert });
    expect(await testWay(daemon, 'Ada', 'email')).toMatchObject({ result: 'delivered', because: null });
    expect(server.mails).toMatchObject([{ to: ['ada@example.org'], tls: true, user: 'shed' }]);
    expect(server.mails[0]!.text).toContain('Nothing is wrong');
    expect(server.mails[0]!.id).toMatch(/^<[\w-]+@example\.org>$/);
  });

  test('with starttls nothing goes to a server that has none', async () => {
    const server = await mailServer();
    const { daemon } = await withFolder();
    await put(daemon, 'Ada', { email: 'ada@example.org' });
    await putServer(daemon, {
      host: '127.0.0.1',
      port: server.port,
      security: 'starttls',
      from: 's@example.org',
    });
    expect(await testWay(daemon, 'Ada', 'email')).toMatchObject({ result: 'failed' });
    expect(server.mails).toEqual([]);
  });

  test('what the server says is kept as a number, without the address', async () => {
    const server = await mailServer();
    server.refuse(550);
    const { daemon } = await withFolder();
    await put(daemon, 'Ada', { email: 'ada@example.org' });
    await putServer(daemon, {
      host: '127.0.0.1',
      port: server.port,
      security: 'none',
      from: 's@example.org',
    });
    const last = await testWay(daemon, 'Ada', 'email');
    expect(last).toMatchObject({ result: 'failed', because: 'EENVELOPE 550' });
    const { json } = await daemon.get('/api/v1/reach');
    expect(json.people[0].ways).toEqual([{ way: 'email', last }]);
  });
});

describe('a signed POST', () => {
  test('carries the published form, and its signature holds for time and body', async () => {
    const siren = await receiver();
    const { daemon } = await withFolder();
    await put(daemon, 'Ada', { post: { url: `${siren.url}/sms`, secret: SECRET } });
    expect(await testWay(daemon, 'Ada', 'post')).toMatchObject({ result: 'delivered' });
    const [{ headers, body, path }] = siren.received as [(typeof siren.received)[0]];
    expect(path).toBe('/sms');
    const posted = postedSchema.strict().parse(JSON.parse(String(body)));
    expect(posted).toMatchObject({ kind: 'test', to: 'Ada', priority: 'low' });
    expect(headers['esterwatch-id']).toBe(posted.id);
    const signed = `${headers['esterwatch-time']}.${body}`;
    expect(headers['esterwatch-signature']).toBe(createHmac('sha256', SECRET).update(signed).digest('hex'));
    expect(Math.abs(Number(headers['esterwatch-time']) - Date.now() / 1000)).toBeLessThan(30);
  });

  test.for([
    [500, 'status 500'],
    [404, 'status 404'],
  ] as const)('an answer of %i is a failure', async ([status, because]) => {
    const siren = await receiver();
    siren.answers(status);
    const { daemon } = await withFolder();
    await put(daemon, 'Ada', { post: { url: siren.url, secret: SECRET } });
    expect(await testWay(daemon, 'Ada', 'post')).toMatchObject({ result: 'failed', because });
  });

  test('a redirect is not followed', async () => {
    const [siren, other] = [await receiver(), await receiver()];
    siren.answers({ redirect: other.url });
    const { daemon } = await withFolder();
    await put(daemon, 'Ada', { post: { url: siren.url, secret: SECRET } });
    expect(await testWay(daemon, 'Ada', 'post')).toMatchObject({ result: 'failed', because: 'status 302' });
    expect(other.received).toEqual([]);
  });

  // As long as it takes in a daemon, `teller.test.ts` waits for it.
  test('one that hangs is given up', async () => {
    const siren = await receiver();
    siren.answers('hang');
    await expect(send(siren.url, { body: 'x', patienceMs: 300 })).rejects.toMatchObject({
      message: 'timeout',
    });
    expect(siren.received).toHaveLength(1);
  });

  test('a URL of another kind is refused, and so is a first one without a secret', async () => {
    const { daemon } = await withFolder();
    for (const post of [{ url: 'file:///etc/passwd', secret: SECRET }, { url: 'http://10.0.0.7/' }])
      expectProblem(await daemon.send('PUT', '/api/v1/reach/people/Ada', { post }), 400, 'body-invalid');
  });
});

describe('Web Push', () => {
  const subscribe = (daemon: RunningDaemon, browser: Browser, endpoint: string) =>
    daemon.send('POST', '/api/v1/reach/people/Ada/browsers', browser.subscription(endpoint));

  test('is encrypted to the browser and signed by the daemon (RFC 8291, RFC 8292)', async () => {
    const service = await receiver();
    service.answers(201);
    const { daemon } = await withFolder();
    const browser = new Browser();
    const { json } = await subscribe(daemon, browser, `${service.url}/push/1`);
    expect(await testWay(daemon, 'Ada', 'push')).toMatchObject({ result: 'delivered' });
    const [{ headers, body }] = service.received as [(typeof service.received)[0]];
    expect(headers).toMatchObject({ 'content-encoding': 'aes128gcm', urgency: 'low' });
    expect(Number(headers.ttl)).toBeGreaterThan(0);
    expect(JSON.parse(browser.decrypt(body))).toMatchObject({ title: expect.any(String), priority: 'low' });
    const [, token, key] = /^vapid t=([^,]+), ?k=(.+)$/.exec(headers.authorization!)!;
    expect(key).toBe(json.pushKey);
    const [head, claims, signature] = token!.split('.') as [string, string, string];
    expect(JSON.parse(Buffer.from(claims, 'base64url').toString())).toMatchObject({ aud: service.url });
    const point = Buffer.from(json.pushKey, 'base64url');
    const jwk = {
      kty: 'EC',
      crv: 'P-256',
      x: point.subarray(1, 33).toString('base64url'),
      y: point.subarray(33).toString('base64url'),
    };
    const publicKey = createPublicKey({ key: jwk, format: 'jwk' });
    expect(
      verify(
        'sha256',
        Buffer.from(`${head}.${claims}`),
        { key: publicKey, dsaEncoding: 'ieee-p1363' },
        Buffer.from(signature, 'base64url'),
      ),
    ).toBe(true);
  });

  test('a browser that is gone is forgotten; the others are told on', async () => {
    const [gone, here] = [await receiver(), await receiver()];
    gone.answers(410);
    const { daemon } = await withFolder();
    await subscribe(daemon, new Browser(), gone.url);
    await subscribe(daemon, new Browser(), here.url);
    expect(await testWay(daemon, 'Ada', 'push')).toMatchObject({ result: 'delivered' });
    const { json } = await daemon.get('/api/v1/reach');
    expect(json.people[0].push).toHaveLength(1);
    here.answers(404);
    expect(await testWay(daemon, 'Ada', 'push')).toMatchObject({ result: 'gone' });
    expect((await daemon.get('/api/v1/reach')).json.people[0].push).toEqual([]);
  });

  test('goes out of the program as built, too', { timeout: 40_000 }, async () => {
    const service = await receiver();
    const served = await serve({ data: join(temporaryDir(), 'data') });
    const api = new Api(served.httpPort);
    const browser = new Browser();
    await api.call('POST', '/api/v1/reach/people/Ada/browsers', browser.subscription(service.url));
    const answer = await api.call('POST', '/api/v1/reach/people/Ada/test', { way: 'push' });
    expect(await answer.json()).toMatchObject({ result: 'delivered' });
    expect(JSON.parse(browser.decrypt(service.received[0]!.body))).toMatchObject({ priority: 'low' });
    served.kill('SIGTERM');
    expect((await served.ended).code).toBe(0);
  });

  test('its keys stay over a restart, in a file for the daemon alone', async () => {
    const { daemon, data } = await withFolder();
    const { json } = await daemon.get('/api/v1/reach');
    await daemon.stop();
    expect(statSync(join(data, 'reach-keys.json')).mode & 0o777).toBe(0o600);
    const again = await runDaemon({ data });
    expect((await again.get('/api/v1/reach')).json.pushKey).toBe(json.pushKey);
  });
});

describe('settings', () => {
  const smtp = { host: 'mail.example.org', port: 465, security: 'tls', user: 'shed', from: 's@example.org' };

  test('secrets go in and never come out; they are in one file for the daemon alone', async () => {
    const { daemon, data } = await withFolder();
    await daemon.read('barn/r1/liquid-temperature', 20);
    await putServer(daemon, { ...smtp, password: 'the mail password' });
    await put(daemon, 'Ada', { email: 'ada@example.org', post: { url: 'http://10.0.0.7/', secret: SECRET } });
    const { text, json } = await daemon.get('/api/v1/reach');
    reachSchema.strict().parse(json);
    expect(json).toMatchObject({
      smtp: { ...smtp, hasPassword: true },
      people: [{ name: 'Ada', post: { url: 'http://10.0.0.7/', hasSecret: true } }],
    });
    const everywhere = [text, (await daemon.get('/api/v1/health')).text, ...daemon.errors];
    for (const secret of ['the mail password', SECRET]) {
      expect(everywhere.join()).not.toContain(secret);
      expect(readFileSync(join(data, 'reach.json'), 'utf8')).toContain(secret);
    }
    expect(statSync(join(data, 'reach.json')).mode & 0o777).toBe(0o600);
    await daemon.stop();
    // Neither is any of it in the store, whatever form it is kept in.
    const { openReadable } = await import('../../../daemon/store/sqlite/database.ts');
    const database = openReadable(data);
    const actions = database.prepare('SELECT * FROM action').all();
    database.close();
    const kept = JSON.stringify(actions, (_, value) => (Buffer.isBuffer(value) ? String(value) : value));
    expect(kept).toContain('reach-changed');
    for (const secret of ['the mail password', SECRET, 'example.org', '10.0.0.7'])
      expect(kept).not.toContain(secret);
  });

  test('what is left out of a change stays, but a secret only for its own server or address', async () => {
    const { daemon, data } = await withFolder();
    const kept = () => JSON.parse(readFileSync(join(data, 'reach.json'), 'utf8'));
    await putServer(daemon, { ...smtp, password: 'the mail password' });
    await putServer(daemon, { ...smtp, from: 'barn@example.org' });
    expect(kept().smtp).toMatchObject({ password: 'the mail password', from: 'barn@example.org' });
    await putServer(daemon, { ...smtp, host: 'elsewhere.example.org' });
    expect(kept().smtp.password).toBe(null);
    await put(daemon, 'Ada', { post: { url: 'http://10.0.0.7/', secret: SECRET } });
    await put(daemon, 'Ada', { post: { url: 'http://10.0.0.7/' }, order: 2 });
    expect(kept().people[0].post).toEqual({ url: 'http://10.0.0.7/', secret: SECRET });
    const elsewhere = { post: { url: 'http://10.0.0.8/' } };
    expectProblem(await daemon.send('PUT', '/api/v1/reach/people/Ada', elsewhere), 400, 'body-invalid');
  });

  test('a person is taken out; whoever is not set up cannot be tested', async () => {
    const { daemon } = await withFolder();
    await put(daemon, 'Ada', {});
    expectProblem(
      await daemon.send('POST', '/api/v1/reach/people/Ada/test', { way: 'email' }),
      409,
      'way-missing',
    );
    expect((await daemon.send('DELETE', '/api/v1/reach/people/Ada', {})).json.people).toEqual([]);
    for (const [method, path, body] of [
      ['DELETE', '/api/v1/reach/people/Ada', {}],
      ['POST', '/api/v1/reach/people/Ada/test', { way: 'email' }],
    ] as const)
      expectProblem(await daemon.send(method, path, body), 404, 'person-unknown');
  });

  test('a person’s ways are tried out ten times a minute, and a clock that is set back locks nobody out', async () => {
    const siren = await receiver();
    const clock = new ManualClock(Date.UTC(2026, 2, 2, 10));
    const daemon = await runDaemon({ clock });
    const post = { url: siren.url, secret: SECRET };
    for (const name of ['Ada', 'Ben']) await put(daemon, name, { post });
    const tried = (name: string) => daemon.send('POST', `/api/v1/reach/people/${name}/test`, { way: 'post' });
    expect((await tried('Ada')).status).toBe(200);
    clock.advance(15_000);
    for (let i = 1; i < 10; i++) expect((await tried('Ada')).status).toBe(200);
    const refused = await tried('Ada');
    expectProblem(refused, 429, 'too-many-tries');
    expect(refused.headers['retry-after']).toBe('45');
    expect((await tried('Ben')).status).toBe(200);
    expect(siren.received).toHaveLength(11);
    clock.setWallBy(-3_600_000);
    clock.advance(44_999);
    expectProblem(await tried('Ada'), 429, 'too-many-tries');
    clock.advance(1);
    // The first was a minute ago, the nine others were not.
    expect((await tried('Ada')).status).toBe(200);
    expect((await tried('Ada')).headers['retry-after']).toBe('15');
  });

  test('a hundred and first person is refused, a change of one of them is not', async () => {
    const data = temporaryDir();
    const people = Array.from({ length: 100 }, (_, i) => ({ name: `Person ${i}` }));
    writeFileSync(join(data, 'reach.json'), JSON.stringify({ people }));
    const daemon = await runDaemon({ data });
    const wish = (name: string) => daemon.send('PUT', `/api/v1/reach/people/${encodeURIComponent(name)}`, {});
    expectProblem(await wish('Ada'), 409, 'no-room');
    expect((await wish('Person 99')).status).toBe(200);
  });

  test('a mail server that goes on saying something for ever is given up', async () => {
    const drips = new Set<NodeJS.Timeout>();
    const server = createServer((socket) => {
      socket.on('error', () => {});
      socket.write('220 mail.example.org\r\n');
      socket.once('data', () => drips.add(setInterval(() => socket.write('250-wait\r\n'), 50)));
    }).listen(0, '127.0.0.1');
    await once(server, 'listening');
    onTestFinished(() => {
      for (const drip of drips) clearInterval(drip);
      server.close();
    });
    const { port } = server.address() as AddressInfo;
    const smtp = smtpSchema.parse({ host: '127.0.0.1', port, security: 'none', from: 'shed@example.org' });
    const sent = email(smtp, 'ada@example.org', 'm1', testWords('Ada'), 500);
    await expect(sent).rejects.toBeInstanceOf(NotSent);
  });

  test('health says that no way works, and that one works again, by a clock that is set back too', async () => {
    const siren = await receiver();
    const clock = new ManualClock(Date.UTC(2026, 2, 2, 10));
    const daemon = await runDaemon({ clock });
    expect((await daemon.get('/api/v1/health')).json.reach).toBe(null);
    // An address for which there is no server.
    await put(daemon, 'Ada', { email: 'ada@example.org' });
    expect((await daemon.get('/api/v1/health')).json).toMatchObject({ ready: true, reach: { works: false } });
    await put(daemon, 'Ada', { post: { url: siren.url, secret: SECRET } });
    expect((await daemon.get('/api/v1/health')).json).toMatchObject({ ready: true, reach: { works: true } });
    siren.answers(503);
    await testWay(daemon, 'Ada', 'post');
    const { json } = await daemon.get('/api/v1/health');
    expect(json).toMatchObject({ ready: true, reach: { works: false } });
    expect(json.reach.because).toContain('status 503');
    siren.answers(200);
    clock.setWallBy(-3_600_000);
    await testWay(daemon, 'Ada', 'post');
    expect((await daemon.get('/api/v1/health')).json.reach).toEqual({ works: true, because: null });
  });
});
