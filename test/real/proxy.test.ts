import { spawn } from 'node:child_process';
import { once } from 'node:events';
import { mkdirSync, mkdtempSync, rmSync, writeFileSync } from 'node:fs';
import { request } from 'node:http';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { beforeAll, expect, test } from 'vitest';
import { WebSocket } from 'ws';
import { openAccess } from '../../daemon/commands/open-access.ts';
import { endWithTests } from '../support/children.ts';
import { freePort } from '../support/mosquitto.ts';
import { patiently } from '../support/patiently.ts';
import { LOOPBACK, startHere } from '../support/serving.ts';

/** Where Debian's package puts it, which is not on every user's path. */
const NGINX = '/usr/sbin/nginx';
const NAME = 'barn.example';
const ADA = { name: 'Ada', passphrase: 'seven ducks in a row' };

let port: number;
let daemonPort: number;

/** A daemon behind nginx, as docs/operating.md has it; the proxy says that it was reached by TLS. */
beforeAll(async () => {
  const folder = mkdtempSync(join(tmpdir(), 'esterwatch-proxy-'));
  const data = join(folder, 'data');
  await openAccess(data).setPerson(ADA.name, { rights: ['keep'], passphrase: ADA.passphrase }, 'the owner');
  const daemon = await startHere({ data, publicName: NAME, trustsProxy: true });
  daemonPort = daemon.httpPort;
  port = await freePort();
  mkdirSync(join(folder, 'logs'));
  const conf = join(folder, 'nginx.conf');
  writeFileSync(
    conf,
    `daemon off; master_process off; pid ${folder}/nginx.pid; error_log ${folder}/error.log;
events {}
http {
  access_log off;
  ${['client_body', 'proxy', 'fastcgi', 'uwsgi', 'scgi'].map((one) => `${one}_temp_path ${folder}/${one};`).join(' ')}
  server {
    listen ${LOOPBACK}:${port};
    location / {
      proxy_pass http://${LOOPBACK}:${daemonPort};
      proxy_http_version 1.1;
      proxy_set_header Host $host;
      proxy_set_header X-Forwarded-For $proxy_add_x_forwarded_for;
      proxy_set_header X-Forwarded-Proto https;
      proxy_set_header Upgrade $http_upgrade;
      proxy_set_header Connection $http_connection;
    }
  }
}
`,
  );
  const nginx = endWithTests(spawn(NGINX, ['-p', folder, '-c', conf], { stdio: 'ignore' }));
  await patiently(async () => expect((await ask('GET', '/api/v1/health')).status).toBe(200));
  return async () => {
    nginx.kill('SIGKILL');
    await once(nginx, 'exit');
    await daemon.close();
    rmSync(folder, { recursive: true, force: true });
  };
});

interface Asked {
  headers?: Record<string, string>;
  at?: number;
  body?: object;
}

function ask(method: string, path: string, { headers = {}, at = port, body }: Asked = {}) {
  return new Promise<{ status: number; cookie: string | undefined; text: string }>((resolve, reject) => {
    const own = { host: NAME, ...(body && { 'content-type': 'application/json' }), ...headers };
    const asked = request(
      { host: LOOPBACK, port: at, method, path, headers: own, agent: false },
      (answer) => {
        let text = '';
        answer.on('data', (chunk) => {
          text += chunk;
        });
        answer.on('end', () =>
          resolve({ status: answer.statusCode!, cookie: answer.headers['set-cookie']?.[0], text }),
        );
      },
    );
    asked.on('error', reject);
    asked.end(body === undefined ? undefined : JSON.stringify(body));
  });
}

test('the page, a sign-in and the live link go through a reverse proxy', async () => {
  expect((await ask('GET', '/')).text).toContain('<html');
  expect((await ask('GET', '/api/v1/vessels')).status).toBe(401);
  const origin = `https://${NAME}`;
  const signedIn = await ask('POST', '/api/v1/session', { body: ADA, headers: { origin } });
  expect(signedIn.status).toBe(200);
  // The proxy speaks TLS to the browser, though not to the daemon.
  expect(signedIn.cookie).toMatch(/; Secure/);
  const cookie = signedIn.cookie!.split(';')[0]!;
  expect((await ask('GET', '/api/v1/vessels', { headers: { cookie } })).status).toBe(200);
  const socket = new WebSocket(`ws://${LOOPBACK}:${port}/api/v1/live`, {
    headers: { host: NAME, origin, cookie },
  });
  const [message] = await once(socket, 'message');
  expect(JSON.parse(String(message)).type).toBe('beat');
  socket.terminate();
});

test('another site, or another name, gets no further for it', async () => {
  const elsewhere = { origin: 'https://elsewhere.example' };
  expect((await ask('POST', '/api/v1/session', { body: ADA, headers: elsewhere })).status).toBe(403);
  expect((await ask('GET', '/', { headers: { host: 'elsewhere.example' } })).status).toBe(421);
});

test('wrong tries count by the address that the proxy saw, whatever the client wrote before it', async () => {
  const wrong = { ...ADA, passphrase: 'a wrong passphrase' };
  const from = (address: string) => ({ body: wrong, headers: { 'x-forwarded-for': address } });
  // Five through the proxy, each with another address forged.
  for (let i = 0; i < 5; i++) {
    expect((await ask('POST', '/api/v1/session', from(`192.0.2.${i}`))).status).toBe(401);
  }
  expect((await ask('POST', '/api/v1/session', from('192.0.2.99'))).status).toBe(429);
  // Another client of the proxy is not shut out by it: here the proxy is this test.
  const other = { ...from('198.51.100.7'), at: daemonPort };
  expect((await ask('POST', '/api/v1/session', other)).status).toBe(401);
});
