import { createHash } from 'node:crypto';
import type { FastifyPluginAsyncZod } from 'fastify-type-provider-zod';
import { z } from 'zod';
import { person as personName } from '../../shared/wire/parts.ts';
import {
  answerSchema,
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
import type { Answers } from '../reach/answers.ts';
import { waysOf } from '../reach/duty.ts';
import type { ReachKeys } from '../reach/keys.ts';
import { SecretMissing, type SettingsFile } from '../reach/settings.ts';
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
  /** Who may sign in. */
  people: () => readonly { name: string }[];
}

const nameParams = z.object({ name: personName });
const tokenParams = z.object({ token: z.string().max(200) });
const byQuery = z.strictObject({ by: personName.optional() });
const MOST_MESSAGES = 200;

/** Who is told what and by which way; and messages answered by their link. */
export const reachRoutes: FastifyPluginAsyncZod<{ watch: Watch; acting: Acting; reach: ReachParts }> = async (
  app,
  { watch, acting, reach },
) => {
  const { settings, keys, teller, answers, publicUrl } = reach;

  const answer = (): Reach => {
    const { smtp, people, nextAfterMinutes, night } = settings.get();
    const known = new Set(people.map(({ name }) => name));
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
        ways: waysOf({ post, push, ...person }, { smtp }).map((way) => ({
          way,
          last: teller.lastTry(person.name, way),
        })),
      })),
      others: reach
        .people()
        .map(({ name }) => name)
        .filter((name) => !known.has(name)),
    };
  };

  /** Changes the file, and says in every history that somebody did: not what, since that is an address or a secret. */
  const change = (person: string | null, by: string | undefined, run: () => void): Promise<Reach> =>
    acting.oneAtATime(async () => {
      try {
        run();
      } catch (error) {
        if (error instanceof SecretMissing)
          throw new Problem('body-invalid', 'post.secret: a secret is needed to sign with');
        throw error;
      }
      const done = acting.done({ by });
      for (const { site } of watch.sites())
        await acting.commit(site, [newAction('reach-changed', { person }, done)]);
      teller.look();
      return answer();
    });

  const found = (name: string): ReachedPerson => {
    const person = settings.person(name);
    if (person === undefined) throw new Problem('person-unknown', `nobody is set up as ${name}`);
    return person;
  };

  app.get('/api/v1/reach', { schema: { response: { 200: reachSchema } } }, async () => answer());

  app.put(
    '/api/v1/reach',
    { schema: { body: reachBodySchema, response: { 200: reachSchema } } },
    async ({ body }) => change(null, body.by, () => settings.setGeneral(body)),
  );

  app.put(
    '/api/v1/reach/people/:name',
    {
      schema: {
        params: nameParams,
        querystring: byQuery,
        body: wishesBodySchema,
        response: { 200: reachSchema },
      },
    },
    async ({ params: { name }, query, body }) => change(name, query.by, () => settings.setPerson(name, body)),
  );

  app.delete(
    '/api/v1/reach/people/:name',
    { schema: { params: nameParams, querystring: byQuery, response: { 200: reachSchema } } },
    async ({ params: { name }, query }) => {
      found(name);
      return change(name, query.by, () => settings.removePerson(name));
    },
  );

  app.post(
    '/api/v1/reach/people/:name/browsers',
    {
      schema: {
        params: nameParams,
        querystring: byQuery,
        body: subscriptionSchema,
        response: { 200: reachSchema },
      },
    },
    async ({ params: { name }, query, body }) =>
      change(name, query.by, () => settings.addBrowser(name, body)),
  );

  app.delete(
    '/api/v1/reach/people/:name/browsers/:id',
    {
      schema: {
        params: z.object({ name: personName, id: z.string() }),
        querystring: byQuery,
        response: { 200: reachSchema },
      },
    },
    async ({ params: { name, id }, query }) => {
      found(name);
      return change(name, query.by, () =>
        settings.removeBrowsers(name, (browser) => browserId(browser) === id),
      );
    },
  );

  app.post(
    '/api/v1/reach/people/:name/test',
    { schema: { params: nameParams, body: testWayBodySchema, response: { 200: testWaySchema } } },
    async ({ params: { name }, body: { way } }) => {
      const person = found(name);
      if (!waysOf(person, settings.get()).includes(way))
        throw new Problem('way-missing', `${name} has no ${way} set up`);
      return teller.test(person, way);
    },
  );

  app.get('/api/v1/reach/messages', { schema: { response: { 200: messagesSchema } } }, async () => ({
    messages: watch
      .sites()
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
    { schema: { params: tokenParams, response: { 200: answerSchema } } },
    async ({ params }) => answers.get(params.token),
  );

  app.post(
    '/api/v1/answers/:token',
    { schema: { params: tokenParams, body: z.strictObject({}), response: { 200: answerSchema } } },
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
