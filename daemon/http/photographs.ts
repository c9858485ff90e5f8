import type { FastifyPluginAsyncZod } from 'fastify-type-provider-zod';
import { z } from 'zod';
import {
  entrySchema,
  MOST_PICTURE_BYTES,
  type PhotographWhat,
  PICTURE_TYPES,
  type PictureType,
  photographQuerySchema,
} from '../../shared/wire/entries.ts';
import { NoPicture, readPicture } from '../pictures/read-picture.ts';
import { photographHash } from '../store/photograph-hash.ts';
import type { Store } from '../store/store.ts';
import type { Operations } from './operations.ts';
import { Problem } from './problem.ts';
import { queryTimeMs } from './query-time.ts';

const ENDINGS: Record<PictureType, string> = { 'image/jpeg': 'jpg', 'image/png': 'png' };
/** It never changes: its entry names its hash. */
const CACHE = 'private, max-age=31536000, immutable';
const SECURITY_POLICY = "default-src 'none'; sandbox";

/** Photographs of a batch: the body of a request or an answer is the picture itself. */
export const photographRoutes: FastifyPluginAsyncZod<{ operations: Operations; store: Store }> = async (
  app,
  { operations, store },
) => {
  app.removeAllContentTypeParsers();
  app.addContentTypeParser(
    [...PICTURE_TYPES],
    { parseAs: 'buffer', bodyLimit: MOST_PICTURE_BYTES },
    async (_: unknown, body: Buffer) => body,
  );

  app.post(
    '/api/v1/batches/:id/photographs',
    {
      bodyLimit: MOST_PICTURE_BYTES,
      schema: {
        params: z.object({ id: z.string() }),
        querystring: photographQuerySchema,
        consumes: [...PICTURE_TYPES],
        body: z.unknown().describe('The picture, byte for byte; at most 4 MiB'),
        response: { 201: entrySchema },
      },
      // Before megabytes are taken in for nothing.
      onRequest: async ({ headers, params }) => {
        pictureType(headers['content-type']);
        operations.findBatch(params.id);
      },
    },
    async (request, reply) => {
      const type = pictureType(request.headers['content-type']);
      const content = request.body;
      if (!Buffer.isBuffer(content)) throw new Problem('body-invalid', 'the body is empty');
      const { width, height } = pictureOf(type, content);
      const sha256 = photographHash(content);
      const { text, at, ...said } = request.query;
      const what: PhotographWhat = {
        kind: 'photograph',
        text,
        type,
        bytes: content.length,
        width,
        height,
        sha256,
      };
      const atMs = at === undefined ? undefined : queryTimeMs('at', at);
      const entry = await operations.addEntry(
        request.params.id,
        { ...said, at: atMs, what },
        { sha256, type, content },
      );
      return reply.code(201).send(entry);
    },
  );

  app.get(
    '/api/v1/batches/:id/photographs/:entry',
    {
      schema: {
        params: z.object({ id: z.string(), entry: z.string() }),
        response: {
          200: {
            description: 'The picture, as it came',
            content: Object.fromEntries(PICTURE_TYPES.map((type) => [type, { schema: z.unknown() }])),
          },
        },
      },
    },
    async (request, reply) => {
      const { id, entry: wanted } = request.params;
      const what = operations.shownBatch(id).batch.entries.find((entry) => entry.id === wanted)?.what;
      if (what?.kind !== 'photograph') throw new Problem('entry-unknown', `there is no photograph ${wanted}`);
      const found = await store.photograph(what.sha256);
      if (found === null) throw new Problem('entry-unknown', `the photograph ${wanted} is not in the store`);
      return reply
        .type(found.type)
        .header('content-disposition', `inline; filename="photograph-${wanted}.${ENDINGS[found.type]}"`)
        .header('content-security-policy', SECURITY_POLICY)
        .header('cache-control', CACHE)
        .send(Buffer.from(found.content) as never);
    },
  );
};

/** Throws `not-picture` for any other type. */
export function pictureType(header: string | undefined): PictureType {
  const [type] = (header ?? '').toLowerCase().split(';') as [string];
  const known = PICTURE_TYPES.find((one) => one === type.trim());
  if (known === undefined)
    throw new Problem('not-picture', `the body is ${header ?? 'of no type'}: ${PICTURE_TYPES.join(' or ')}`);
  return known;
}

export function pictureOf(type: PictureType, content: Buffer): { width: number; height: number } {
  try {
    return readPicture(type, content);
  } catch (error) {
    if (error instanceof NoPicture) throw new Problem('body-invalid', error.message);
    throw error;
  }
}
