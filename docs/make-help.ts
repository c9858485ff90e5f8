import { cpSync, existsSync, mkdirSync, readdirSync, readFileSync, rmSync, writeFileSync } from 'node:fs';
import { dirname, posix } from 'node:path';
import { fileURLToPath } from 'node:url';
import { Marked, type Token } from 'marked';
import { anchorMaker } from './anchors.ts';

/**
 * The documents as pages for Help: static HTML that needs no script, no inline style and nothing from elsewhere.
 * Folders and names stay as they are, so that links between documents hold: `docs/guide/jar.md` becomes
 * `docs/guide/jar.html`. A document goes by its path from the project's root.
 */

const ROOT = fileURLToPath(new URL('../', import.meta.url));
const STYLE = 'docs/help.css';
const CONTENTS = 'docs/guide/index.html';
const ALARMS = 'docs/guide/alarms/index.html';

/** The documents that the help has. */
export const helpDocuments = (): string[] => [
  'README.md',
  ...readdirSync(`${ROOT}docs`, { recursive: true, encoding: 'utf8' })
    .filter((path) => path.endsWith('.md'))
    .map((path) => `docs/${path.replaceAll('\\', '/')}`)
    .sort(),
];

const LOOPBACK = /^[a-z]+:\/\/(127\.\d+\.\d+\.\d+|localhost|\[::1\])([:/]|$)/i;

const escaped = (text: string): string =>
  text.replaceAll('&', '&amp;').replaceAll('<', '&lt;').replaceAll('>', '&gt;').replaceAll('"', '&quot;');

/** From a page to another file of the help, both by their path in it. */
const relative = (from: string, to: string): string => posix.relative(posix.dirname(from), to);

/** Where a link of a document leads in the help; null where it leads to what has no page there. */
function helpHref(document: string, href: string): string | null {
  if (/^[a-z][a-z+.-]*:/i.test(href) || href.startsWith('#')) return href;
  const [path = '', anchor] = href.split('#');
  const inside = posix.join(posix.dirname(document), path);
  if (!helpDocuments().includes(inside)) return null;
  return `${path.slice(0, -3)}.html${anchor === undefined ? '' : `#${anchor}`}`;
}

const plainOf = (tokens: readonly Token[]): string =>
  tokens
    .map((token) => ('tokens' in token && token.tokens ? plainOf(token.tokens) : escapedAway(token)))
    .join('');

/** A token's text; the library has turned some signs into entities. */
const escapedAway = (token: Token): string =>
  ('text' in token ? String(token.text) : token.raw)
    .replaceAll('&quot;', '"')
    .replaceAll('&#39;', "'")
    .replaceAll('&lt;', '<')
    .replaceAll('&gt;', '>')
    .replaceAll('&amp;', '&');

/** One document as a page. */
export function helpPage(document: string, markdown: string): string {
  const anchor = anchorMaker();
  let title = '';
  const marked = new Marked({
    renderer: {
      heading({ tokens, depth }) {
        const text = plainOf(tokens);
        if (depth === 1) title ||= text;
        return `<h${depth} id="${escaped(anchor(text))}">${this.parser.parseInline(tokens)}</h${depth}>\n`;
      },
      link({ href, tokens }) {
        const text = this.parser.parseInline(tokens);
        // Right on the daemon's own machine alone, and the help is read from others, too: told, not led to.
        if (LOOPBACK.test(href)) return `<code>${text}</code>`;
        const to = helpHref(document, href);
        // What lies beside the documents, such as source files, is not served.
        if (to === null) return text;
        const isElsewhere = /^https?:/.test(to);
        return `<a href="${escaped(to)}"${isElsewhere ? ' rel="noreferrer"' : ''}>${text}</a>`;
      },
      image({ href, text }) {
        return `<img src="${escaped(href)}" alt="${escaped(text)}" loading="lazy">`;
      },
      code({ text }) {
        // By the keyboard, too, a long line can be read to its end.
        return `<pre tabindex="0"><code>${escaped(text)}\n</code></pre>\n`;
      },
      table({ header, rows, align }) {
        const cell = (name: 'th' | 'td', tokens: Token[], at: number): string =>
          `<${name}${align[at] ? ` class="${align[at]}"` : ''}>${this.parser.parseInline(tokens)}</${name}>`;
        const head = header.map(({ tokens }, at) => cell('th', tokens, at)).join('');
        const body = rows
          .map((row) => `<tr>${row.map(({ tokens }, at) => cell('td', tokens, at)).join('')}</tr>`)
          .join('\n');
        return `<div class="wide" tabindex="0"><table>\n<thead><tr>${head}</tr></thead>\n<tbody>\n${body}\n</tbody>\n</table></div>\n`;
      },
      // Remarks for whoever makes the documents.
      html: () => '',
    },
  });
  const content = marked.parse(markdown, { async: false });
  const page = document.replace(/\.md$/, '.html');
  const to = (path: string): string => escaped(relative(page, path));
  return `<!doctype html>
<html lang="en">
<head>
<meta charset="utf-8">
<meta name="viewport" content="width=device-width, initial-scale=1">
<title>${escaped(title)} · esterwatch help</title>
<link rel="icon" href="${to('../mark.svg')}" type="image/svg+xml">
<link rel="stylesheet" href="${to(STYLE)}">
</head>
<body>
<header>
<p class="product">esterwatch help</p>
<nav aria-label="Help"><a href="${to(CONTENTS)}">Contents</a> <a href="${to(ALARMS)}">Alarms</a> <a href="${to('../index.html')}">To the vessels</a></nav>
</header>
<main>
${content}</main>
<footer><p>It watches and warns. It switches nothing and is no safety interlock: never rely on it alone. Local codes and licensed practice come first.</p></footer>
</body>
</html>
`;
}

/** Makes the help anew in a folder: pages, their pictures, the style sheet. */
export function makeHelp(folder: string): void {
  rmSync(folder, { recursive: true, force: true });
  mkdirSync(folder, { recursive: true });
  for (const document of helpDocuments()) {
    const markdown = readFileSync(`${ROOT}${document}`, 'utf8');
    const file = `${folder}/${document.replace(/\.md$/, '.html')}`;
    mkdirSync(dirname(file), { recursive: true });
    writeFileSync(file, helpPage(document, markdown));
    for (const [, path] of markdown.matchAll(/!\[[^\]]*\]\(([^)]+)\)/g)) {
      const picture = posix.join(posix.dirname(document), path!);
      if (!existsSync(`${ROOT}${picture}`)) throw new Error(`${document} shows ${path}, which is not there`);
      cpSync(`${ROOT}${picture}`, `${folder}/${picture}`);
    }
  }
  cpSync(`${ROOT}${STYLE}`, `${folder}/${STYLE}`);
}
