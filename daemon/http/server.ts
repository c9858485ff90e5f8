import { existsSync } from 'node:fs';
import type { IncomingMessage } from 'node:http';
import type { Duplex } from 'node:stream';
import type { Server as TlsServer } from 'node:tls';
import { fileURLToPath } from 'node:url';
import fastifyStatic from '@fastify/static';
import fastifySwagger from '@fastify/swagger';
import Fastify, { type FastifyInstance, type FastifyReply, type FastifyRequest } from 'fastify';
import {
  jsonSchemaTransform,
  serializerCompiler,
  validatorCompiler,
  type ZodTypeProvider,
} from 'fastify-type-provider-zod';
import type { Logger } from 'pino';
import { z } from 'zod';
import { problemSchema } from '../../shared/wire/api.ts';
import type { Right } from '../../shared/wire/session.ts';
import type { Access, Caller } from '../access/access.ts';
import { AccessError } from '../access/access-file.ts';
import type { Address } from '../config.ts';
import type { Viewers } from '../live/viewers.ts';
import { StoreError } from '../store/store.ts';
import type { Certificate } from '../tls/certificate.ts';
import { checkRequest, type OwnNames } from './guard.ts';
import { Problem, type ProblemCode } from './problem.ts';
import { type RouteParts, routes } from './routes.ts';
import { Turns } from './turns.ts';

declare module 'fastify' {
  interface FastifyRequest {
    /** Who asks; null where nobody has to be signed in for it. */
    caller: Caller | null;
  }
  interface FastifyContextConfig {
    /** What a caller must have the right to; null: nobody has to be signed in. To look, or to work where it changes something, unless a route says so. */
    right?: Right | null;
  }
}

/** The largest body, bytes. */
const MOST_BODY_BYTES = 1024 * 1024;
/** A client that is slower than this with its request ties up a socket, ms. */
const REQUEST_TIMEOUT_MS = 30_000;
/** How often it is looked for such clients: at Node.js's own pace they would stay for twice as long, ms. */
const REQUESTS_CHECKED_MS = 5000;

/** What is wrong with a request may quote it, and a request may be large. */
const MOST_DETAIL = 500;

/** Browsers come by TLS alone from then on (RFC 6797). Never told with a certificate that they do not trust: nobody could go on. */
const HSTS = 'max-age=31536000';

const CONTENT_SECURITY_POLICY = [
  "default-src 'self'",
  "script-src 'self'",
  // What is placed by a script is placed through the object model, which this does not forbid.
  "style-src 'self'",
  "img-src 'self'",
  "object-src 'none'",
  "connect-src 'self'",
  "frame-ancestors 'none'",
  "base-uri 'none'",
  "form-action 'self'",
].join('; ');

/** The build puts a hash of its content into the name of each of these: another content is another file. */
const HASHED = /[\\/]assets[\\/][^\\/]+-[\w-]{8}\.\w+$/;

function keepHashed(reply: FastifyReply, path: string): void {
  if (HASHED.test(path)) reply.header('cache-control', 'public, max-age=31536000, immutable');
}

/** Where the built page lies: beside the compiled daemon; from source (in tests) in the build's folder. */
const DASHBOARD = fileURLToPath(
  new URL(import.meta.url.endsWith('.ts') ? '../../dist/dashboard/' : '../dashboard/', import.meta.url),
);

/** Whether a request says that somebody else asks (RFC 7239, RFC 9110 7.6.3). */
const isForOthers = ({ headers }: FastifyRequest): boolean =>
  ['forwarded', 'x-forwarded-for', 'via'].some((name) => headers[name] !== undefined);

/** The HTTP API, the live socket and the page, ready to listen. */
export async function buildServer(
  parts: RouteParts & {
    viewers: Viewers;
    access: Access;
    own: OwnNames;
    trustsProxy: boolean;
    certificate: Certificate | null;
    isOwnCertificate: boolean;
    log: Logger;
  },
): Promise<FastifyInstance> {
  const { viewers, access, own, certificate, log } = parts;
  const answerProblem = (error: unknown, request: FastifyRequest, reply: FastifyReply) => {
    const problem = problemOf(error, log);
    if (problem.code === 'right-missing') {
      const { method, url, ip, headers } = request;
      log.warn(
        { person: access.caller(headers, request.protocol === 'https')?.name, method, url, ip },
        'refused: no right to it',
      );
    }
    // Bytes, since Fastify gives a text a charset, which this media type does not have.
    const body = Buffer.from(JSON.stringify(problem));
    return reply.code(problem.status).type('application/problem+json').send(body);
  };
  const app = Fastify({
    bodyLimit: MOST_BODY_BYTES,
    // Whoever is connected, and nobody before it: the rest of the line anybody may have written.
    trustProxy: parts.trustsProxy && ((_address: string, hop: number) => hop === 0),
    ...(certificate && { https: certificate.pair }),
    requestTimeout: REQUEST_TIMEOUT_MS,
    http: { connectionsCheckingInterval: REQUESTS_CHECKED_MS, headersTimeout: REQUEST_TIMEOUT_MS },
    routerOptions: { maxParamLength: 200 },
    forceCloseConnections: true,
    // What goes wrong before there is a route for the request.
    frameworkErrors: answerProblem,
  }).withTypeProvider<ZodTypeProvider>();
  app.setValidatorCompiler(validatorCompiler);
  app.setSerializerCompiler(serializerCompiler);

  const turns = new Turns(() => parts.recorder.oldestWaitingMs() !== null);
  app.addHook('onRequest', () => turns.next());

  let warnedOfProxy = false;
  app.addHook('onRequest', async (request, reply) => {
    reply.header('x-content-type-options', 'nosniff');
    reply.header('referrer-policy', 'no-referrer');
    reply.header('content-security-policy', CONTENT_SECURITY_POLICY);
    const changes = request.method !== 'GET' && request.method !== 'HEAD';
    if (request.protocol === 'https' && !parts.isOwnCertificate)
      reply.header('strict-transport-security', HSTS);
    checkRequest(request.raw, changes, own);
    if (!parts.trustsProxy && !warnedOfProxy && isForOthers(request) && !access.isWanted) {
      warnedOfProxy = true;
      log.warn('a proxy asks for others, who may do everything here: set up a person, and say --trust-proxy');
    }
    if (request.url.startsWith('/api/')) reply.header('cache-control', 'no-store');
    const right = rightFor(request, changes);
    request.caller =
      right === null ? null : callerWith(access, request.headers, request.protocol === 'https', right);
  });
  app.decorateRequest('caller', null);
  // Whoever is signed in did it, whatever the body says.
  app.addHook('preHandler', async (request) => {
    const changes = request.method !== 'GET' && request.method !== 'HEAD';
    const right = rightFor(request, changes);
    // Once more: a body may have taken long to come.
    if (right !== null && changes)
      request.caller = callerWith(access, request.headers, request.protocol === 'https', right);
    const { body, query, caller, routeOptions } = request;
    const { schema } = routeOptions;
    if (caller?.name == null) return;
    if (takesBy(schema?.body)) (body as { by?: string }).by = caller.name;
    if (takesBy(schema?.querystring)) (query as { by?: string }).by = caller.name;
  });
  // Only JSON comes in; Fastify would take text as well.
  app.removeContentTypeParser('text/plain');

  app.setErrorHandler(answerProblem);
  app.setNotFoundHandler((request) => {
    throw new Problem('not-found', `there is nothing at ${request.url}`);
  });

  await app.register(fastifySwagger, {
    openapi: {
      openapi: '3.1.0',
      info: {
        title: 'esterwatch',
        version: '1',
        description: 'Readings, alarms and batches of small biodiesel makers.',
      },
    },
    transform: documentRoute,
  });
  await app.register(routes, parts);
  if (existsSync(DASHBOARD)) await app.register(fastifyStatic, { root: DASHBOARD, setHeaders: keepHashed });

  certificate?.onChange((pair) => (app.server as unknown as TlsServer).setSecureContext(pair));
  app.server.on('upgrade', (request: IncomingMessage, socket: Duplex, head: Buffer) => {
    socket.on('error', () => socket.destroy());
    try {
      checkRequest(request, true, own);
      if (request.url?.split('?')[0] !== '/api/v1/live') {
        throw new Problem('not-found', 'there is no socket here');
      }
      const isSecure =
        certificate !== null ||
        (parts.trustsProxy && lastOf(request.headers['x-forwarded-proto']) === 'https');
      const caller = callerWith(access, request.headers, isSecure, 'look');
      viewers.accept(request, socket, head, () => access.isCallerStillIn(caller));
    } catch (error) {
      const { status } = problemOf(error, log);
      const answer = `HTTP/1.1 ${status} Refused\r\nConnection: close\r\nContent-Length: 0\r\n\r\n`;
      // It is no request any more, so no time-out of HTTP ends it.
      socket.end(answer, () => socket.destroy());
    }
  });
  return app as unknown as FastifyInstance;
}

/** The page's own files, which everybody may have. */
const PAGE_ROUTES = new Set(['/', '/*']);

/** What a request needs the right to; null: nothing, as the page's own files and what a route says so of. */
function rightFor({ url, routeOptions }: FastifyRequest, changes: boolean): Right | null {
  const { right } = routeOptions.config;
  if (right !== undefined) return right;
  // What is no route is looked for among the page's files, but for what would be one of the API.
  const isPage = routeOptions.url === undefined || PAGE_ROUTES.has(routeOptions.url);
  if (isPage && !/^\/+api(?![\w-])/i.test(url)) return null;
  return changes ? 'work' : 'look';
}

/** The last of a list in a header: the one that the nearest proxy wrote. */
const lastOf = (header: string | string[] | undefined): string | undefined =>
  [header].flat().at(-1)?.split(',').at(-1)?.trim();

/** @throws Problem `sign-in-wanted` (401), `right-missing` (403) */
function callerWith(
  access: Access,
  headers: IncomingMessage['headers'],
  isSecure: boolean,
  right: Right,
): Caller {
  const caller = access.caller(headers, isSecure);
  if (caller === null) throw new Problem('sign-in-wanted', 'sign in, or send the token of a script');
  if (!caller.rights.includes(right)) throw new Problem('right-missing', `this wants the right ${right}`);
  return caller;
}

/** Whether a body says who did it. */
function takesBy(schema: unknown): boolean {
  if (schema instanceof z.ZodObject) return 'by' in schema.shape;
  return schema instanceof z.ZodUnion && schema.options.every(takesBy);
}

/** A route for the OpenAPI document: what its schemas say, and that anything else is a problem. */
const documentRoute: typeof jsonSchemaTransform = (route) => {
  const { schema, url } = jsonSchemaTransform(route);
  const answers = schema.response as Record<string, unknown> | undefined;
  return { schema: { ...schema, response: { ...answers, default: PROBLEM_ANSWER } }, url };
};

const PROBLEM_ANSWER = {
  description: 'A problem, as RFC 9457 details it',
  content: { 'application/problem+json': { schema: z.toJSONSchema(problemSchema) } },
};

export async function listen(app: FastifyInstance, { host, port }: Address): Promise<number> {
  await app.listen({ host, port });
  const address = app.server.address();
  return typeof address === 'object' && address !== null ? address.port : port;
}

/** What Fastify says of a request that it cannot take, by its code. */
const FASTIFY_PROBLEMS: Record<string, ProblemCode> = {
  FST_ERR_MAX_PARAM_LENGTH: 'not-found',
  FST_ERR_VALIDATION: 'body-invalid',
  FST_ERR_CTP_BODY_TOO_LARGE: 'too-large',
  FST_ERR_CTP_INVALID_MEDIA_TYPE: 'not-json',
  FST_ERR_CTP_INVALID_JSON_BODY: 'body-invalid',
  FST_ERR_CTP_EMPTY_JSON_BODY: 'body-invalid',
  FST_ERR_CTP_INVALID_CONTENT_LENGTH: 'body-invalid',
};

function problemOf(error: unknown, log: Logger): Problem {
  if (error instanceof Problem) return error;
  if (error instanceof AccessError) return new Problem('access-unreadable', error.message);
  if (error instanceof StoreError) return new Problem('store-failing', error.message);
  const { code, message, statusCode } = error as { code?: string; message: string; statusCode?: number };
  const known = code === undefined ? undefined : FASTIFY_PROBLEMS[code];
  if (known !== undefined) return new Problem(known, message.slice(0, MOST_DETAIL));
  // The folder of the page forbids what lies outside; whether there is anything is not told.
  if (statusCode === 403 || statusCode === 404) return new Problem('not-found', 'there is nothing there');
  if (statusCode !== undefined && statusCode < 500) return new Problem('body-invalid', message);
  log.error({ err: error }, 'a request failed');
  return new Problem('internal', 'the daemon’s log says more');
}
