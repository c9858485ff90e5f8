import type { FastifyPluginAsyncZod } from 'fastify-type-provider-zod';
import { z } from 'zod';
import {
  checkBodySchema,
  checkSchema,
  checksSchema,
  thermometerSchema,
  withdrawBodySchema,
} from '../../shared/wire/thermometers.ts';
import type { Watch } from '../watch/watch.ts';
import type { Acting } from './acting.ts';
import type { Operations } from './operations.ts';
import { ThermometerOperations } from './thermometer-operations.ts';

const params = z.object({ vessel: z.string(), channel: z.string() });
/** What rules judge by is changed by it. */
const config = { right: 'keep' } as const;

/** Thermometers, and how they are checked. */
export const thermometerRoutes: FastifyPluginAsyncZod<{
  watch: Watch;
  acting: Acting;
  operations: Operations;
}> = async (app, parts) => {
  const thermometers = new ThermometerOperations(parts);

  app.get(
    '/api/v1/thermometers',
    { schema: { response: { 200: z.object({ thermometers: z.array(thermometerSchema) }) } } },
    async () => ({ thermometers: thermometers.list() }),
  );

  app.get(
    '/api/v1/vessels/:vessel/thermometers/:channel/checks',
    { schema: { params, response: { 200: checksSchema } } },
    async (request) => ({ checks: thermometers.checks(request.params.vessel, request.params.channel) }),
  );

  app.post(
    '/api/v1/vessels/:vessel/thermometers/:channel/checks',
    { config, schema: { params, body: checkBodySchema, response: { 201: checkSchema } } },
    async (request, reply) => {
      const { vessel, channel } = request.params;
      return reply.code(201).send(await thermometers.check(vessel, channel, request.body));
    },
  );

  app.post(
    '/api/v1/vessels/:vessel/thermometers/:channel/withdraw',
    { config, schema: { params, body: withdrawBodySchema, response: { 200: thermometerSchema } } },
    ({ params: { vessel, channel }, body }) => thermometers.withdraw(vessel, channel, body),
  );
};
