import { isIP } from 'node:net';
import { stringifySetCookie } from 'cookie';
import type { FastifyReply, FastifyRequest } from 'fastify';
import type { FastifyPluginAsyncZod } from 'fastify-type-provider-zod';
import { z } from 'zod';
import {
  accessNoteSchema,
  passphraseBodySchema,
  peopleSchema,
  personBodySchema,
  publisherBodySchema,
  publisherSchema,
  secretSchema,
  signInBodySchema,
  tokenBodySchema,
  tokenSchema,
} from '../../shared/wire/access.ts';
import { name, person } from '../../shared/wire/parts.ts';
import { sessionSchema } from '../../shared/wire/session.ts';
import { type Access, AccessRefused, sessionCookie } from '../access/access.ts';
import type { AccessNotes } from '../access/notes.ts';
import { Problem } from './problem.ts';

/** A browser forgets it no later than the daemon does, s. */
const COOKIE_S = 180 * 24 * 3600;
/** Of who signed in and what was changed, the newest. */
const MOST_NOTES = 200;
/** Who changes something on the machine itself, while nobody has to sign in. */
const ANYBODY = 'somebody on the machine';

const nameParams = z.object({ name: person });
const deviceParams = z.object({ name });

/** Signing in and out, and who is let in at all. */
export const accessRoutes: FastifyPluginAsyncZod<{ access: Access; notes: AccessNotes }> = async (
  app,
  { access, notes },
) => {
  /** Makes a change; what it may not be is a problem. */
  const changed = async <T>(change: () => T | Promise<T>): Promise<T> => {
    try {
      return await change();
    } catch (error) {
      if (error instanceof AccessRefused) throw new Problem(error.code, error.message);
      throw error;
    } finally {
      await notes.changes();
    }
  };
  /** What a proxy says may be any text. */
  const addressOf = ({ ip, socket }: FastifyRequest): string =>
    isIP(ip) === 0 ? (socket.remoteAddress ?? 'unknown') : ip;
  const by = ({ caller }: FastifyRequest): string => caller?.name ?? ANYBODY;
  /** Of whoever is signed in themself: a script could give itself another token, and never end. */
  const ownName = ({ caller }: FastifyRequest): string => {
    if (caller?.person == null) throw new Problem('person-unknown', 'nobody is signed in');
    if (caller.session === null) throw new Problem('right-missing', 'a script may not do this');
    return caller.person;
  };

  /** Notes that somebody was not let in, and is it. */
  const refused = async (request: FastifyRequest, who: string, detail: string): Promise<Problem> => {
    const known = access.isPerson(who) ? who : null;
    await notes.note('sign-in-refused', { person: known, from: addressOf(request) }, 'someone');
    return new Problem('sign-in-refused', detail);
  };
  /** The same after too many tries; of all that follow only some are noted. */
  const turnedAway = async (
    request: FastifyRequest,
    reply: FastifyReply,
    who: string,
    waitMs: number,
  ): Promise<Problem> => {
    const from = addressOf(request);
    const known = access.isPerson(who) ? who : null;
    if (access.isTurnedAwayNoted(from))
      await notes.note('sign-in-refused', { person: known, from, tooMany: true }, 'someone');
    const seconds = Math.ceil(waitMs / 1000);
    reply.header('retry-after', String(seconds));
    return new Problem('too-many-tries', `try again in ${seconds} s`);
  };

  // ---- signing in and out ----

  app.get(
    '/api/v1/session',
    { config: { right: null }, schema: { response: { 200: sessionSchema } } },
    async ({ headers, protocol }) => {
      const caller = access.caller(headers, protocol === 'https');
      return {
        wanted: access.isWanted,
        person: caller?.person == null ? null : { name: caller.person, rights: [...caller.rights] },
      };
    },
  );

  app.post(
    '/api/v1/session',
    { config: { right: null }, schema: { body: signInBodySchema, response: { 200: sessionSchema } } },
    async (request, reply) => {
      const { name: who, passphrase } = request.body;
      const signedIn = await access.signIn(who, passphrase, addressOf(request));
      if ('waitMs' in signedIn) throw await turnedAway(request, reply, who, signedIn.waitMs);
      if ('wrong' in signedIn)
        throw await refused(request, who, 'name and passphrase do not belong together');
      setCookie(reply, request, signedIn.secret);
      await notes.note('signed-in', { from: addressOf(request) }, who);
      return { wanted: true, person: signedIn.person };
    },
  );

  app.delete(
    '/api/v1/session',
    { config: { right: null }, schema: { response: { 204: z.null() } } },
    async (request, reply) => {
      const caller = access.caller(request.headers, request.protocol === 'https');
      if (caller !== null && caller.session !== null) {
        access.signOut(caller);
        await notes.note('signed-out', {}, caller.name!);
      }
      setCookie(reply, request, null);
      return reply.code(204).send(null);
    },
  );

  app.put(
    '/api/v1/session/passphrase',
    { config: { right: 'look' }, schema: { body: passphraseBodySchema, response: { 204: z.null() } } },
    async (request, reply) => {
      const { old, passphrase } = request.body;
      const own = ownName(request);
      const result = await changed(() => access.changePassphrase(own, old, passphrase, addressOf(request)));
      if (typeof result === 'object') throw await turnedAway(request, reply, own, result.waitMs);
      if (!result) throw await refused(request, own, 'the passphrase until now is another');
      return reply.code(204).send(null);
    },
  );

  app.get(
    '/api/v1/access/history',
    {
      config: { right: 'keep' },
      schema: { response: { 200: z.object({ history: z.array(accessNoteSchema) }) } },
    },
    async () => ({ history: await notes.newest(MOST_NOTES) }),
  );

  // ---- people ----

  app.get(
    '/api/v1/people',
    { config: { right: 'keep' }, schema: { response: { 200: peopleSchema } } },
    async () => ({ people: access.people() }),
  );

  app.put(
    '/api/v1/people/:name',
    {
      config: { right: 'keep' },
      schema: { params: nameParams, body: personBodySchema, response: { 204: z.null() } },
    },
    async (request, reply) => {
      const { params, body } = request;
      await changed(() => access.setPerson(params.name, { ...body, keepsOne: true }, by(request)));
      return reply.code(204).send(null);
    },
  );

  app.delete(
    '/api/v1/people/:name',
    { config: { right: 'keep' }, schema: { params: nameParams, response: { 204: z.null() } } },
    async (request, reply) => {
      const { params } = request;
      await changed(() => access.removePerson(params.name, by(request), { keepsOne: true }));
      return reply.code(204).send(null);
    },
  );

  // ---- tokens of scripts ----

  app.get(
    '/api/v1/tokens',
    {
      config: { right: 'look' },
      schema: { response: { 200: z.object({ tokens: z.array(tokenSchema) }) } },
    },
    async ({ caller }) => {
      const all = caller?.rights.includes('keep');
      return { tokens: access.tokens().filter((token) => all || token.person === caller?.person) };
    },
  );

  app.post(
    '/api/v1/tokens',
    { config: { right: 'look' }, schema: { body: tokenBodySchema, response: { 201: secretSchema } } },
    async (request, reply) => {
      const own = ownName(request);
      const missing = request.body.rights.find((right) => !request.caller!.rights.includes(right));
      if (missing !== undefined) throw new Problem('right-missing', `you have no right to ${missing}`);
      const secret = await changed(() => access.addToken(own, request.body));
      return reply.code(201).send({ secret });
    },
  );

  app.delete(
    '/api/v1/tokens/:person/:name',
    {
      config: { right: 'look' },
      schema: { params: z.object({ person, name }), response: { 204: z.null() } },
    },
    async (request, reply) => {
      const { params, caller } = request;
      if (caller?.person !== null) ownName(request);
      if (params.person !== caller?.person && !caller?.rights.includes('keep'))
        throw new Problem('right-missing', 'it is somebody else’s');
      await changed(() => access.removeToken(params.person, params.name, by(request)));
      return reply.code(204).send(null);
    },
  );

  // ---- devices that may publish ----

  app.get(
    '/api/v1/publishers',
    {
      config: { right: 'keep' },
      schema: { response: { 200: z.object({ publishers: z.array(publisherSchema) }) } },
    },
    async () => ({ publishers: access.publishers() }),
  );

  app.put(
    '/api/v1/publishers/:name',
    {
      config: { right: 'keep' },
      schema: { params: deviceParams, body: publisherBodySchema, response: { 200: secretSchema } },
    },
    async (request) => {
      const { params, body } = request;
      return { secret: await changed(() => access.setPublisher(params.name, body.site, by(request))) };
    },
  );

  app.delete(
    '/api/v1/publishers/:name',
    { config: { right: 'keep' }, schema: { params: deviceParams, response: { 204: z.null() } } },
    async (request, reply) => {
      await changed(() => access.removePublisher(request.params.name, by(request)));
      return reply.code(204).send(null);
    },
  );
};

function setCookie(reply: FastifyReply, request: FastifyRequest, secret: string | null): void {
  const isSecure = request.protocol === 'https';
  const cookie = stringifySetCookie(sessionCookie(isSecure), secret ?? '', {
    httpOnly: true,
    sameSite: 'strict',
    path: '/',
    maxAge: secret === null ? 0 : COOKIE_S,
    secure: isSecure,
  });
  reply.header('set-cookie', cookie);
}
