import { readFileSync } from 'node:fs';
import { fileURLToPath } from 'node:url';
import { gzipSync } from 'node:zlib';
import { expect, test } from 'vitest';

const BUILT = fileURLToPath(new URL('../../dist/dashboard/', import.meta.url));
/** What a phone with one bar can wait for: script and style of the first page, compressed, bytes. */
const MOST_BYTES = 90_000;

/** Script and style that the first page loads: what index.html names, and what that imports at once. */
function firstLoad(): string[] {
  const html = readFileSync(`${BUILT}index.html`, 'utf8');
  const found = new Set<string>();
  const take = (name: string): void => {
    if (found.has(name)) return;
    found.add(name);
    if (!name.endsWith('.js')) return;
    const code = readFileSync(`${BUILT}${name}`, 'utf8');
    for (const [, imported] of code.matchAll(/(?:^|[;}])import(?:[^"'();]*from)?["']\.\/([^"']+)["']/g))
      take(`assets/${imported}`);
  };
  for (const [, name] of html.matchAll(/(?:src|href)="\.\/(assets\/[^"]+\.(?:js|css))"/g)) take(name!);
  return [...found];
}

test('script and style of the first page weigh little', () => {
  const files = firstLoad();
  expect(files.filter((name) => name.endsWith('.js')).length).toBeGreaterThan(0);
  expect(files.filter((name) => name.endsWith('.css')).length).toBeGreaterThan(0);
  const weights = files.map((name) => gzipSync(readFileSync(`${BUILT}${name}`), { level: 9 }).length);
  expect(weights.reduce((sum, bytes) => sum + bytes, 0)).toBeLessThan(MOST_BYTES);
});
