import type { Reach } from '../../../shared/wire/reach.ts';
import { bodyOf, type FieldSpec, type Typed, typedFrom, type Units } from '../../forms.ts';
import { REACH } from '../../texts/reach.ts';

/** What a person wishes and by which server mail goes, as tables. Pure. */

const { person, general } = REACH;
const optional = true;

export const WISHES: readonly FieldSpec[] = [
  { name: 'email', label: person.email, is: 'text', optional },
  { name: 'post.url', label: person.url, is: 'text', help: person.urlHelp, optional },
  { name: 'post.secret', label: person.secret, is: 'secret', help: person.secretHelp, optional },
  { name: 'least', label: person.least, is: 'choice', options: person.leastOptions, start: 'medium' },
  { name: 'order', label: person.order, is: 'number', help: person.orderHelp, start: '1' },
  { name: 'hours.from', label: person.from, is: 'text', help: person.hoursHelp, optional },
  { name: 'hours.to', label: person.to, is: 'text', optional },
  { name: 'vessels', label: person.vessels, is: 'text', help: person.vesselsHelp, optional },
  { name: 'quietLines', label: person.quietLines, is: 'yes-no', start: 'yes' },
];

export const GENERAL: readonly FieldSpec[] = [
  { name: 'smtp.host', label: general.host, is: 'text', optional },
  { name: 'smtp.port', label: general.port, is: 'number', start: '587' },
  { name: 'smtp.security', label: general.security, is: 'choice', options: general.securityOptions },
  { name: 'smtp.user', label: general.user, is: 'text', optional },
  { name: 'smtp.password', label: general.password, is: 'secret', help: general.passwordHelp, optional },
  { name: 'smtp.from', label: general.from, is: 'text' },
  { name: 'nextAfterMinutes.critical', label: general.critical, is: 'number', start: '3' },
  { name: 'nextAfterMinutes.high', label: general.high, is: 'number', help: general.highHelp, optional },
  { name: 'night.from', label: general.nightFrom, is: 'text' },
  { name: 'night.to', label: general.nightTo, is: 'text' },
];

type Body = { body: object } | { wrong: FieldSpec };

export function wishesBody(typed: Typed, units: Units): Body {
  const made = bodyOf(WISHES, typed, units);
  if ('wrong' in made) return made;
  const { vessels, ...body } = made.body;
  const names = String(vessels ?? '')
    .split(/[\s,]+/)
    .filter((one) => one !== '');
  return { body: { ...body, vessels: names.length === 0 ? null : names } };
}

export function generalBody(typed: Typed, units: Units, now: Reach): Body {
  const made = bodyOf(GENERAL, typed, units);
  if ('wrong' in made) return made;
  const { smtp, nextAfterMinutes, ...body } = made.body;
  return {
    body: {
      ...body,
      // A certificate that was set over the API stays.
      smtp: smtp === undefined ? null : { ...(smtp as object), ca: now.smtp?.ca ?? null },
      nextAfterMinutes: { high: null, ...(nextAfterMinutes as object) },
    },
  };
}

export const typedWishes = (known: Reach['people'][number], units: Units): Typed =>
  typedFrom(WISHES, withoutNulls({ ...known, vessels: known.vessels?.join(' ') ?? null }), units);

export const typedGeneral = (now: Reach, units: Units): Typed =>
  typedFrom(GENERAL, withoutNulls({ ...now, smtp: now.smtp && withoutNulls(now.smtp) }), units);

const withoutNulls = (all: object): object =>
  Object.fromEntries(
    Object.entries(all)
      .filter(([, value]) => value !== null)
      .map(([key, value]) => [key, isPlain(value) ? withoutNulls(value) : value]),
  );

const isPlain = (value: unknown): value is object =>
  typeof value === 'object' && value !== null && !Array.isArray(value);
