import type { FastifyPluginAsyncZod } from 'fastify-type-provider-zod';
import { z } from 'zod';
import {
  drawBodySchema,
  drawSchema,
  lotNoteBodySchema,
  lotNoteSchema,
  lotSchema,
  lotsQuerySchema,
  newLotBodySchema,
  undoDrawBodySchema,
} from '../../shared/wire/lots.ts';
import type { LotOperations } from './lot-operations.ts';

const idParams = z.object({ id: z.string() });

/** Lots, what is noted of them, and what batches draw. */
export const lotRoutes: FastifyPluginAsyncZod<{ lots: LotOperations }> = async (app, { lots }) => {
  app.post(
    '/api/v1/lots',
    { schema: { body: newLotBodySchema, response: { 201: lotSchema } } },
    async (request, reply) => reply.code(201).send(await lots.addLot(request.body)),
  );

  app.get(
    '/api/v1/lots',
    { schema: { querystring: lotsQuerySchema, response: { 200: z.object({ lots: z.array(lotSchema) }) } } },
    async (request) => ({ lots: lots.lots(request.query) }),
  );

  app.get(
    '/api/v1/lots/:id',
    { schema: { params: idParams, response: { 200: lotSchema } } },
    async (request) => lots.findLot(request.params.id).lot,
  );

  app.post(
    '/api/v1/lots/:id/notes',
    { schema: { params: idParams, body: lotNoteBodySchema, response: { 201: lotNoteSchema } } },
    async (request, reply) => reply.code(201).send(await lots.addNote(request.params.id, request.body)),
  );

  app.post(
    '/api/v1/batches/:id/draws',
    { schema: { params: idParams, body: drawBodySchema, response: { 201: drawSchema } } },
    async (request, reply) => reply.code(201).send(await lots.draw(request.params.id, request.body)),
  );

  app.post(
    '/api/v1/batches/:id/draws/:draw/undo',
    {
      schema: {
        params: z.object({ id: z.string(), draw: z.string() }),
        body: undoDrawBodySchema,
        response: { 200: drawSchema },
      },
    },
    ({ params, body }) => lots.undoDraw(params.id, params.draw, body),
  );
};
