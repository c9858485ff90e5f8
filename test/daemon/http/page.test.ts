import { existsSync } from 'node:fs';
import { fileURLToPath } from 'node:url';
import { describe, expect, test } from 'vitest';
import { sharedDaemon } from '../running-daemon.ts';
import { expectProblem } from './problem.ts';

const running = sharedDaemon(async () => {});

test('the page was built', () => {
  expect(existsSync(fileURLToPath(new URL('../../../dist/dashboard/index.html', import.meta.url)))).toBe(
    true,
  );
});

test('the page comes with a policy that lets no foreign and no inline script run', async () => {
  const { status, headers, text } = await running().get('/');
  expect(status).toBe(200);
  expect(headers['content-type']).toMatch(/^text\/html/);
  expect(headers['x-content-type-options']).toBe('nosniff');
  const policy = Object.fromEntries(
    String(headers['content-security-policy'])
      .split(';')
      .map((part) => part.trim().split(' '))
      .map(([name, ...sources]) => [name, sources.join(' ')]),
  );
  expect(policy).toMatchObject({
    'default-src': "'self'",
    'script-src': "'self'",
    'style-src': "'self'",
    'img-src': "'self'",
    'connect-src': "'self'",
    'object-src': "'none'",
    'frame-ancestors': "'none'",
    'base-uri': "'none'",
  });
  expect(text).not.toMatch(/<script(?![^>]*\ssrc=)/);
  expect(text).not.toMatch(/\s(on\w+|style)=|<style/);
});

test('all that the page asks for at its start is there', async () => {
  const { text } = await running().get('/');
  const files = [...text.matchAll(/(?:src|href)="\.\/([^"]+)"/g)].map(([, file]) => `/${file}`);
  expect(files.length).toBeGreaterThanOrEqual(2);
  for (const file of files) {
    const { status, headers } = await running().get(file);
    expect([file, status]).toEqual([file, 200]);
    expect(headers['content-security-policy']).toContain("script-src 'self'");
    expect([file, headers['cache-control']]).toEqual([
      file,
      file.startsWith('/assets/') ? 'public, max-age=31536000, immutable' : 'public, max-age=0',
    ]);
    if (file.endsWith('.js')) expect(headers['content-type']).toMatch(/^(text|application)\/javascript/);
  }
});

test('what has no hash in its name, or is not there, is not kept for ever', async () => {
  for (const path of ['/', '/service-worker.js', '/assets/gone-0a1b2c3d.js'])
    expect([path, (await running().get(path)).headers['cache-control']]).not.toEqual([
      path,
      expect.stringContaining('immutable'),
    ]);
});

describe('nothing outside the page’s folder is served', () => {
  test.for([
    '/..%2f..%2fpackage.json',
    '/../../package.json',
    '/%2e%2e/%2e%2e/package.json',
    '/assets/..%2f..%2f..%2fpackage.json',
    '/assets/%2e%2e%2f%2e%2e%2f%2e%2e%2fpackage.json',
    '/..%5c..%5cpackage.json',
    '/..%252f..%252fpackage.json',
    '/%2fetc%2fpasswd',
    '//etc/passwd',
    '/index.html%00.js',
    '/.git/config',
    '/assets/',
    '/assets',
    `/${'x'.repeat(5000)}`,
  ])('%s', async (path) => {
    expectProblem(await running().get(path), 404, 'not-found');
    expect(running().errors).toEqual([]);
  });
});
