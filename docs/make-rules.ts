import { readFileSync, writeFileSync } from 'node:fs';
import { fileURLToPath } from 'node:url';
import { LIMIT_DEFAULTS } from '../shared/rules/limits.ts';
import { ALARM_NAMES, type AlarmName } from '../shared/rules/names.ts';
import { quantitiesIn, RULES_IN_WORDS } from '../shared/rules/words.ts';
import { PRIORITIES, STAGES } from '../shared/wire/names.ts';
import { PRIORITY_WORDS, STAGE_NAMES } from '../shared/words/stages.ts';
import { table } from './make-chemistry.ts';

const PAGE = fileURLToPath(new URL('rules.md', import.meta.url));

/** Where the guide's page of an alarm lies. */
export const guidePageOf = (alarm: AlarmName): string =>
  fileURLToPath(new URL(`guide/alarms/${alarm}.md`, import.meta.url));

/** Stages and priorities as they are called on the page. */
const asOnThePage = (text: string): string =>
  STAGES.reduce((said, stage) => said.replaceAll(`\`${stage}\``, `_${STAGE_NAMES[stage]}_`), text);
const priorityWords = (text: string): string =>
  PRIORITIES.reduce((said, priority) => said.replaceAll(priority, PRIORITY_WORDS[priority]), text);

/** An alarm's page of the guide with what its rule says of itself. */
export function withRule(page: string, alarm: AlarmName): string {
  const words = quantitiesIn('C');
  const { priority, raised, limits, over } = RULES_IN_WORDS[alarm];
  const made = [
    `- **Priority**: ${priorityWords(priority)}`,
    `- **It comes**: ${asOnThePage(raised(LIMIT_DEFAULTS, words))}`,
    `- **It is over**: ${over(LIMIT_DEFAULTS, words)}`,
    `- **Its limits in the plan**: ${limits.map((limit) => `\`${limit}\``).join(', ') || 'none'}`,
  ].join('\n');
  return put(page, 'rule', made);
}

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
  if (from < 0 || to < from) throw new Error(`a page has no ${begin} … ${end}`);
  return `${page.slice(0, from)}${begin}\n\n${made}\n\n${page.slice(to)}`;
}

if (process.argv[1] === fileURLToPath(import.meta.url)) {
  writeFileSync(PAGE, withRules(readFileSync(PAGE, 'utf8')));
  for (const alarm of ALARM_NAMES) {
    const page = guidePageOf(alarm);
    writeFileSync(page, withRule(readFileSync(page, 'utf8'), alarm));
  }
}
