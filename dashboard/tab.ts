import type { Alarm } from '../shared/wire/api.ts';
import { alarmSentence } from './alarm-sentence.ts';
import { unit } from './settings.ts';
import { alarms, heardAt, isLive } from './store.ts';
import { PRIORITY_WORDS, TEXTS } from './texts/live.ts';
import { gravestStanding } from './vessels.ts';
import { clock } from './views/words.ts';

/** What a tab in the background shows: the gravest standing alarm, or that the page is not live. */
export function showOnTab(): void {
  const gravest = gravestStanding(alarms.value);
  const lostAt = isLive.value ? undefined : heardAt.value;
  document.title = titleOf(gravest, lostAt);
  const icon = document.querySelector<HTMLLinkElement>('link[rel="icon"]')!;
  const href = `./${iconOf(gravest, lostAt)}.svg`;
  if (icon.getAttribute('href') !== href) icon.setAttribute('href', href);
}

function titleOf(gravest: Alarm | undefined, lostAt: number | undefined): string {
  if (lostAt !== undefined) return `${TEXTS.link.lost(clock(lostAt))} – ${TEXTS.product}`;
  if (gravest === undefined) return TEXTS.product;
  return `${PRIORITY_WORDS[gravest.priority]}: ${alarmSentence(gravest, unit.value).because} – ${gravest.vessel}`;
}

const iconOf = (gravest: Alarm | undefined, lostAt: number | undefined): string =>
  lostAt !== undefined ? 'icon-not-live' : gravest === undefined ? 'mark' : `icon-${gravest.priority}`;
