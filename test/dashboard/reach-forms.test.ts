import { describe, expect, test } from 'vitest';
import { ApiProblem } from '../../dashboard/api.ts';
import { startOf } from '../../dashboard/forms.ts';
import {
  GENERAL,
  generalBody,
  inFormWords,
  typedWishes,
  WISHES,
  wishesBody,
  withVessel,
} from '../../dashboard/pages/set-up/reach-forms.ts';
import { REACH } from '../../dashboard/texts/reach.ts';
import type { Reach } from '../../shared/wire/reach.ts';

const UNITS = { temperature: 'C', volume: 'L' } as const;
const NOW: Reach = {
  smtp: null,
  nextAfterMinutes: { critical: 3, high: 15 },
  night: { from: '22:00', to: '07:00' },
  publicUrl: null,
  pushKey: '',
  people: [],
  others: [],
};
const wishes = (typed: Record<string, string>, name = 'Ada') =>
  wishesBody(name, { ...startOf(WISHES), ...typed }, UNITS);
const general = (typed: Record<string, string>) =>
  generalBody({ ...startOf(GENERAL), 'night.from': '22:00', 'night.to': '07:00', ...typed }, UNITS, NOW);
const { person } = REACH;

describe('what somebody wishes is judged in the form, by its labels', () => {
  test.each([
    ['hours.to', person.to, { 'hours.from': '07:00' }],
    ['hours.from', person.from, { 'hours.to': '22:00' }],
    ['hours.from', person.from, { 'hours.from': '7', 'hours.to': '22:00' }],
    ['email', person.email, { email: 'ada at example.org' }],
    ['post.url', person.url, { 'post.url': 'siren.example.org' }],
    ['post.url', person.url, { 'post.secret': 'long enough' }],
    ['post.secret', person.secret, { 'post.url': 'http://10.0.0.7/siren', 'post.secret': 'short' }],
    ['order', person.order, { order: '1.5' }],
    ['order', person.order, { order: '21' }],
  ])('%s', (name, label, typed) => {
    expect(wishes(typed)).toEqual({ wrong: REACH.wanted(label, REACH.wants[name]!) });
  });

  test('a name', () => {
    const wrong = { wrong: REACH.wanted(person.name, REACH.wants.name!) };
    expect(wishes({}, '')).toEqual(wrong);
    expect(wishes({}, 'a'.repeat(81))).toEqual(wrong);
    expect(wishes({}, 'a'.repeat(80))).toHaveProperty('body');
  });

  test('what is as it should be goes as it is', () => {
    const typed = { email: 'ada@example.org', 'hours.from': '07:00', 'hours.to': '22:00' };
    expect(wishes(typed)).toMatchObject({
      body: { email: typed.email, hours: { from: '07:00', to: '22:00' }, vessels: null },
    });
  });
});

test('vessels are ticked and unticked; none is all', () => {
  const both = withVessel(withVessel({}, 'barn:r1', true), 'barn:r2', true);
  expect(wishes(both)).toMatchObject({ body: { vessels: ['barn:r1', 'barn:r2'] } });
  const kept = { name: 'Ada', email: null, post: null, push: [], hours: null, vessels: ['barn:r1'] };
  const known = typedWishes({ ...kept, least: 'high', order: 2, quietLines: false, ways: [] }, UNITS);
  expect(wishes(known)).toMatchObject({ body: { vessels: ['barn:r1'], least: 'high' } });
  expect(wishes(withVessel(known, 'barn:r1', false))).toMatchObject({ body: { vessels: null } });
  const typed = { ...startOf(WISHES), ...withVessel(both, 'barn:r1', false) };
  expect(wishes(withVessel(typed, 'barn:r2', false))).toMatchObject({ body: { vessels: null } });
});

describe('the mail server, too', () => {
  const server = { 'smtp.host': 'mail.example.org', 'smtp.security': 'tls', 'smtp.from': 'shed@example.org' };
  test.each([
    ['smtp.from', { ...server, 'smtp.from': 'shed' }],
    ['smtp.port', { ...server, 'smtp.port': '65536' }],
    ['smtp.host', { 'smtp.from': 'shed@example.org' }],
    ['nextAfterMinutes.critical', { 'nextAfterMinutes.critical': '0' }],
    ['night.to', { 'night.to': 'seven' }],
  ])('%s', (name, typed) => {
    const { label } = GENERAL.find((field) => field.name === name)!;
    expect(general(typed)).toEqual({ wrong: REACH.wanted(label, REACH.wants[name]!) });
  });
  test('as it should be', () => {
    expect(general(server)).toMatchObject({ body: { smtp: { host: 'mail.example.org', ca: null } } });
    expect(general({})).toMatchObject({ body: { smtp: null } });
  });
});

test('what the daemon refuses all the same is said in the words of the form', () => {
  const said = (detail: string, code = 'body-invalid') =>
    inFormWords(WISHES, new ApiProblem(400, code, detail))?.message;
  const wanted = (name: string, label: string) => REACH.wanted(label, REACH.wants[name]!);
  expect(said('body/hours/to Invalid input: expected string')).toBe(wanted('hours.to', person.to));
  expect(said('params/name Too big: expected string to have <=80 characters')).toBe(
    wanted('name', person.name),
  );
  expect(said('post.secret: a secret is needed to sign with')).toBe(wanted('post.secret', person.secret));
  expect(said('100 people are told already', 'no-room')).toBe('100 people are told already');
  expect(said('body/unheard Of')).toBe('body/unheard Of');
});
