import { X509Certificate } from 'node:crypto';
import { existsSync, mkdirSync, mkdtempSync, readFileSync, rmSync, statSync, writeFileSync } from 'node:fs';
import { request } from 'node:https';
import { type NetworkInterfaceInfo, tmpdir } from 'node:os';
import { join } from 'node:path';
import { connect as connectTls } from 'node:tls';
import { connectAsync } from 'mqtt';
import { generate } from 'selfsigned';
import { afterEach, beforeEach, expect, onTestFinished, test, vi } from 'vitest';
import { openAccess } from '../../daemon/commands/open-access.ts';
import { Certificate, ownCertificate } from '../../daemon/tls/certificate.ts';
import { ManualClock } from '../support/manual-clock.ts';
import { patiently } from '../support/patiently.ts';
import { LOOPBACK, startHere } from '../support/serving.ts';

let data: string;
beforeEach(() => {
  data = mkdtempSync(join(tmpdir(), 'esterwatch-tls-'));
});
afterEach(() => {
  addresses = undefined;
  rmSync(data, { recursive: true, force: true });
});

/** The addresses of the machine, where a test says so. */
let addresses: { address: string; family: string }[] | undefined;
vi.mock(import('node:os'), async (original) => {
  const real = await original();
  const networkInterfaces = () =>
    addresses === undefined ? real.networkInterfaces() : { eth0: addresses as NetworkInterfaceInfo[] };
  return { ...real, networkInterfaces };
});

const AT = { host: LOOPBACK, port: 0 };

/** A daemon that is reached by TLS alone. */
async function secured(files: { certificate: string; key: string }, isOwnCertificate: boolean) {
  const clock = new ManualClock(Date.now());
  const warned: string[] = [];
  const certificate = new Certificate(files, { clock, warn: (message) => warned.push(message) });
  const folder = join(data, 'data');
  const daemon = await startHere({ data: folder, clock, mqtts: AT, certificate, isOwnCertificate });
  onTestFinished(() => daemon.close());
  return { ...daemon, clock, warned, certificate };
}

interface Answer {
  status: number;
  headers: Record<string, string | string[] | undefined>;
}

const ask = (port: number, path: string, ca: string, body?: object): Promise<Answer> =>
  new Promise((resolve, reject) => {
    const headers = body === undefined ? {} : { 'content-type': 'application/json' };
    const options = { host: LOOPBACK, port, path, ca, headers, method: body === undefined ? 'GET' : 'POST' };
    const asked = request({ ...options, agent: false }, (answer) => {
      answer.resume();
      answer.on('end', () => resolve({ status: answer.statusCode!, headers: answer.headers }));
    });
    asked.on('error', reject);
    asked.end(body === undefined ? undefined : JSON.stringify(body));
  });

/** What the daemon proves itself by, as a fingerprint. */
const shown = (port: number): Promise<string> =>
  new Promise((resolve, reject) => {
    const socket = connectTls({ host: LOOPBACK, port, rejectUnauthorized: false }, () => {
      resolve(socket.getPeerX509Certificate()!.fingerprint256);
      socket.destroy();
    });
    socket.on('error', reject);
  });

async function writePair(name: string, endsMs?: number): Promise<{ certificate: string; key: string }> {
  const made = await generate([{ name: 'commonName', value: name }], {
    keyType: 'ec',
    ...(endsMs === undefined
      ? {}
      : { notBeforeDate: new Date(endsMs - 3_600_000), notAfterDate: new Date(endsMs) }),
    extensions: [{ name: 'subjectAltName', altNames: [{ type: 7, ip: LOOPBACK }] }],
  });
  const files = { certificate: join(data, 'site.pem'), key: join(data, 'site-key.pem') };
  writeFileSync(files.certificate, made.cert);
  writeFileSync(files.key, made.private);
  return files;
}

test('with a certificate of its own making the page, the API and the broker are reached by TLS', async () => {
  mkdirSync(join(data, 'data'));
  const files = await ownCertificate(join(data, 'data'), 'barn.example', Date.now());
  expect(statSync(files.key).mode & 0o777).toBe(0o600);
  const { httpPort, mqttsPort, certificate } = await secured(files, true);
  const ca = readFileSync(files.certificate, 'utf8');
  const answer = await ask(httpPort, '/api/v1/health', ca);
  expect(answer.status).toBe(200);
  // Nobody could go on past a certificate that is not trusted.
  expect(answer.headers['strict-transport-security']).toBeUndefined();
  expect(await shown(httpPort)).toBe(certificate.fingerprint);
  const device = await connectAsync(`mqtts://${LOOPBACK}:${mqttsPort}`, { ca, reconnectPeriod: 0 });
  onTestFinished(() => device.endAsync(true));
  await device.publishAsync('esterwatch/v1/reading/barn/r1/liquid-temperature', '20', { qos: 1 });
  expect((await ask(httpPort, '/api/v1/vessels/r1', ca)).status).toBe(200);
  await expect(fetch(`http://${LOOPBACK}:${httpPort}/api/v1/health`)).rejects.toThrow();
});

test('a certificate of its own making stays, until a month before its end or another name', async () => {
  const nowMs = Date.now();
  const made = await ownCertificate(data, undefined, nowMs);
  const first = readFileSync(made.certificate, 'utf8');
  await ownCertificate(data, undefined, nowMs + 360 * 24 * 3_600_000);
  expect(readFileSync(made.certificate, 'utf8')).toBe(first);
  await ownCertificate(data, 'barn.example', nowMs);
  const named = readFileSync(made.certificate, 'utf8');
  expect(named).not.toBe(first);
  await ownCertificate(data, 'barn.example', nowMs + 370 * 24 * 3_600_000);
  expect(readFileSync(made.certificate, 'utf8')).not.toBe(named);
});

test('a certificate of its own making stays with other addresses, and its key with another certificate', async () => {
  const nowMs = Date.now();
  const made = await ownCertificate(data, undefined, nowMs);
  const key = readFileSync(made.key, 'utf8');
  const read = () => readFileSync(made.certificate, 'utf8');
  const shownBy = () => new X509Certificate(read());
  const publicKey = (shownBy().publicKey.export({ type: 'spki', format: 'pem' }) as string).trim();
  // Made before there was a network: nobody can have come by an address yet.
  addresses = [];
  rmSync(made.certificate);
  await ownCertificate(data, undefined, nowMs);
  expect(shownBy().checkIP('192.0.2.7')).toBeUndefined();
  addresses = [
    { address: '192.0.2.7', family: 'IPv4' },
    { address: '2001:db8::1f3a:77c2:9b04:e6d1', family: 'IPv6' },
  ];
  await ownCertificate(data, undefined, nowMs);
  const first = read();
  expect(shownBy().checkIP('192.0.2.7')).toBe('192.0.2.7');
  expect(shownBy().checkIP('2001:db8::1f3a:77c2:9b04:e6d1')).toBeUndefined();
  addresses = [{ address: '192.0.2.99', family: 'IPv4' }];
  await ownCertificate(data, undefined, nowMs);
  expect(read()).toBe(first);
  await ownCertificate(data, undefined, nowMs + 370 * 24 * 3_600_000);
  expect(shownBy().checkIP('192.0.2.99')).toBe('192.0.2.99');
  expect((shownBy().publicKey.export({ type: 'spki', format: 'pem' }) as string).trim()).toBe(publicKey);
  expect(readFileSync(made.key, 'utf8')).toBe(key);
  expect(shownBy().verify(shownBy().publicKey)).toBe(true);
});

test('whether one has ended is said by the clock that is passed in', async () => {
  const clock = new ManualClock(Date.now());
  clock.setWallBy(2 * 3_600_000);
  const files = await writePair('ends in an hour', Date.now() + 3_600_000);
  const warned: string[] = [];
  new Certificate(files, { clock, warn: (message) => warned.push(message) }).close();
  expect(warned).toHaveLength(1);
});

test('a certificate from files is followed where they change; one that cannot be used leaves the one before', async () => {
  const files = await writePair('first');
  const { httpPort, clock, warned, certificate } = await secured(files, false);
  const ca = readFileSync(files.certificate, 'utf8');
  const answer = await ask(httpPort, '/', ca);
  expect(answer.headers['strict-transport-security']).toBe('max-age=31536000');
  const first = certificate.fingerprint;
  const key = readFileSync(files.key, 'utf8');
  await writePair('second');
  clock.advance(11_000);
  const second = certificate.fingerprint;
  expect(second).not.toBe(first);
  expect(await shown(httpPort)).toBe(second);
  writeFileSync(files.key, key);
  clock.advance(11_000);
  await patiently(() => expect(warned).toHaveLength(1));
  clock.advance(60_000);
  expect(warned).toHaveLength(1);
  expect(await shown(httpPort)).toBe(second);
});

test('one that has ended is told of and used all the same, but never in place of one that holds', async () => {
  const ended = await writePair('ended', Date.now() - 60_000);
  const { httpPort, clock, warned, certificate } = await secured(ended, false);
  expect(warned).toHaveLength(1);
  expect(await shown(httpPort)).toBe(certificate.fingerprint);
  await writePair('good');
  clock.advance(11_000);
  const good = certificate.fingerprint;
  expect(await shown(httpPort)).toBe(good);
  await writePair('ended', Date.now() - 60_000);
  clock.advance(11_000);
  expect(warned).toHaveLength(2);
  expect(certificate.fingerprint).toBe(good);
});

test('one of its own making is made anew in time while it is in use', async () => {
  const clock = new ManualClock(Date.now());
  const make = () => ownCertificate(data, undefined, clock.wallMs());
  const certificate = new Certificate(await make(), { clock, warn: () => {}, renew: make });
  const first = certificate.fingerprint;
  clock.advance(24 * 3_600_000);
  clock.setWallBy(370 * 24 * 3_600_000);
  clock.advance(24 * 3_600_000);
  await patiently(() => {
    clock.advance(10_000);
    expect(certificate.fingerprint).not.toBe(first);
  });
  certificate.close();
  expect(clock.pendingTimers).toBe(0);
});

test('files that are none, or do not belong together, are said in one line', async () => {
  const clock = new ManualClock(Date.now());
  const open = (files: { certificate: string; key: string }) =>
    new Certificate(files, { clock, warn: () => {} });
  const none = { certificate: join(data, 'none.pem'), key: join(data, 'none.pem') };
  expect(() => open(none)).toThrow('none.pem');
  const files = await writePair('first');
  const old = readFileSync(files.key, 'utf8');
  await writePair('second');
  writeFileSync(files.key, old);
  expect(() => open(files)).toThrow('certificate');
  expect(existsSync(files.key)).toBe(true);
});

test('a session’s cookie goes by TLS alone', async () => {
  const files = await writePair('first');
  const { httpPort } = await secured(files, false);
  const ca = readFileSync(files.certificate, 'utf8');
  const passphrase = 'seven ducks in a row';
  await openAccess(join(data, 'data')).setPerson('Ada', { rights: ['keep'], passphrase }, 'the owner');
  const answer = await ask(httpPort, '/api/v1/session', ca, { name: 'Ada', passphrase });
  expect(answer.status).toBe(200);
  expect(String(answer.headers['set-cookie'])).toMatch(/; Secure/);
});
