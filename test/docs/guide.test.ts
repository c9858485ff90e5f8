import { existsSync, readdirSync, readFileSync, statSync } from 'node:fs';
import { dirname, join, posix } from 'node:path';
import { fileURLToPath } from 'node:url';
import { lexer, type Token, walkTokens } from 'marked';
import { describe, expect, test } from 'vitest';
import { ALARM_TITLES } from '../../dashboard/texts/alarm-titles.ts';
import { anchorMaker } from '../../docs/anchors.ts';
import { helpDocuments, helpPage } from '../../docs/make-help.ts';
import { guidePageOf, withRule } from '../../docs/make-rules.ts';
import { ALARM_NAMES } from '../../shared/rules/names.ts';

const ROOT = fileURLToPath(new URL('../../', import.meta.url));
const DOCUMENTS = helpDocuments();

interface Read {
  /** Where links and pictures lead. */
  links: string[];
  anchors: Set<string>;
}

const textOf = (tokens: readonly Token[] = []): string =>
  tokens
    .map((token) =>
      'tokens' in token && token.tokens ? textOf(token.tokens) : 'text' in token ? token.text : '',
    )
    .join('');

function read(path: string): Read {
  const links: string[] = [];
  const anchors = new Set<string>();
  const anchor = anchorMaker();
  void walkTokens(lexer(readFileSync(join(ROOT, path), 'utf8')), (token) => {
    if (token.type === 'link' || token.type === 'image') links.push(token.href);
    if (token.type === 'heading') anchors.add(anchor(textOf(token.tokens)));
  });
  return { links, anchors };
}

const readAll = new Map(DOCUMENTS.map((path) => [path, read(path)]));

/** What is wrong with a link of a document; null where it leads somewhere. */
function wrongWith(from: string, href: string): string | null {
  if (/^[a-z]+:/.test(href)) return null;
  const [path = '', anchor] = href.split('#');
  const to = path === '' ? from : posix.join(dirname(from), path);
  const file = join(ROOT, to);
  if (!existsSync(file)) return `${from}: ${href} is not there`;
  if (anchor === undefined) return null;
  const found = readAll.get(to);
  if (found === undefined) return `${from}: ${href} names a place in what is no document`;
  return found.anchors.has(anchor) ? null : `${from}: ${to} has no heading #${anchor}`;
}

test('every link and anchor of the documents leads somewhere', () => {
  const links = [...readAll].flatMap(([path, { links }]) => links.map((href) => [path, href] as const));
  expect(links.length).toBeGreaterThan(200);
  expect(links.map(([path, href]) => wrongWith(path, href)).filter((wrong) => wrong !== null)).toEqual([]);
});

test('a link that leads nowhere is found', () => {
  expect(wrongWith('docs/guide/index.md', 'nowhere.md')).not.toBeNull();
  expect(wrongWith('docs/guide/index.md', '../rules.md#nowhere')).not.toBeNull();
  expect(wrongWith('docs/guide/index.md', '#begin')).toBeNull();
});

describe('alarms', () => {
  const page = (alarm: (typeof ALARM_NAMES)[number]): string =>
    existsSync(guidePageOf(alarm)) ? readFileSync(guidePageOf(alarm), 'utf8') : '';

  test.each(ALARM_NAMES)('%s has its page, with what its rule says and what to do', (alarm) => {
    const text = page(alarm);
    expect(text.split('\n')[0]).toBe(`# ${ALARM_TITLES[alarm]}`);
    expect(text, 'make it anew with `npm run rules-page`').toBe(withRule(text, alarm));
    const headings = [...text.matchAll(/^## (.+)$/gm)].map(([, heading]) => heading);
    expect(headings).toEqual([
      'What to do',
      'What causes it',
      'What it has to do with the chemistry',
      'How it ends',
    ]);
    for (const part of text.split(/^## .+$/m).slice(1)) expect(part.trim()).not.toBe('');
  });

  test('all of them are in the list, and no other', () => {
    const { links } = readAll.get('docs/guide/alarms/index.md')!;
    const listed = links.filter((href) => /^[\w-]+\.md$/.test(href)).map((href) => href.slice(0, -3));
    expect(new Set(listed)).toEqual(new Set(ALARM_NAMES));
    const pages = readdirSync(`${ROOT}docs/guide/alarms`).filter((file) => file !== 'index.md');
    expect(new Set(pages.map((file) => file.slice(0, -3)))).toEqual(new Set(ALARM_NAMES));
  });
});

test('no page of the help links to the machine that it is read on', () => {
  const made = DOCUMENTS.map((path) => helpPage(path, readFileSync(join(ROOT, path), 'utf8')));
  expect(made.filter((page) => /href="\w+:\/\/(127\.|localhost|\[::1)/.test(page))).toEqual([]);
  // What is to be opened there is told all the same.
  expect(helpPage('docs/guide/jar.md', '# a\n\nopen <http://127.0.0.1:8080/>')).toContain(
    'open <code>http://127.0.0.1:8080/</code>',
  );
});

describe('a help page', () => {
  const page = helpPage(
    'docs/guide/alarms/some.md',
    [
      '# Warm & _wet_',
      '',
      '<!-- for makers <script>alert(1)</script> -->',
      '[rules](../../rules.md#what-the-rules-say) [source](../../../shared/rules/index.ts) [out](https://example.org/a.md)',
      '',
      '| `a` | b |',
      '| --- | - |',
      '| 1 < 2 | **x** |',
      '',
      '```sh',
      'echo "<b>"',
      '```',
      '## Warm & wet',
    ].join('\n'),
  );

  test('names itself, and leads to the pages beside it', () => {
    expect(page).toContain('<title>Warm &amp; wet · esterwatch help</title>');
    expect(page).toContain('<h1 id="warm--wet">');
    expect(page).toContain('<h2 id="warm--wet-1">');
    expect(page).toContain('href="../../rules.html#what-the-rules-say"');
    expect(page).toContain('href="https://example.org/a.md"');
    expect(page).toContain('href="../../help.css"');
    expect(page).toContain('href="../../../../index.html"');
  });

  test('has no way out of what is served, and nothing that the policy forbids', () => {
    expect(page).not.toContain('index.ts');
    expect(page).not.toMatch(/<script|\sstyle=|\son\w+=|<style/);
    expect(page).toContain('echo &quot;&lt;b&gt;&quot;');
    expect(page).toContain('1 &lt; 2');
  });
});

test('the documents stay small enough to come with every package', () => {
  const bytes = DOCUMENTS.reduce((sum, path) => sum + statSync(join(ROOT, path)).size, 0);
  expect(bytes).toBeLessThan(1_000_000);
});
