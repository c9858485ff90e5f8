import type { FastifyPluginAsyncZod } from 'fastify-type-provider-zod';
import { z } from 'zod';
import { newTemplateBodySchema, retireBodySchema, templateSchema } from '../../shared/wire/templates.ts';
import type { TemplateOperations } from './template-operations.ts';

/** Usual plans, to start batches from. */
export const templateRoutes: FastifyPluginAsyncZod<{ templates: TemplateOperations }> = async (
  app,
  { templates },
) => {
  app.post(
    '/api/v1/templates',
    { schema: { body: newTemplateBodySchema, response: { 201: templateSchema } } },
    async (request, reply) => reply.code(201).send(await templates.keep(request.body)),
  );

  app.get(
    '/api/v1/templates',
    { schema: { response: { 200: z.object({ templates: z.array(templateSchema) }) } } },
    async () => ({ templates: templates.list() }),
  );

  app.post(
    '/api/v1/templates/:id/retire',
    {
      schema: {
        params: z.object({ id: z.string() }),
        body: retireBodySchema,
        response: { 200: templateSchema },
      },
    },
    ({ params, body }) => templates.retire(params.id, body.by),
  );
};
