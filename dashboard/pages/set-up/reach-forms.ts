import type { z } from 'zod';
import { person as personName } from '../../../shared/wire/parts.ts';
import { type Reach, reachBodySchema, wishesBodySchema } from '../../../shared/wire/reach.ts';
import { ApiProblem } from '../../api.ts';
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

/** The body of a request, or in words what is wrong with what was typed. */
type Body = { body: object } | { wrong: string };

function wrong(fields: readonly FieldSpec[], name: string): string {
  const label = name === 'name' ? person.name : fields.find((field) => field.name === name)?.label;
  const wants = REACH.wants[name];
  return wants === undefined ? REACH.wrong(label ?? name) : REACH.wanted(label ?? name, wants);
}

/** As the daemon would judge it, before it is asked. */
function checked(fields: readonly FieldSpec[], body: object, schema: z.ZodType): Body {
  const { error } = schema.safeParse(body);
  return error === undefined ? { body } : { wrong: wrong(fields, error.issues[0]!.path.join('.')) };
}

/** What the daemon says of a body or a name that it does not take, in the words of the form. */
export function inFormWords(
  fields: readonly FieldSpec[],
  problem: ApiProblem | undefined,
): ApiProblem | undefined {
  if (problem?.code !== 'body-invalid') return problem;
  const place = /^(?:(?:body|params|querystring)\/)?([\w./]+)/
    .exec(problem.message)?.[1]
    ?.replaceAll('/', '.');
  if (place === undefined || !Object.hasOwn(REACH.wants, place)) return problem;
  return new ApiProblem(problem.status, problem.code, wrong(fields, place));
}

/** Fields of a group that would be left out although something was typed into them: what begins the group is lacking. */
const lackingFirst = (typed: Typed, first: string, ...others: string[]): boolean =>
  blank(typed, first) && others.some((name) => !blank(typed, name));

const blank = (typed: Typed, name: string): boolean => (typed[name] ?? '').trim() === '';

export function wishesBody(name: string, typed: Typed, units: Units): Body {
  if (!personName.safeParse(name).success) return { wrong: wrong(WISHES, 'name') };
  if (lackingFirst(typed, 'hours.from', 'hours.to')) return { wrong: wrong(WISHES, 'hours.from') };
  if (lackingFirst(typed, 'post.url', 'post.secret')) return { wrong: wrong(WISHES, 'post.url') };
  const made = bodyOf(WISHES, typed, units);
  if ('wrong' in made) return { wrong: wrong(WISHES, made.wrong.name) };
  const names = vesselsIn(typed);
  const body = { ...made.body, vessels: names.length === 0 ? null : names };
  return checked(WISHES, body, wishesBodySchema);
}

export function generalBody(typed: Typed, units: Units, now: Reach): Body {
  if (lackingFirst(typed, 'smtp.host', 'smtp.user', 'smtp.password', 'smtp.from') && now.smtp === null)
    return { wrong: wrong(GENERAL, 'smtp.host') };
  const made = bodyOf(GENERAL, typed, units);
  if ('wrong' in made) return { wrong: wrong(GENERAL, made.wrong.name) };
  const { smtp, nextAfterMinutes, ...body } = made.body;
  return checked(
    GENERAL,
    {
      ...body,
      // A certificate that was set over the API stays.
      smtp: smtp === undefined ? null : { ...(smtp as object), ca: now.smtp?.ca ?? null },
      nextAfterMinutes: { high: null, ...(nextAfterMinutes as object) },
    },
    reachBodySchema,
  );
}

/** Keys of the vessels that somebody is told of, with blanks between; none is all. */
export const vesselsIn = (typed: Typed): string[] =>
  (typed.vessels ?? '').split(' ').filter((key) => key !== '');

export const withVessel = (typed: Typed, key: string, isTold: boolean): Typed => {
  const others = vesselsIn(typed).filter((one) => one !== key);
  return { ...typed, vessels: (isTold ? [...others, key] : others).join(' ') };
};

export const typedWishes = (known: Reach['people'][number], units: Units): Typed => ({
  ...typedFrom(WISHES, withoutNulls(known), units),
  vessels: known.vessels?.join(' ') ?? '',
});

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
