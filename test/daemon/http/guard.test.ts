import type { IncomingMessage } from 'node:http';
import { connect } from 'node:net';
import { describe, expect, test } from 'vitest';
import { WebSocket } from 'ws';
import { checkRequest } from '../../../daemon/http/guard.ts';
import { ask, sharedDaemon } from '../running-daemon.ts';
import { expectProblem } from './problem.ts';

const running = sharedDaemon((daemon) => daemon.read('barn/r1/liquid-temperature', 20), {
  publicName: 'Barn.example',
});
const own = () => `127.0.0.1:${running().httpPort}`;
const SITE = '/api/v1/sites/barn';
const state = (headers: Record<string, string>) => running().send('PUT', SITE, { altitudeM: 340 }, headers);

/** How a request for the live socket is answered: `open`, or the status with which it is refused. */
function openSocket(headers: Record<string, string>, path = '/api/v1/live'): Promise<string | number> {
  return new Promise((resolve, reject) => {
    const socket = new WebSocket(`ws://${own()}${path}`, { headers });
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

describe('a request that changes something', () => {
  test.for([
    'http://elsewhere.example',
    'null',
    'http://127.0.0.1:1',
    'https://127.0.0.1',
    'http://localhost',
    '',
  ])('is refused from the origin "%s"', async (origin) => {
    expectProblem(await state({ origin }), 403, 'cross-site');
    expect(await openSocket({ origin })).toBe(403);
  });

  test('is refused from another site', async () => {
    expectProblem(await state({ 'sec-fetch-site': 'cross-site' }), 403, 'cross-site');
    const both = { origin: `http://${own()}`, 'sec-fetch-site': 'cross-site' };
    expectProblem(await state(both), 403, 'cross-site');
    expect(await openSocket(both)).toBe(403);
  });

  test('is refused from elsewhere whatever it would change', async () => {
    const headers = { origin: 'http://elsewhere.example' };
    for (const [method, path] of [
      ['POST', '/api/v1/batches'],
      ['POST', '/api/v1/vessels/r1/readings'],
      ['POST', '/api/v1/alarms/x/acknowledge'],
      ['DELETE', '/api/v1/vessels'],
      ['POST', '/nothing'],
    ] as const) {
      expectProblem(await running().send(method, path, {}, headers), 403, 'cross-site');
    }
    // A browser asks first (CORS); it must not be told that it may.
    const preflight = await ask(running().httpPort, 'OPTIONS', SITE, {
      ...headers,
      'access-control-request-method': 'PUT',
    });
    expect(preflight.status).toBe(403);
    expect(preflight.headers).not.toHaveProperty('access-control-allow-origin');
  });

  test('passes from the daemon’s own origin, and from a script, which has none', async () => {
    expect((await state({ origin: `http://${own()}`, 'sec-fetch-site': 'same-origin' })).status).toBe(200);
    expect((await state({})).status).toBe(200);
    expect(await openSocket({ origin: `http://${own()}` })).toBe('open');
    expect(await openSocket({})).toBe('open');
    // Behind a proxy that speaks TLS.
    const proxied = { host: 'barn.example', origin: 'https://barn.example' };
    expect((await state(proxied)).status).toBe(200);
    expect(await openSocket(proxied)).toBe('open');
  });
});

test('reading is not refused from another origin, but nobody there is shown the answer', async () => {
  const answer = await running().get('/api/v1/vessels', { origin: 'http://elsewhere.example' });
  expect(answer.status).toBe(200);
  expect(answer.headers).not.toHaveProperty('access-control-allow-origin');
});

describe('the name that the daemon is asked for', () => {
  test.for([
    'elsewhere.example',
    'elsewhere.example:80',
    '127.0.0.1.elsewhere.example',
    'localhost.elsewhere.example',
    '192.0.2.1',
    '[2001:db8::1]',
    '127.0.0.1@elsewhere.example',
  ])('"%s" is somebody else’s', async (host) => {
    for (const path of ['/api/v1/vessels', '/api/v1/health', '/metrics', '/', '/nothing']) {
      expectProblem(await running().get(path, { host }), 421, 'host-unknown');
    }
    expectProblem(await state({ host, origin: `http://${host}` }), 421, 'host-unknown');
    expect(await openSocket({ host, origin: `http://${host}` })).toBe(421);
  });

  test.for([
    'localhost',
    'localhost:8080',
    'LocalHost',
    '127.0.0.1',
    '127.1.2.3:99',
    '[::1]',
    '[::1]:8080',
    'barn.example',
    'BARN.example:443',
  ])('"%s" is its own', async (host) => {
    expect((await running().get('/api/v1/vessels', { host })).status).toBe(200);
    expect((await state({ host, origin: `http://${host}` })).status).toBe(200);
    expect(await openSocket({ host })).toBe('open');
  });

  test.for([
    { what: 'without any, as HTTP/1.0 allows', text: 'GET /api/v1/vessels HTTP/1.0\r\n\r\n' },
    {
      what: 'with an empty one',
      text: 'GET /api/v1/vessels HTTP/1.1\r\nHost: \r\nConnection: close\r\n\r\n',
    },
  ])('$what it is refused', async ({ text }) => {
    const socket = connect(running().httpPort, '127.0.0.1');
    socket.end(text);
    let answer = '';
    for await (const chunk of socket) answer += chunk;
    expect(answer).toMatch(/^HTTP\/1\.[01] 421 /);
  });

  test.for([
    { host: '0.0.0.0', localAddress: '192.0.2.7', asked: '192.0.2.7:8080' },
    { host: '::', localAddress: '::ffff:192.0.2.7', asked: '192.0.2.7' },
    { host: '::', localAddress: '2001:db8::7', asked: '[2001:db8::7]:8080' },
    { host: 'barn.local', localAddress: '192.0.2.7', asked: 'barn.local:8080' },
  ])('listening on $host, $asked is its own', ({ host, localAddress, asked }) => {
    const request = (name: string) =>
      ({ headers: { host: name }, socket: { localAddress } }) as unknown as IncomingMessage;
    const names = { host, publicName: undefined };
    expect(() => checkRequest(request(asked), true, names)).not.toThrow();
    expect(() => checkRequest(request('192.0.2.8:8080'), true, names)).toThrow(
      expect.objectContaining({ code: 'host-unknown' }),
    );
  });
});

describe('a body', () => {
  const typed = '/api/v1/vessels/r1/readings';
  const post = (type: string, body: string) =>
    ask(running().httpPort, 'POST', typed, type === '' ? {} : { 'content-type': type }, body);
  const reading = JSON.stringify({ channel: 'liquid-temperature', value: 20 });

  test.for([
    'text/plain',
    'text/plain;charset=UTF-8',
    'application/x-www-form-urlencoded',
    'multipart/form-data; boundary=x',
    'application/xml',
    'nonsense',
    'application/jsonp',
  ])('of type %s is refused', async (type) => {
    expectProblem(await post(type, reading), 415, 'not-json');
  });

  test('without a type is refused', async () => {
    expectProblem(await post('', reading), 415, 'not-json');
  });

  test('of type application/json is taken, with a charset too', async () => {
    expect((await post('application/json', reading)).status).toBe(201);
    expect((await post('application/json; charset=utf-8', reading)).status).toBe(201);
  });

  test('may be 1 MiB and no more', async () => {
    const most = 1024 * 1024;
    const padded = (bytes: number) => reading + ' '.repeat(bytes - reading.length);
    expect((await post('application/json', padded(most))).status).toBe(201);
    expectProblem(await post('application/json', padded(most + 1)), 413, 'too-large');
    const chunked = await ask(
      running().httpPort,
      'POST',
      typed,
      { 'content-type': 'application/json', 'transfer-encoding': 'chunked' },
      padded(most + 1),
    );
    expectProblem(chunked, 413, 'too-large');
  });

  test.for([
    '',
    '{',
    'nul',
    '{"channel":',
    '[}',
    '"',
    '\u0000',
    '{"channel":"liquid-temperature","value":NaN}',
    '{"channel":"liquid-temperature","value":1,}',
  ])('that is no JSON is refused: %s', async (body) => {
    expectProblem(await post('application/json', body), 400, 'body-invalid');
  });
});

test.for(['/api/v1/nothing', '/api/v2/vessels', '/api/v1/vessels/r1/nothing', '/nothing', '/api/v1/live'])(
  'there is nothing at %s',
  async (path) => {
    expectProblem(await running().get(path), 404, 'not-found');
  },
);
