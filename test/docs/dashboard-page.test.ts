import { existsSync, readFileSync, statSync } from 'node:fs';
import { expect, test } from 'vitest';
import { PAGES } from '../../dashboard/pages/pages.ts';

const DOCS = new URL('../../docs/', import.meta.url);
/** All together, bytes: they come with every clone and every package. */
const AT_MOST = 1_500_000;

const picturesOf = (markdown: string): string[] =>
  [...markdown.matchAll(/!\[[^\]]+\]\((?:docs\/)?(pictures\/[^)]+)\)/g)].map(([, path]) => path!);

test('docs/dashboard.md shows every page, each picture is there, and they stay small', () => {
  const shown = picturesOf(readFileSync(new URL('dashboard.md', DOCS), 'utf8'));
  for (const page of ['overview', 'vessel', ...Object.keys(PAGES)]) {
    expect(shown, page).toContain(`pictures/${page}-desk.png`);
  }
  const used = new Set([...shown, ...picturesOf(readFileSync(new URL('../README.md', DOCS), 'utf8'))]);
  let bytes = 0;
  for (const path of used) {
    const file = new URL(path, DOCS);
    expect(existsSync(file), `${path}: make it with \`npm run pictures\``).toBe(true);
    bytes += statSync(file).size;
  }
  expect(bytes).toBeLessThan(AT_MOST);
});
