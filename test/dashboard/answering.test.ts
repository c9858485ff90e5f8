import { expect, test } from 'vitest';
import { answering } from '../../dashboard/worker/answering.ts';

const SCOPE = 'http://127.0.0.1:8080/';
const of = (path: string, { method = 'GET', mode = 'cors' } = {}) =>
  answering({ method, mode, url: `${SCOPE}${path}` }, SCOPE);

test.each([
  'api/v1/vessels',
  'api/v1/health',
  'api/v1/openapi.json',
  'api/v1/batches/b1/labels',
  'metrics',
  'service-worker.js',
  'assets/',
  'assets/a/b.js',
  'api/v1/icon.png',
])('%s is not touched, however it is asked for', (path) => {
  for (const mode of ['cors', 'navigate', 'no-cors', 'same-origin']) expect(of(path, { mode })).toBeNull();
});

test('the page itself comes from the daemon first, hashed files from what is kept', () => {
  expect(of('', { mode: 'navigate' })).toBe('page');
  expect(of('?a=1', { mode: 'navigate' })).toBe('page');
  expect(of('index.html', { mode: 'navigate' })).toBe('page');
  expect(of('assets/page-Bxxv3DmV.js')).toBe('hashed');
  expect(of('mark.svg')).toBe('file');
  expect(of('icon-192.png')).toBe('file');
  expect(of('esterwatch.webmanifest')).toBe('file');
});

test('nothing that changes something, and nothing of another origin', () => {
  expect(of('', { method: 'POST', mode: 'navigate' })).toBeNull();
  expect(answering({ method: 'GET', mode: 'cors', url: 'http://192.0.2.1/assets/a.js' }, SCOPE)).toBeNull();
});
