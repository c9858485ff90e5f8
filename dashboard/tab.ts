import type { Alarm } from '../shared/wire/api.ts';
import { alarmSentence } from './alarm-sentence.ts';
import { isShut } from './session.ts';
import { unit } from './settings.ts';
import { alarms, heardAt, isLive, isUnheard, question } from './store.ts';
import { PRIORITY_WORDS, TEXTS } from './texts/live.ts';
import { gravestStanding } from './vessels.ts';
import { clock } from './views/words.ts';

/** What a tab in the background shows: what is asked, the gravest standing alarm, and that the page is not live. */
export function showOnTab(): void {
  const { title, icon } = tabOf(gravestStanding(alarms.value), notLive(), question.value);
  document.title = title;
  const link = document.querySelector<HTMLLinkElement>('link[rel="icon"]')!;
  const href = `./${icon}.svg`;
  if (link.getAttribute('href') !== href) link.setAttribute('href', href);
}

/** What the page says of a lost link, or of one that never was. */
function notLive(): string | undefined {
  if (isLive.value || isShut.value) return undefined;
  if (heardAt.value !== undefined) return TEXTS.link.lost(clock(heardAt.value));
  return isUnheard.value ? TEXTS.link.neverLive : undefined;
}

/** An alarm that stood when the link was lost may stand still: it is kept beside that. */
export function tabOf(
  gravest: Alarm | undefined,
  notLiveText: string | undefined,
  asked?: string,
): { title: string; icon: string } {
  const alarm =
    gravest &&
    `${PRIORITY_WORDS[gravest.priority]}: ${alarmSentence(gravest, unit.value).because} – ${gravest.vessel}`;
  if (notLiveText !== undefined)
    return { title: `${notLiveText} – ${alarm ?? TEXTS.product}`, icon: 'icon-not-live' };
  return {
    title: asked === undefined ? (alarm ?? TEXTS.product) : `${asked} – ${alarm ?? TEXTS.product}`,
    icon: gravest !== undefined ? `icon-${gravest.priority}` : asked === undefined ? 'mark' : 'icon-high',
  };
}
