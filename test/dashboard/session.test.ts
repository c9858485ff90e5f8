import { afterAll, afterEach, beforeAll, beforeEach, describe, expect, test, vi } from 'vitest';
import { ApiProblem, acknowledge } from '../../dashboard/api.ts';
import * as session from '../../dashboard/session.ts';
import { TEXTS } from '../../dashboard/texts/live.ts';

const OPEN = { wanted: false, person: null };
const SHUT = { wanted: true, person: null };
const ADA = { wanted: true, person: { name: 'Ada', rights: ['look', 'work', 'keep'] } };
const TOM = { wanted: true, person: { name: 'Tom', rights: ['look'] } };

/** Requests that wait for their answer, the oldest first. */
let waiting: { method: string; answer: (status: number, body: unknown, headers?: object) => void }[] = [];

beforeAll(() => session.followRefusals());
beforeEach(() => {
  waiting = [];
  session.session.value = undefined;
  session.lastOpen.value = undefined;
  vi.stubGlobal(
    'fetch',
    (_path: string, { method }: { method: string }) =>
      new Promise<Response>((resolve) => {
        waiting.push({
          method,
          answer: (status, body, headers = {}) =>
            resolve(new Response(JSON.stringify(body), { status, headers: { ...headers } })),
        });
      }),
  );
});
afterEach(() => vi.unstubAllGlobals());
afterAll(() => {
  session.session.value = undefined;
  session.lastOpen.value = undefined;
});

async function asked(answer: object): Promise<void> {
  const done = session.askSession();
  waiting.shift()!.answer(200, answer);
  await done;
}

test('while nobody has to sign in nothing is shut, and everything may be done', async () => {
  await asked(OPEN);
  expect(session.isShut.value).toBe(false);
  expect([session.may('look'), session.may('work'), session.may('keep')]).toEqual([true, true, true]);
});

test('as long as it is not known the daemon decides', () => {
  expect(session.isShut.value).toBe(false);
  expect(session.may('keep')).toBe(true);
});

test('who is signed in may what they may, and is noted by their own name', async () => {
  await asked(TOM);
  expect([session.may('look'), session.may('work'), session.may('keep')]).toEqual([true, false, false]);
  expect(session.ownName.value).toBe('Tom');
});

test('a page that is shut knows who was there before', async () => {
  await asked(ADA);
  await asked(SHUT);
  expect(session.isShut.value).toBe(true);
  expect(session.may('look')).toBe(false);
  expect(session.lastOpen.value?.person?.name).toBe('Ada');
});

describe('of two answers the one to what was asked last counts', () => {
  test('nobody is signed out by what was asked before they signed in', async () => {
    await asked(SHUT);
    const before = session.askSession();
    const signedIn = session.signIn('Ada', 'seven ducks in a row');
    const [get, post] = waiting.splice(0);
    expect(post!.method).toBe('POST');
    post!.answer(200, ADA);
    await signedIn;
    get!.answer(200, SHUT);
    await before;
    expect(session.person.value?.name).toBe('Ada');
  });

  test('nobody is signed in by what was asked before they signed out', async () => {
    await asked(ADA);
    const before = session.askSession();
    const signedOut = session.signOut();
    const [get, gone] = waiting.splice(0);
    gone!.answer(200, undefined);
    await signedOut;
    get!.answer(200, ADA);
    await before;
    expect(session.isShut.value).toBe(true);
  });
});

test('too many tries come with how long to wait', async () => {
  const tried = session.signIn('Ada', 'a wrong passphrase').catch((error: unknown) => error);
  const problem = { type: 'about:blank', status: 429, code: 'too-many-tries', title: 'Too many' };
  waiting.shift()!.answer(429, problem, { 'retry-after': '42' });
  const error = await tried;
  expect(error).toBeInstanceOf(ApiProblem);
  expect(error).toMatchObject({ code: 'too-many-tries', waitS: 42 });
});

test.for([
  [401, 'sign-in-wanted'],
  [403, 'right-missing'],
] as const)('after a %i it is asked who is signed in', async ([status, code]) => {
  const done = acknowledge('a', {}).catch((error: unknown) => error);
  waiting.shift()!.answer(status, { type: 'about:blank', status, code, title: 'Refused' });
  const error = (await done) as ApiProblem;
  expect(error.code).toBe(code);
  if (code === 'right-missing') expect(error.message).toBe(TEXTS.problem.rightMissing);
  expect(waiting.map(({ method }) => method)).toContain('GET');
  for (const { answer } of waiting) answer(200, SHUT);
  await vi.waitFor(() => expect(session.isShut.value).toBe(true));
});
