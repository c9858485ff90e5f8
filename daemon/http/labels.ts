import type { FastifyPluginAsyncZod } from 'fastify-type-provider-zod';
import { z } from 'zod';
import { LABELLED, labelsHtml } from '../record/labels.ts';
import type { Operations } from './operations.ts';
import { PAGE_SECURITY_POLICY } from './page-policy.ts';

/** Labels of a batch, to print. */
export const labelRoutes: FastifyPluginAsyncZod<{ operations: Operations }> = async (app, { operations }) => {
  app.get(
    '/api/v1/batches/:id/labels',
    {
      schema: {
        params: z.object({ id: z.string() }),
        querystring: z.strictObject({
          what: z.enum(LABELLED),
          temperature: z.enum(['c', 'f']).default('c').describe('°C or °F'),
        }),
        response: {
          200: {
            description: 'A page to print, A4 or Letter',
            content: { 'text/html': { schema: z.string() } },
          },
        },
      },
    },
    async (request, reply) => {
      const { batch } = operations.shownBatch(request.params.id);
      const { what, temperature } = request.query;
      const page = labelsHtml(batch, what, temperature === 'f' ? 'F' : 'C');
      return reply
        .type('text/html; charset=utf-8')
        .header('content-security-policy', PAGE_SECURITY_POLICY)
        .send(Buffer.from(page) as never);
    },
  );
};
