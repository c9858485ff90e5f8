import { once } from 'node:events';
import { connect } from 'node:net';
import { setTimeout as wait } from 'node:timers/promises';
import { afterEach, describe, expect, test } from 'vitest';
import { WebSocket } from 'ws';
import { isThorough } from '../../support/thorough.ts';
import { runDaemon, sharedDaemon } from '../running-daemon.ts';

const running = sharedDaemon(async (daemon) => {
  await daemon.read('barn/r1/liquid-temperature', 20);
  await daemon.send('PUT', '/api/v1/sites/barn', { altitudeM: 340 });
});

/** Others are served again within so long, ms: looked at in thorough runs, alone on the machine. */
const OTHERS_WITHIN_MS = 1000;

/** Whatever was sent, the daemon goes on, knows of no mistake of its own, and takes readings in. */
afterEach(async () => {
  const { errors, get, read } = running();
  expect(errors).toEqual([]);
  const fromMs = performance.now();
  expect((await get('/api/v1/health')).status).toBe(200);
  await read('barn/r1/heater', 0);
  if (isThorough) expect(performance.now() - fromMs).toBeLessThan(OTHERS_WITHIN_MS);
});

/** Sends bytes as they are; gives what comes back until the other side closes, or for `ms`. */
async function raw(text: string | Buffer, ms = 300): Promise<string> {
  const socket = connect(running().httpPort, '127.0.0.1');
  let answer = '';
  socket.on('data', (chunk) => {
    answer += chunk;
  });
  socket.on('error', () => {});
  socket.write(text);
  await Promise.race([once(socket, 'close'), wait(ms)]);
  socket.destroy();
  return answer;
}

const HOST = 'Host: localhost\r\n';
const UPGRADE = `${HOST}Connection: Upgrade\r\nUpgrade: websocket\r\nSec-WebSocket-Version: 13\r\nSec-WebSocket-Key: dGhlIHNhbXBsZSBub25jZQ==\r\n`;

describe('what is hardly HTTP', () => {
  test.for([
    { what: 'noise', text: Buffer.from([0, 1, 2, 255, 254, 13, 10, 13, 10]), wanted: /^HTTP\/1\.1 400 / },
    {
      what: 'a TLS greeting',
      text: Buffer.from('16030100a5010000a1', 'hex'),
      wanted: /^(HTTP\/1\.1 400 |$)/,
    },
    {
      what: 'an MQTT greeting',
      text: Buffer.from('101000044d5154540402003c000474657374', 'hex'),
      wanted: /^HTTP\/1\.1 400 /,
    },
    { what: 'no Host', text: 'GET / HTTP/1.1\r\n\r\n', wanted: /^HTTP\/1\.1 400 / },
    {
      what: 'two Hosts',
      text: `GET /api/v1/vessels HTTP/1.1\r\n${HOST}Host: elsewhere.example\r\n\r\n`,
      wanted: /^HTTP\/1\.1 (400|200) /,
    },
    { what: 'a version of its own', text: `GET / HTTP/9.9\r\n${HOST}\r\n`, wanted: /^HTTP\/1\.1 400 / },
    {
      what: 'headers without end',
      text: `GET / HTTP/1.1\r\n${HOST}X: ${'x'.repeat(100_000)}\r\n\r\n`,
      wanted: /^HTTP\/1\.1 431 /,
    },
    {
      what: 'many headers',
      text: `GET / HTTP/1.1\r\n${HOST}${'a: b\r\n'.repeat(5000)}\r\n`,
      wanted: /^HTTP\/1\.1 (431|200) /,
    },
    {
      what: 'an address without end',
      text: `GET /${'x'.repeat(100_000)} HTTP/1.1\r\n${HOST}\r\n`,
      wanted: /^HTTP\/1\.1 431 /,
    },
    {
      what: 'a bad percent sign',
      text: `GET /api/v1/vessels/%E0%A4%A HTTP/1.1\r\n${HOST}\r\n`,
      wanted: /^HTTP\/1\.1 400 [\s\S]*problem\+json/,
    },
    {
      what: 'a bad length',
      text: `POST /api/v1/batches HTTP/1.1\r\n${HOST}Content-Length: -1\r\n\r\n`,
      wanted: /^HTTP\/1\.1 400 /,
    },
    {
      what: 'two lengths',
      text: `POST /api/v1/batches HTTP/1.1\r\n${HOST}Content-Length: 1\r\nTransfer-Encoding: chunked\r\n\r\n0\r\n\r\n`,
      wanted: /^HTTP\/1\.1 400 /,
    },
    {
      what: 'a bad chunk',
      text: `POST /api/v1/batches HTTP/1.1\r\n${HOST}Content-Type: application/json\r\nTransfer-Encoding: chunked\r\n\r\nzz\r\n`,
      wanted: /^HTTP\/1\.1 400 /,
    },
    {
      what: 'a split header',
      text: `GET / HTTP/1.1\r\n${HOST}X\r\n y: z\r\n\r\n`,
      wanted: /^HTTP\/1\.1 400 /,
    },
    {
      what: 'a proxy request',
      text: `GET http://elsewhere.example/ HTTP/1.1\r\nHost: elsewhere.example\r\n\r\n`,
      wanted: /^HTTP\/1\.1 421 /,
    },
    {
      what: 'CONNECT',
      text: `CONNECT elsewhere.example:443 HTTP/1.1\r\n${HOST}\r\n`,
      wanted: /^($|HTTP\/1\.1 4)/,
    },
    { what: 'a method of its own', text: `BREW /pot HTTP/1.1\r\n${HOST}\r\n`, wanted: /^HTTP\/1\.1 4/ },
    { what: 'an upgrade of //', text: `GET // HTTP/1.1\r\n${UPGRADE}\r\n`, wanted: /^HTTP\/1\.1 404 / },
    {
      what: 'an upgrade elsewhere',
      text: `GET /api/v1/vessels HTTP/1.1\r\n${UPGRADE}\r\n`,
      wanted: /^HTTP\/1\.1 404 /,
    },
    {
      what: 'an upgrade without a key',
      text: `GET /api/v1/live HTTP/1.1\r\n${UPGRADE.replace(/Sec-WebSocket-Key.*\r\n/, '')}\r\n`,
      wanted: /^HTTP\/1\.1 400 /,
    },
    {
      what: 'an upgrade by POST',
      text: `POST /api/v1/live HTTP/1.1\r\n${UPGRADE}\r\n`,
      wanted: /^HTTP\/1\.1 405 /,
    },
    {
      what: 'an upgrade to what nobody speaks',
      text: `GET /api/v1/live HTTP/1.1\r\n${UPGRADE.replace('websocket', 'h2c')}\r\n`,
      wanted: /^HTTP\/1\.1 4/,
    },
  ])('$what', async ({ text, wanted }) => {
    expect(await raw(text)).toMatch(wanted);
  });

  test('requests that are begun and left', async () => {
    const halves = [
      'G',
      'GET / HT',
      `GET / HTTP/1.1\r\n${HOST}`,
      `POST /api/v1/batches HTTP/1.1\r\n${HOST}Content-Type: application/json\r\nContent-Length: 100\r\n\r\n{"ves`,
      `GET /api/v1/live HTTP/1.1\r\n${UPGRADE}`,
      `GET /api/v1/live HTTP/1.1\r\n${UPGRADE}\r\n\x81\xfe`,
    ];
    await Promise.all(Array.from({ length: 20 }, () => halves.map((half) => raw(half, 50))).flat());
  });

  test('answers that nobody waits for', async () => {
    for (let i = 0; i < 50; i++) {
      const socket = connect(running().httpPort, '127.0.0.1');
      socket.on('error', () => {});
      socket.write(`GET /api/v1/openapi.json HTTP/1.1\r\n${HOST}\r\n`.repeat(20));
      await once(socket, 'connect');
      socket.resetAndDestroy();
    }
  });
});

describe('keys and names that mean something to JavaScript', () => {
  test.for([
    '{"__proto__":{"altitudeM":340}}',
    '{"altitudeM":340,"__proto__":{"polluted":1}}',
    '{"constructor":{"prototype":{"polluted":1}}}',
    '{"altitudeM":340,"constructor":1}',
    '{"\\u005f_proto__":{"polluted":1},"altitudeM":340}',
    '{"altitudeM":{"__proto__":{"polluted":1}}}',
    `${'['.repeat(500_000)}${']'.repeat(500_000)}`,
    `${'{"a":'.repeat(100_000)}1${'}'.repeat(100_000)}`,
    `{"altitudeM":340,"x":${'['.repeat(100_000)}"__proto__"${']'.repeat(100_000)}}`,
    `{"altitudeM":${'9'.repeat(100_000)}}`,
    `{"${'k'.repeat(500_000)}":1}`,
  ])('a site stated by %s', async (body) => {
    const { status } = await running().send('PUT', '/api/v1/sites/barn', body);
    expect(status).toBe(400);
    expect({}).not.toHaveProperty('polluted');
  });

  test.for([
    '{"vessel":"barn:r1","plan":{"__proto__":{"watch":{}}}}',
    '{"vessel":"barn:r1","plan":{"watch":{"limits":{"__proto__":{"nearMarginC":1}}}}}',
    '{"vessel":"barn:r1","plan":{"watch":{"limits":{"constructor":1}}}}',
    '{"vessel":"barn:r1","plan":{"watch":{"limits":{"toString":1}}}}',
    '{"vessel":["barn:r1"]}',
    '{"vessel":{"split":1}}',
  ])('a batch with %s', async (body) => {
    expect((await running().send('POST', '/api/v1/batches', body)).status).toBe(400);
    expect((await running().get('/api/v1/batches')).json.batches).toEqual([]);
  });

  test('twice the same in a query is refused', async () => {
    const path = '/api/v1/vessels/r1/readings';
    expect((await running().get(`${path}?channel=heater&channel=pump`)).status).toBe(400);
    expect((await running().get(`${path}?__proto__=x&channel=heater`)).status).toBeLessThan(500);
    expect((await running().get(`${path}?channel=heater&from=${'1'.repeat(10_000)}`)).status).toBe(400);
    expect((await running().get(`${path}?channel=${'x'.repeat(10_000)}`)).status).toBe(400);
    expect((await running().get(`${path}?channel=heater&to=%00`)).status).toBe(400);
    expect((await running().get('/api/v1/alarms?standing[]=true')).status).toBe(400);
  });
});

test('500 viewers come and go', async () => {
  const url = `ws://127.0.0.1:${running().httpPort}/api/v1/live`;
  for (let round = 0; round < 10; round++) {
    await Promise.all(
      Array.from({ length: 50 }, async (_, i) => {
        const socket = new WebSocket(url);
        socket.on('error', () => {});
        const closed = once(socket, 'close');
        await once(socket, 'open');
        if (i % 2 === 0) socket.close();
        else socket.terminate();
        await closed;
      }),
    );
  }
  await expect.poll(async () => (await running().get('/metrics')).text).toContain('\nesterwatch_viewers 0\n');
});

describe('constructor is a valid name', () => {
  test('of a site', async () => {
    const daemon = await runDaemon();
    await daemon.read('constructor/r1/liquid-temperature', 20);
    expect((await daemon.get('/api/v1/vessels/constructor:r1')).json).toMatchObject({ liquidC: 20 });
  });

  test('of a channel', async () => {
    const daemon = await runDaemon();
    await daemon.read('barn/r1/constructor', 20);
    const { readings } = (await daemon.get('/api/v1/vessels/r1')).json;
    expect(readings).toMatchObject({ constructor: { value: 20 } });
    expect((await daemon.get('/api/v1/health')).status).toBe(200);
  });

  test('of a vessel', async () => {
    const daemon = await runDaemon();
    await daemon.read('barn/constructor/liquid-temperature', 20);
    expect((await daemon.get('/api/v1/vessels/barn:constructor')).json).toMatchObject({ liquidC: 20 });
    expect((await daemon.get('/api/v1/health')).status).toBe(200);
  });

  test('of a device', async () => {
    const daemon = await runDaemon();
    await daemon.publish('esterwatch/v1/presence/barn/constructor', 'here', 'gone');
    expect((await daemon.get('/api/v1/health')).status).toBe(200);
  });
});
