import type { FastifyPluginAsyncZod } from 'fastify-type-provider-zod';
import { z } from 'zod';
import { vesselOfDevice } from '../../shared/engine/devices.ts';
import { type Device, devicesSchema, testWarningBodySchema } from '../../shared/wire/set-up.ts';
import { isoTime } from '../../shared/wire/time.ts';
import type { SharedChannels } from '../intake/shared-channels.ts';
import type { Viewers } from '../live/viewers.ts';
import type { SiteWatch } from '../watch/site-watch.ts';
import type { Watch } from '../watch/watch.ts';
import type { Operations } from './operations.ts';

/** What a person sets up and tries out: which devices there are, and whether warnings arrive. */
export const setUpRoutes: FastifyPluginAsyncZod<{
  watch: Watch;
  operations: Operations;
  viewers: Viewers;
  senders: Pick<SharedChannels, 'newest'>;
}> = async (app, { watch, operations, viewers, senders }) => {
  app.get('/api/v1/devices', { schema: { response: { 200: devicesSchema } } }, async () => ({
    devices: watch.sites().flatMap(devicesOf),
    senders: senders.newest(),
  }));

  app.post(
    '/api/v1/sites/:site/test-warning',
    {
      schema: {
        params: z.object({ site: z.string() }),
        body: testWarningBodySchema,
        response: { 204: z.null() },
      },
    },
    async (request, reply) => {
      const { by, mark } = request.body;
      const sent = await operations.testWarning(request.params.site, by);
      viewers.testWarning({ ...sent, ...(mark !== undefined && { mark }) });
      return reply.code(204).send(null);
    },
  );
};

function devicesOf({ site, presence, state }: SiteWatch): Device[] {
  const vessels = Object.keys(state.vessels);
  return [...presence].map(([device, said]) => {
    const vessel = vesselOfDevice(device, vessels) ?? null;
    return {
      site,
      device,
      presence: said.presence,
      since: isoTime(said.sinceMs),
      vessel,
      newest: newestSent(state, vessel === null ? vessels : [vessel]),
    };
  });
}

function newestSent({ vessels }: SiteWatch['state'], names: readonly string[]): Device['newest'] {
  const sent = names.flatMap((vessel) =>
    Object.entries(vessels[vessel]!.channels)
      .filter(([, { newest }]) => !newest.typed)
      .map(([channel, { newest }]) => ({ vessel, channel, ...newest })),
  );
  const newest = sent.reduce<(typeof sent)[number] | null>(
    (latest, one) => (latest === null || one.arrivedMs > latest.arrivedMs ? one : latest),
    null,
  );
  if (newest === null) return null;
  const { vessel, channel, atMs, value, sound } = newest;
  return { vessel, channel, at: isoTime(atMs), value, sound };
}
