import type { FastifyRequest } from 'fastify';
import type { FastifyPluginAsyncZod } from 'fastify-type-provider-zod';
import { z } from 'zod';
import { MOST_PICTURE_BYTES, PICTURE_TYPES } from '../../shared/wire/entries.ts';
import { forwardedSiteSchema, pictureSchema, placeSchema } from '../../shared/wire/forward.ts';
import { name } from '../../shared/wire/parts.ts';
import type { Access } from '../access/access.ts';
import type { Centre } from '../forward/centre.ts';
import { photographHash } from '../store/photograph-hash.ts';
import { pictureOf, pictureType } from './photographs.ts';
import { Problem } from './problem.ts';

/** A seal has the readings of an hour, at most some 50,000 entries: without a bound a site could fill the memory. */
const MOST_SEAL_BYTES = 64 * 1024 * 1024;
/** A thousand vessels with some alarms each. */
const MOST_PICTURE_JSON_BYTES = 8 * 1024 * 1024;
const SEAL_TYPE = 'application/octet-stream';

interface Parts {
  access: Access;
  centre: Centre;
}

const siteParams = z.object({ site: name });

/** What a daemon that forwards calls; its token is for its sites and for nothing else. */
export const forwardedRoutes: FastifyPluginAsyncZod<Parts> = async (app, { access, centre }) => {
  app.get(
    '/api/v1/forwarded',
    { schema: { response: { 200: z.object({ sites: z.array(forwardedSiteSchema) }) } } },
    async () => ({ sites: centre.sites().map((site) => centre.statusOf(site)) }),
  );

  /** Before megabytes are taken in for nothing. */
  const letIn = async ({ headers, params }: FastifyRequest): Promise<void> => {
    const forwarder = access.forwarder(headers.authorization);
    if (forwarder === null) throw new Problem('forwarder-refused', 'send the token of a forwarder');
    const { site } = params as { site: string };
    if (!forwarder.sites.includes(site))
      throw new Problem('site-of-another', `${forwarder.name} may not forward ${site}`);
  };
  const config = { right: null };

  app.get(
    '/api/v1/forwarded/:site',
    { config, onRequest: letIn, schema: { params: siteParams, response: { 200: placeSchema } } },
    async ({ params }) => centre.place(params.site),
  );

  app.put(
    '/api/v1/forwarded/:site/picture',
    {
      config,
      onRequest: letIn,
      bodyLimit: MOST_PICTURE_JSON_BYTES,
      schema: { params: siteParams, body: pictureSchema, response: { 200: placeSchema } },
    },
    async ({ params, body }) => centre.takePicture(params.site, body),
  );

  await app.register(async (binary) => {
    binary.removeAllContentTypeParsers();
    binary.addContentTypeParser(
      [SEAL_TYPE, ...PICTURE_TYPES],
      { parseAs: 'buffer', bodyLimit: MOST_SEAL_BYTES },
      async (_: unknown, body: Buffer) => body,
    );

    binary.put(
      '/api/v1/forwarded/:site/seals/:from',
      {
        config,
        onRequest: letIn,
        bodyLimit: MOST_SEAL_BYTES,
        schema: {
          params: siteParams.extend({ from: z.string() }),
          consumes: [SEAL_TYPE],
          body: z.unknown().describe('A seal, as the site’s store gives it'),
          response: { 200: placeSchema },
        },
      },
      async ({ params, body }) => {
        if (!Buffer.isBuffer(body)) throw new Problem('body-invalid', 'the body is empty');
        return centre.takeSeal((params as { site: string }).site, body);
      },
    );

    binary.put(
      '/api/v1/forwarded/:site/photographs/:sha256',
      {
        config,
        onRequest: letIn,
        bodyLimit: MOST_PICTURE_BYTES,
        schema: {
          params: siteParams.extend({ sha256: z.string() }),
          consumes: [...PICTURE_TYPES],
          body: z.unknown().describe('The picture, byte for byte'),
          response: { 200: placeSchema },
        },
      },
      async ({ params, headers, body }) => {
        const { site, sha256 } = params as { site: string; sha256: string };
        const type = pictureType(headers['content-type']);
        if (!Buffer.isBuffer(body)) throw new Problem('body-invalid', 'the body is empty');
        pictureOf(type, body);
        if (photographHash(body) !== sha256)
          throw new Problem('body-invalid', 'the photograph is not the one that is named');
        return centre.takePhotograph(site, { sha256, type, content: body });
      },
    );
  });
};
