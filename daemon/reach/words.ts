import type { Alarm, Vessel } from '../../shared/wire/api.ts';
import { PRIORITIES, type Priority } from '../../shared/wire/names.ts';
import { WHOLE_SITE } from './duty.ts';
import type { WorksAlone } from './ledger.ts';

/** What messages say: what happened, where, since when, the number, what to do and what not to. */

/** All that a way shows of a message; `short` is for those that carry little, a text message above all. */
export interface Words {
  priority: Priority;
  title: string;
  short: string;
  text: string;
}

/** A text message of two parts holds 306 characters of the usual alphabet (3GPP TS 23.038); under 300 leaves some. */
const MOST_SHORT = 299;

/**
 * What our texts have and that alphabet (its default one, of 7 bits) has not, with what stands for it: a single one
 * would make all of the message UCS-2, of 67 characters a part. Letters of people's names are left as they are.
 */
const PLAIN: Readonly<Record<string, string>> = {
  '°': '',
  '’': "'",
  '–': '-',
  '—': '-',
  '−': '-',
  '…': '...',
};
const NOT_PLAIN = new RegExp(`[${Object.keys(PLAIN).join('')}]`, 'g');
const plain = (text: string): string => text.replace(NOT_PLAIN, (character) => PLAIN[character]!);

/** `22:04`, and the day where it is another than that of `nowMs`; by the daemon's own clock. */
export function clockTime(ms: number, nowMs: number): string {
  const at = new Date(ms);
  const two = (number: number): string => String(number).padStart(2, '0');
  const time = `${two(at.getHours())}:${two(at.getMinutes())}`;
  if (at.toDateString() === new Date(nowMs).toDateString()) return time;
  return `${at.getDate()} ${MONTHS[at.getMonth()]} ${time}`;
}

const MONTHS = ['Jan', 'Feb', 'Mar', 'Apr', 'May', 'Jun', 'Jul', 'Aug', 'Sep', 'Oct', 'Nov', 'Dec'];
/** As the page has them; a danger louder, since the title is all that some show. */
const PRIORITY_WORDS: Readonly<Record<Priority, string>> = {
  low: 'Note',
  medium: 'Take care',
  high: 'Warning',
  critical: 'DANGER',
};

/** What an alarm is called where there is no room for a sentence. */
const nameOf = (alarm: string): string => alarm.replaceAll('-', ' ');

const where = (at: { site: string; vessel: string }): string =>
  at.vessel === WHOLE_SITE ? at.site : `${at.vessel} (${at.site})`;

/**
 * Of one or several alarms, the gravest first. `heldBack` follow from one of them, and nobody is told of them by
 * themselves.
 */
export function alarmWords(
  alarms: readonly [Alarm, ...Alarm[]],
  {
    heldBack,
    link,
    nowMs,
    isForwarded = false,
  }: { heldBack: readonly Alarm[]; link: string | null; nowMs: number; isForwarded?: boolean },
): Words {
  const [first, ...others] = alarms;
  const { priority } = first;
  const title = `${PRIORITY_WORDS[priority]}: ${where(first)}, ${nameOf(first.alarm)}${others.length > 0 ? ` and ${others.length} more` : ''}`;
  const since = `since ${clockTime(Date.parse(first.at), nowMs)}`;
  const more = [
    ...(others.length > 0 ? [`And ${others.length} more alarm${others.length === 1 ? '' : 's'}.`] : []),
    ...(heldBack.length > 0
      ? [`Held back: ${heldBack.length} that follow${heldBack.length === 1 ? 's' : ''}.`]
      : []),
  ].join(' ');
  const text = [
    ...alarms.flatMap((alarm) => [
      `${PRIORITY_WORDS[alarm.priority]}: ${where(alarm)}, ${nameOf(alarm.alarm)}, since ${clockTime(Date.parse(alarm.at), nowMs)}`,
      alarm.because,
      ...(alarm.value === null || alarm.limit === null
        ? []
        : [`Value ${figure(alarm.value)}, limit ${figure(alarm.limit)}.`]),
      `What to do: ${alarm.todo}`,
      '',
    ]),
    ...(heldBack.length === 0
      ? []
      : [
          'Held back, since it follows from the above:',
          ...heldBack.map((alarm) => `- ${where(alarm)}, ${nameOf(alarm.alarm)}: ${alarm.because}`),
          '',
        ]),
    ...(isForwarded
      ? [`Acknowledge at the site: nothing is done to ${first.site} from here.`]
      : lookAt(link)),
  ].join('\n');
  const head = `${PRIORITY_WORDS[priority]}, ${where(first)}, ${since}:`;
  return { priority, title, short: shortened([head, first.because, first.todo, more]), text };
}

export function aloneWords(
  alone: WorksAlone,
  { site, link, nowMs }: { site: string; link: string | null; nowMs: number },
): Words {
  const at = where({ site, vessel: alone.vessel });
  const heard = clockTime(alone.heardMs, nowMs);
  const happened = `${alone.by} works alone at ${at} and has not answered. Last heard of at ${heard}.`;
  const todo =
    'Call; if nobody answers, go and look, not alone. Before you go in: methanol vapour cannot be seen; touch no switch.';
  return {
    priority: 'critical',
    title: `${PRIORITY_WORDS.critical}: ${alone.by} at ${at} does not answer`,
    short: shortened([`${PRIORITY_WORDS.critical}:`, happened, todo]),
    text: [happened, `What to do: ${todo}`, '', ...lookAt(link)].join('\n'),
  };
}

/** One line while vessels only settle: how far each is, and that nothing is to be done. */
export function quietWords(
  vessels: readonly Vessel[],
  { site, line, nowMs }: { site: string; line: 'night' | 'morning'; nowMs: number },
): Words {
  const lines = vessels.map((vessel) => `${vessel.vessel}: ${settlingWords(vessel, nowMs)}`);
  const end =
    line === 'night'
      ? 'Nothing to do. You are woken only by a danger or by heat that was not asked for.'
      : '';
  return {
    priority: 'low',
    title: `${site}: ${vessels.length === 1 ? `${vessels[0]!.vessel} settles` : `${vessels.length} vessels settle`}`,
    short: shortened([`${site},`, lines.join('. '), end]),
    text: [...lines, ...(end === '' ? [] : ['', end])].join('\n'),
  };
}

function settlingWords({ counted, liquidC, stageSince }: Vessel, nowMs: number): string {
  const warm = liquidC === null ? '' : `, ${liquidC.toFixed(0)} °C`;
  const hours = counted.settleHours;
  const since = stageSince === null ? '' : ` since ${clockTime(Date.parse(stageSince), nowMs)}`;
  if (hours === null) return `settling${since}${warm}`;
  if (hours.has < hours.needs) {
    const ready =
      hours.enoughAt === null ? '' : `, enough at ${clockTime(Date.parse(hours.enoughAt), nowMs)}`;
    return `settling${since}, ${hours.has.toFixed(1)} of ${figure(hours.needs)} h${ready}${warm}`;
  }
  const settledMs = nowMs - (hours.has - hours.needs) * 3_600_000;
  return `settled since ${clockTime(settledMs, nowMs)}${warm}; drain when you like`;
}

export function testWords(to: string): Words {
  const text = `A test for ${to}: messages arrive this way. Nothing is wrong.`;
  return { priority: 'low', title: 'A test: nothing is wrong', short: shortened([text]), text };
}

/** From the second machine: the daemon is silent, or is there again. */
export function guardWords(
  state: 'gone' | 'back',
  url: string,
  because: string,
  sinceMs: number,
  nowMs: number,
): Words {
  const since = clockTime(sinceMs, nowMs);
  if (state === 'back') {
    const text = `esterwatch at ${url} answers again; it was silent since ${since}. Look what happened meanwhile.`;
    return { priority: 'medium', title: 'esterwatch watches again', short: shortened([text]), text };
  }
  const text = `Nobody watches: esterwatch at ${url} is silent since ${since} (${because}). Look at the vessels yourself, heat off if nobody is there; then at the machine, its power and its network.`;
  return {
    priority: 'critical',
    title: `${PRIORITY_WORDS.critical}: esterwatch is silent`,
    short: shortened([text]),
    text,
  };
}

const lookAt = (link: string | null): string[] =>
  link === null
    ? ['Acknowledge on the page of esterwatch, at the vessel.']
    : ['Acknowledge (asks once more; works once, for 24 h):', link];

const figure = (value: number): string => String(Number(value.toFixed(2)));

/** Whole sentences as far as they fit, of each part at least its first. The last part stays where it can. */
function shortened(parts: readonly string[]): string {
  const kept = parts.filter((part) => part !== '').map(plain);
  while (kept.join(' ').length > MOST_SHORT) {
    const longest = kept.reduce((most, part, i) => (part.length > kept[most]!.length ? i : most), 0);
    const sentences = kept[longest]!.split(/(?<=[.;]) /);
    if (sentences.length === 1) break;
    kept[longest] = sentences.slice(0, -1).join(' ').replace(/;$/, '.');
  }
  const text = kept.join(' ');
  return text.length <= MOST_SHORT ? text : `${text.slice(0, MOST_SHORT - 3)}...`;
}

/** The gravest of a message is said first, and stands for it. */
export const gravestFirst = (a: Alarm, b: Alarm): number =>
  PRIORITIES.indexOf(b.priority) - PRIORITIES.indexOf(a.priority) || a.at.localeCompare(b.at);
