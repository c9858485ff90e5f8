import { createHash } from 'node:crypto';
import type { FastifyRequest } from 'fastify';
import type { FastifyPluginAsyncZod } from 'fastify-type-provider-zod';
import { z } from 'zod';
import { person as personName } from '../../shared/wire/parts.ts';
import {
  answerSchema,
  MOST_REACHED,
  messagesSchema,
  type Reach,
  type ReachedPerson,
  reachBodySchema,
  reachSchema,
  type Subscription,
  subscriptionSchema,
  testWayBodySchema,
  testWaySchema,
  wishesBodySchema,
} from '../../shared/wire/reach.ts';
import { isoTime } from '../../shared/wire/time.ts';
import type { Caller } from '../access/access.ts';
import type { Clock } from '../clock.ts';
import type { Answers } from '../reach/answers.ts';
import { waysOf } from '../reach/duty.ts';
import type { ReachKeys } from '../reach/keys.ts';
import { NoRoom, SecretMissing, type SettingsFile } from '../reach/settings.ts';
import type { Teller } from '../reach/teller.ts';
import { newAction } from '../watch/actions.ts';
import type { Watch } from '../watch/watch.ts';
import type { Acting } from './acting.ts';
import { Problem } from './problem.ts';

export interface ReachParts {
  settings: SettingsFile;
  keys: ReachKeys;
  teller: Teller;
  answers: Answers;
  publicUrl: string | undefined;
  clock: Pick<Clock, 'monotonicMs'>;
  /** Who may sign in. */
  people: () => readonly { name: string }[];
}

const nameParams = z.object({ name: personName });
const tokenParams = z.object({ token: z.string().max(200) });
const byQuery = z.strictObject({ by: personName.optional() });
const MOST_MESSAGES = 200;
/** Tests for a person in a minute: each is a message to an address of anybody's choice, and stands in the history. */
const MOST_TESTS = 10;
const MINUTE_MS = 60_000;

/** Who is told what and by which way; and messages answered by their link. */
export const reachRoutes: FastifyPluginAsyncZod<{ watch: Watch; acting: Acting; reach: ReachParts }> = async (
  app,
  { watch, acting, reach },
) => {
  const { settings, keys, teller, answers, publicUrl, clock } = reach;
  /** When each person's ways were last tried out, by the monotonic clock: one set back would shut them out for as long. */
  const tested = new Map<string, number[]>();

  /** To who sets things up all of it; to anybody else what is their own: the rest are other people's addresses. */
  const answer = (caller: Caller | null): Reach => {
    const { smtp: server, people: all, nextAfterMinutes, night } = settings.get();
    const isKeeper = caller?.rights.includes('keep');
    const smtp = isKeeper ? server : null;
    const people = all.filter(({ name }) => isKeeper || name === caller?.person);
    const known = new Set(all.map(({ name }) => name));
    return {
      smtp: smtp && { ...without(smtp, 'password'), hasPassword: smtp.password !== null },
      nextAfterMinutes,
      night,
      publicUrl: publicUrl ?? null,
      pushKey: keys.pair.publicKey,
      people: people.map(({ post, push, ...person }) => ({
        ...person,
        post: post && { url: post.url, hasSecret: true },
        push: push.map((browser) => ({ id: browserId(browser), label: browser.label })),
        ways: waysOf({ post, push, ...person }, { smtp: server }).map((way) => ({
          way,
          last: teller.lastTry(person.name, way),
        })),
      })),
      others: reach
        .people()
        .map(({ name }) => name)
        .filter((name) => !known.has(name) && (isKeeper || name === caller?.person)),
    };
  };

  /** Changes the file, and says in every history that somebody did: not what, since that is an address or a secret. */
  const change = (
    { caller }: FastifyRequest,
    person: string | null,
    by: string | undefined,
    run: () => void,
  ): Promise<Reach> =>
    acting.oneAtATime(async () => {
      try {
        run();
      } catch (error) {
        if (error instanceof SecretMissing)
          throw new Problem('body-invalid', 'post.secret: a secret is needed to sign with');
        if (error instanceof NoRoom)
          throw new Problem('no-room', `${MOST_REACHED} people are told already; remove some first`);
        throw error;
      }
      const done = acting.done({ by });
      for (const { site } of watch.sites())
        await acting.commit(site, [newAction('reach-changed', { person }, done)]);
      teller.look();
      return answer(caller);
    });

  /** What is one's own, or anybody's for who sets people up. */
  const own = async ({ params, caller }: { params: unknown; caller: Caller | null }): Promise<void> => {
    if (caller?.rights.includes('keep')) return;
    // Not by a script that may only look: it could send its person's warnings elsewhere.
    if (caller?.person === (params as { name: string }).name && caller.token === null) return;
    throw new Problem('right-missing', 'it is not yours to set');
  };
  const ownOnly = { config: { right: 'look' }, preHandler: own } as const;

  const found = (name: string): ReachedPerson => {
    const person = settings.person(name);
    if (person === undefined) throw new Problem('person-unknown', `nobody is set up as ${name}`);
    return person;
  };

  app.get('/api/v1/reach', { schema: { response: { 200: reachSchema } } }, async ({ caller }) =>
    answer(caller),
  );

  app.put(
    '/api/v1/reach',
    { config: { right: 'keep' }, schema: { body: reachBodySchema, response: { 200: reachSchema } } },
    async (request) => change(request, null, request.body.by, () => settings.setGeneral(request.body)),
  );

  app.put(
    '/api/v1/reach/people/:name',
    {
      ...ownOnly,
      schema: {
        params: nameParams,
        querystring: byQuery,
        body: wishesBodySchema,
        response: { 200: reachSchema },
      },
    },
    async (request) => {
      const { name } = request.params;
      return change(request, name, request.query.by, () => settings.setPerson(name, request.body));
    },
  );

  app.delete(
    '/api/v1/reach/people/:name',
    { ...ownOnly, schema: { params: nameParams, querystring: byQuery, response: { 200: reachSchema } } },
    async (request) => {
      const { name } = request.params;
      found(name);
      return change(request, name, request.query.by, () => settings.removePerson(name));
    },
  );

  app.post(
    '/api/v1/reach/people/:name/browsers',
    {
      ...ownOnly,
      schema: {
        params: nameParams,
        querystring: byQuery,
        body: subscriptionSchema,
        response: { 200: reachSchema },
      },
    },
    async (request) => {
      const { name } = request.params;
      return change(request, name, request.query.by, () => settings.addBrowser(name, request.body));
    },
  );

  app.delete(
    '/api/v1/reach/people/:name/browsers/:id',
    {
      ...ownOnly,
      schema: {
        params: z.object({ name: personName, id: z.string() }),
        querystring: byQuery,
        response: { 200: reachSchema },
      },
    },
    async (request) => {
      const { name, id } = request.params;
      found(name);
      return change(request, name, request.query.by, () =>
        settings.removeBrowsers(name, (browser) => browserId(browser) === id),
      );
    },
  );

  app.post(
    '/api/v1/reach/people/:name/test',
    { ...ownOnly, schema: { params: nameParams, body: testWayBodySchema, response: { 200: testWaySchema } } },
    async ({ params: { name }, body: { way } }, reply) => {
      const person = found(name);
      if (!waysOf(person, settings.get()).includes(way))
        throw new Problem('way-missing', `${name} has no ${way} set up`);
      const nowMs = clock.monotonicMs();
      const lately = (tested.get(name) ?? []).filter((atMs) => nowMs - atMs < MINUTE_MS);
      if (lately.length >= MOST_TESTS) {
        const seconds = Math.ceil((lately[0]! + MINUTE_MS - nowMs) / 1000);
        reply.header('retry-after', String(seconds));
        throw new Problem('too-many-tries', `try again in ${seconds} s`);
      }
      tested.set(name, [...lately, nowMs]);
      return teller.test(person, way);
    },
  );

  app.get('/api/v1/reach/messages', { schema: { response: { 200: messagesSchema } } }, async () => ({
    messages: teller
      .toldSites()
      .flatMap(({ site, ledger }) => ledger.messages().map((message) => ({ site, ...message })))
      .sort((a, b) => b.atMs - a.atMs)
      .slice(0, MOST_MESSAGES)
      .map(({ id, atMs, site, to, about, answeredMs, tries }) => ({
        id,
        at: isoTime(atMs),
        site,
        to,
        about: about.kind,
        alarms:
          about.kind === 'alarms'
            ? about.alarms.map(({ vessel, number }) => `${site}.${vessel}.${number}`)
            : [],
        answered: answeredMs === null ? null : isoTime(answeredMs),
        tries: tries.map(({ atMs, ...one }) => ({ at: isoTime(atMs), ...one })),
      })),
  }));

  // ---- open without a sign-in: whoever has the link was sent it ----

  app.get(
    '/api/v1/answers/:token',
    { config: { right: null }, schema: { params: tokenParams, response: { 200: answerSchema } } },
    async ({ params }) => answers.get(params.token),
  );

  app.post(
    '/api/v1/answers/:token',
    {
      config: { right: null },
      schema: { params: tokenParams, body: z.strictObject({}), response: { 200: answerSchema } },
    },
    async ({ params }) => answers.give(params.token),
  );
};

/** A name for a browser that tells nothing of its address. */
const browserId = ({ endpoint }: Subscription): string =>
  createHash('sha256').update(endpoint).digest('hex').slice(0, 16);

function without<T extends object, K extends keyof T>(all: T, key: K): Omit<T, K> {
  const { [key]: _, ...rest } = all;
  return rest;
}
