import { readFileSync, writeFileSync } from 'node:fs';
import { fileURLToPath } from 'node:url';
import { LIMIT_DEFAULTS } from '../shared/rules/limits.ts';
import { ALARM_NAMES } from '../shared/rules/names.ts';
import { quantitiesIn, RULES_IN_WORDS } from '../shared/rules/words.ts';
import { table } from './make-chemistry.ts';

const PAGE = fileURLToPath(new URL('rules.md', import.meta.url));

/** docs/rules.md with its tables as the code has them. */
export function withRules(page: string): string {
  const words = quantitiesIn('C');
  const rows = ALARM_NAMES.map((alarm) => ({ name: `\`${alarm}\``, ...RULES_IN_WORDS[alarm] }));
  const raised = rows.map(({ name, priority, raised, limits }) => [
    name,
    priority,
    raised(LIMIT_DEFAULTS, words),
    limits.map((limit) => `\`${limit}\``).join(', ') || '–',
  ]);
  const over = rows.map(({ name, over }) => [name, over(LIMIT_DEFAULTS, words)]);
  return put(
    put(page, 'raised', table(['alarm', 'priority', 'raised', 'limits'], raised)),
    'over',
    table(['alarm', 'over when'], over),
  );
}

function put(page: string, name: string, made: string): string {
  const [begin, end] = [`<!-- ${name} -->`, `<!-- /${name} -->`];
  const [from, to] = [page.indexOf(begin), page.indexOf(end)];
  if (from < 0 || to < from) throw new Error(`docs/rules.md has no ${begin} … ${end}`);
  return `${page.slice(0, from)}${begin}\n\n${made}\n\n${page.slice(to)}`;
}

if (process.argv[1] === fileURLToPath(import.meta.url))
  writeFileSync(PAGE, withRules(readFileSync(PAGE, 'utf8')));
