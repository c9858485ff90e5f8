import { PRIORITIES, type Priority } from '../../shared/wire/names.ts';
import type { Hours, ReachedPerson, ReachSettings, Way } from '../../shared/wire/reach.ts';
import { type About, type Message, type ToldAlarm, tellsMsOf, toldOf, type WorksAlone } from './ledger.ts';

/**
 * Who is to be told what, now: worked out from what stands, what people wish and what was told so far, never from
 * what happened in between. So a restart, or a look too many, tells nobody anything twice, and nothing is lost that
 * still stands. Pure; the clock comes in.
 */

/** An alarm that stands. */
export interface DutyAlarm extends ToldAlarm {
  /** Anybody is to be told at all: not explained by another, not on the shelf. */
  told: boolean;
  acknowledged: boolean;
  /** Its vessel is only settling (or drained), cool and not heated. */
  resting: boolean;
}

export interface Sight {
  nowMs: number;
  site: string;
  alarms: readonly DutyAlarm[];
  /** Vessels that are in `settle`, cool and not heated. */
  settling: readonly string[];
  alone: readonly WorksAlone[];
  messages: readonly Message[];
  settings: ReachSettings;
  /** A moment by the daemon's own clock: its day, and the minutes since it began. */
  local: (ms: number) => { day: string; minute: number };
  /** Whether a message is being sent by a way at this moment. */
  isUnderWay: (message: string, way: Way) => boolean;
}

export interface Due {
  messages: { to: string; about: About }[];
  /** Vessels whose question got no answer in time. */
  unanswered: { vessel: string; question: number }[];
  tries: { message: Message; way: Way }[];
  /** When something falls due that no alarm announces, epoch ms; null where nothing waits. */
  lookAgainMs: number | null;
}

const MINUTE_MS = 60_000;
/** The pause after the first failed try; each is three times as long as the one before … ms */
const FIRST_PAUSE_MS = 5000;
/** … up to this. A server that was down for a night is tried 140 times a day, not thousands. */
const LONGEST_PAUSE_MS = 600_000;
/** A quiet line is not sent later than so long after its time. */
const LINE_WITHIN_MINUTES = 120;
/** By then its day is over in any place, and no line is of it. */
const LINE_COUNTS_MS = 48 * 3_600_000;
/** While a vessel only rests these say that nobody watches it, and that can wait for the morning. */
const ABOUT_WATCHING: readonly string[] = ['not-watching', 'reading-late', 'device-gone'];

export function dutyNow(sight: Sight): Due {
  const looks: number[] = [];
  const later = (ms: number): void => void looks.push(ms);
  const unanswered = sight.alone
    .filter((alone) => !alone.unanswered)
    .flatMap((alone) => {
      const { vessel, question } = alone;
      if (tellsMsOf(alone) <= sight.nowMs) return [{ vessel, question }];
      later(tellsMsOf(alone));
      return [];
    });
  const messages = [...aboutAlarms(sight, later), ...aboutAlone(sight, later), ...quietLines(sight)];
  const tries = triesDue(sight, later);
  return { messages, unanswered, tries, lookAgainMs: looks.length === 0 ? null : Math.min(...looks) };
}

// ---- who ----

/** The ways of a person that can be tried. */
export const waysOf = (person: ReachedPerson, { smtp }: Pick<ReachSettings, 'smtp'>): Way[] => [
  ...(person.email !== null && smtp !== null ? (['email'] as const) : []),
  ...(person.post !== null ? (['post'] as const) : []),
  ...(person.push.length > 0 ? (['push'] as const) : []),
];

const isAtLeast = (priority: Priority, least: Priority): boolean =>
  PRIORITIES.indexOf(priority) >= PRIORITIES.indexOf(least);

const minuteOf = (time: string): number => Number(time.slice(0, 2)) * 60 + Number(time.slice(3));

/** From a time of day up to another, maybe past midnight; the same twice is the whole day. */
function isWithin({ from, to }: Hours, minute: number): boolean {
  const [start, end] = [minuteOf(from), minuteOf(to)];
  if (start === end) return true;
  return start < end ? minute >= start && minute < end : minute >= start || minute < end;
}

const isAwake = ({ hours }: ReachedPerson, minute: number): boolean =>
  hours === null || isWithin(hours, minute);

/** The vessel of what is said of a site as a whole: no vessel has such a name. */
export const WHOLE_SITE = '-';

/** Of a site as a whole whoever sees any vessel of it is told. */
export const sees = ({ vessels }: ReachedPerson, site: string, vessel: string): boolean =>
  vessels === null ||
  (vessel === WHOLE_SITE
    ? vessels.some((one) => one.startsWith(`${site}:`))
    : vessels.includes(`${site}:${vessel}`));

/** People in their order, those of the same number together. */
function ranked(people: readonly ReachedPerson[]): ReachedPerson[][] {
  const byOrder = new Map<number, ReachedPerson[]>();
  for (const person of people) byOrder.set(person.order, [...(byOrder.get(person.order) ?? []), person]);
  return [...byOrder].sort(([a], [b]) => a - b).map(([, group]) => group);
}

function groupsFor(alarm: DutyAlarm, { settings, site, nowMs, local }: Sight): ReachedPerson[][] {
  const wanted = settings.people.filter(
    (person) =>
      waysOf(person, settings).length > 0 &&
      isAtLeast(alarm.priority, person.least) &&
      sees(person, site, alarm.vessel),
  );
  const { minute } = local(nowMs);
  const awake = ranked(wanted.filter((person) => isAwake(person, minute)));
  if (alarm.priority !== 'critical') return awake;
  // Better woken than nobody there: where none of those awake acknowledges a danger, the others follow.
  return [...awake, ...ranked(wanted.filter((person) => !isAwake(person, minute)))];
}

/** Whether nobody is to be woken by it: its vessel only rests, and it is night. */
function waitsForMorning(
  { resting, priority, alarm }: DutyAlarm,
  { settings, nowMs, local }: Sight,
): boolean {
  if (!resting || priority === 'critical') return false;
  if (priority === 'high' && !ABOUT_WATCHING.includes(alarm)) return false;
  return isWithin(settings.night, local(nowMs).minute);
}

// ---- alarms ----

const isToBeTold = ({ told, acknowledged, priority }: DutyAlarm): boolean =>
  told && !acknowledged && priority !== 'low';

function aboutAlarms(sight: Sight, later: (ms: number) => void): Due['messages'] {
  const { nowMs, settings } = sight;
  const told = messagesOf(sight.messages);
  const byPerson = new Map<string, ToldAlarm[]>();
  for (const alarm of sight.alarms) {
    if (!isToBeTold(alarm) || waitsForMorning(alarm, sight)) continue;
    for (const group of groupsFor(alarm, sight)) {
      const firsts = group.map(({ name }) => toldFirstMs(told.get(toldKey(name, alarm)) ?? [], alarm));
      for (const [i, { name }] of group.entries()) {
        if (firsts[i] !== null) continue;
        const { vessel, number, atMs, priority } = alarm;
        const news = { vessel, number, atMs, alarm: alarm.alarm, priority };
        byPerson.set(name, [...(byPerson.get(name) ?? []), news]);
      }
      const nextAfter =
        alarm.priority === 'critical' || alarm.priority === 'high'
          ? settings.nextAfterMinutes[alarm.priority]
          : null;
      if (nextAfter === null) break;
      const nextMs = Math.min(...firsts.map((firstMs) => firstMs ?? nowMs)) + nextAfter * MINUTE_MS;
      if (nextMs > nowMs) {
        later(nextMs);
        break;
      }
    }
  }
  return [...byPerson].map(([to, alarms]) => ({
    to,
    about: { kind: 'alarms', alarms: alarms.toSorted((a, b) => gravity(b) - gravity(a)) },
  }));
}

const gravity = ({ priority }: ToldAlarm): number => PRIORITIES.indexOf(priority);

const toldKey = (to: string, { vessel, number }: Pick<ToldAlarm, 'vessel' | 'number'>): string =>
  `${vessel}.${number} ${to}`;

/** The messages by whom and what they told of: there are many of them, and each alarm asks for each person. */
function messagesOf(messages: readonly Message[]): ReadonlyMap<string, Message[]> {
  const found = new Map<string, Message[]>();
  for (const message of messages) {
    if (message.about.kind !== 'alarms') continue;
    for (const alarm of message.about.alarms) {
      const key = toldKey(message.to, alarm);
      const known = found.get(key);
      if (known === undefined) found.set(key, [message]);
      else known.push(message);
    }
  }
  return found;
}

/** When a person was first to be told of an alarm as grave as it is, by the messages to them of it; null where never. */
function toldFirstMs(messages: readonly Message[], alarm: DutyAlarm): number | null {
  for (const message of messages) {
    const told = toldOf(message, alarm);
    if (told !== undefined && isAtLeast(told.priority, alarm.priority)) return message.sinceMs;
  }
  return null;
}

// ---- working alone ----

/** Whoever was named first, then the others in their order, as with a critical alarm that nobody acknowledges. */
function aboutAlone(sight: Sight, later: (ms: number) => void): Due['messages'] {
  const { nowMs, settings, messages, site } = sight;
  return sight.alone.flatMap(({ vessel, tell, question, unanswered, seen, by }) => {
    if (!unanswered || seen) return [];
    const reachable = settings.people.filter(
      (person) => waysOf(person, settings).length > 0 && person.name !== by,
    );
    const named = reachable.filter(({ name }) => name === tell);
    const others = ranked(reachable.filter((person) => person.name !== tell && sees(person, site, vessel)));
    const due: Due['messages'] = [];
    for (const group of named.length > 0 ? [named, ...others] : others) {
      const firsts = group.map(
        ({ name }) =>
          messages.find(
            ({ to, about }) =>
              to === name && about.kind === 'alone' && about.vessel === vessel && about.question === question,
          )?.sinceMs ?? null,
      );
      for (const [i, { name: to }] of group.entries())
        if (firsts[i] === null) due.push({ to, about: { kind: 'alone', vessel, question } });
      const nextMs =
        Math.min(...firsts.map((firstMs) => firstMs ?? nowMs)) +
        settings.nextAfterMinutes.critical * MINUTE_MS;
      if (nextMs > nowMs) {
        later(nextMs);
        break;
      }
    }
    return due;
  });
}

// ---- quiet lines ----

function quietLines({ nowMs, site, settings, settling, messages, local }: Sight): Due['messages'] {
  if (settling.length === 0) return [];
  const { minute } = local(nowMs);
  return (['night', 'morning'] as const).flatMap((line): Due['messages'] => {
    const { from, to } = settings.night;
    const ago = (minute - minuteOf(line === 'night' ? from : to) + 1440) % 1440;
    if (from === to || ago >= LINE_WITHIN_MINUTES) return [];
    const { day } = local(nowMs - ago * MINUTE_MS);
    const wanting = settings.people.filter(
      (person) =>
        person.quietLines &&
        waysOf(person, settings).length > 0 &&
        isAwake(person, minute) &&
        settling.some((vessel) => sees(person, site, vessel)),
    );
    const [first = []] = ranked(wanting);
    return first
      .filter(({ name }) => !messages.some(({ to, about }) => to === name && isLine(about, line, day)))
      .map(({ name }) => ({ to: name, about: { kind: 'quiet', line, day } }));
  });
}

const isLine = (about: About, line: string, day: string): boolean =>
  about.kind === 'quiet' && about.line === line && about.day === day;

/**
 * Whether nothing follows from a message any more: neither that somebody was told nor that a try is due. What was shelved
 * and stands counts, too, since the shelf has an end.
 */
export function isOver(
  { about, sinceMs }: Message,
  { nowMs, alarms, alone }: Pick<Sight, 'nowMs' | 'alarms' | 'alone'>,
): boolean {
  switch (about.kind) {
    case 'alarms':
      return !about.alarms.some((told) =>
        alarms.some(
          ({ vessel, number, atMs }) =>
            vessel === told.vessel && number === told.number && atMs === told.atMs,
        ),
      );
    case 'alone':
      return !alone.some(({ vessel, question }) => vessel === about.vessel && question === about.question);
    case 'quiet':
      return nowMs - sinceMs > LINE_COUNTS_MS;
    case 'test':
      return true;
  }
}

// ---- tries ----

/** Whether there is still a reason to send a message. */
function isWanted(message: Message, { nowMs, alarms, alone }: Sight): boolean {
  const { about } = message;
  switch (about.kind) {
    case 'alarms':
      return alarms.some((alarm) => isToBeTold(alarm) && toldOf(message, alarm) !== undefined);
    case 'alone':
      return alone.some(
        ({ vessel, question, unanswered, seen }) =>
          vessel === about.vessel && question === about.question && unanswered && !seen,
      );
    case 'quiet':
      return nowMs - message.sinceMs < LINE_WITHIN_MINUTES * MINUTE_MS;
    case 'test':
      // Tried once, by whoever asked for it.
      return false;
  }
}

function triesDue(sight: Sight, later: (ms: number) => void): Due['tries'] {
  const { nowMs, settings, isUnderWay } = sight;
  return sight.messages.flatMap((message) => {
    const person = settings.people.find(({ name }) => name === message.to);
    if (person === undefined || !isWanted(message, sight)) return [];
    return waysOf(person, settings).flatMap((way) => {
      if (isUnderWay(message.id, way)) return [];
      const tries = message.tries.filter((each) => each.way === way);
      if (tries.some(({ result }) => result !== 'failed')) return [];
      const lastMs = message.lastTryMs.get(way);
      const dueMs = lastMs === undefined ? nowMs : lastMs + pauseMs(tries.length);
      if (dueMs <= nowMs) return [{ message, way }];
      later(dueMs);
      return [];
    });
  });
}

/** How long to wait after so many failed tries, ms: 5 s, 15 s, 45 s … 10 min. */
const pauseMs = (tries: number): number => Math.min(LONGEST_PAUSE_MS, FIRST_PAUSE_MS * 3 ** (tries - 1));
