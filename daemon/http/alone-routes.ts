import type { FastifyPluginAsyncZod } from 'fastify-type-provider-zod';
import { z } from 'zod';
import { type Alone, aloneBodySchema, aloneByBodySchema, aloneSchema } from '../../shared/wire/reach.ts';
import { isoTime } from '../../shared/wire/time.ts';
import { askedMsOf, tellsMsOf, type WorksAlone } from '../reach/ledger.ts';
import type { Teller } from '../reach/teller.ts';
import { type ActionBodies, newAction } from '../watch/actions.ts';
import type { Watch } from '../watch/watch.ts';
import type { Acting } from './acting.ts';
import type { Operations } from './operations.ts';
import { Problem } from './problem.ts';

const vesselParams = z.object({ vessel: z.string() });

/** 'I am at the vessel: ask me, and tell somebody where I do not answer.' */
export const aloneRoutes: FastifyPluginAsyncZod<{
  watch: Watch;
  acting: Acting;
  operations: Operations;
  teller: Teller;
}> = async (app, { watch, acting, operations, teller }) => {
  const act = <Name extends 'alone-begun' | 'alone-answered' | 'alone-ended'>(
    name: string,
    action: Name,
    more: Omit<ActionBodies[Name], 'vessel'>,
    by: string | undefined,
  ): Promise<Alone | null> =>
    acting.oneAtATime(async () => {
      const { site, vessel } = operations.findVessel(name);
      const known = site.ledger.aloneAt(vessel);
      if (action !== 'alone-begun' && known === undefined)
        throw new Problem('alone-unknown', `nobody works alone at ${name}`);
      // Whoever was told that no answer came may end it; nobody else says of another that they are well.
      const mayEnd = action === 'alone-ended' && known?.unanswered === true;
      if (known !== undefined && by !== undefined && known.by !== by && !mayEnd)
        throw new Problem('alone-other', `${known.by} works alone at ${vessel}: that is theirs to say`);
      const body = { vessel, ...more } as ActionBodies[Name];
      await acting.commit(site.site, [newAction(action, body, acting.done({ by }))]);
      teller.look();
      const alone = site.ledger.aloneAt(vessel);
      return alone === undefined ? null : aloneAnswer(site.site, alone);
    });

  app.get(
    '/api/v1/alone',
    { schema: { response: { 200: z.object({ alone: z.array(aloneSchema) }) } } },
    async () => ({
      alone: watch
        .sites()
        .flatMap(({ site, ledger }) => ledger.alone().map((alone) => aloneAnswer(site, alone))),
    }),
  );

  app.post(
    '/api/v1/vessels/:vessel/alone',
    { schema: { params: vesselParams, body: aloneBodySchema, response: { 200: aloneSchema } } },
    async ({ params, body: { by, ...wanted } }) => {
      if (wanted.tell === by) throw new Problem('way-missing', 'tell: name somebody who is not there');
      if (!teller.canReach(wanted.tell))
        throw new Problem('way-missing', `tell: there is no way to reach ${wanted.tell}: set one up first`);
      return (await act(params.vessel, 'alone-begun', wanted, by))!;
    },
  );

  app.post(
    '/api/v1/vessels/:vessel/alone/answer',
    { schema: { params: vesselParams, body: aloneByBodySchema, response: { 200: aloneSchema } } },
    async ({ params, body }) => (await act(params.vessel, 'alone-answered', {}, body.by))!,
  );

  app.delete(
    '/api/v1/vessels/:vessel/alone',
    { schema: { params: vesselParams, querystring: aloneByBodySchema, response: { 204: z.null() } } },
    async ({ params, query }, reply) => {
      await act(params.vessel, 'alone-ended', {}, query.by);
      return reply.code(204).send(null);
    },
  );
};

const aloneAnswer = (site: string, alone: WorksAlone): Alone => ({
  site,
  vessel: alone.vessel,
  by: alone.by,
  tell: alone.tell,
  everyMinutes: alone.everyMinutes,
  answerMinutes: alone.answerMinutes,
  begun: isoTime(alone.begunMs),
  asks: isoTime(askedMsOf(alone)),
  tells: isoTime(tellsMsOf(alone)),
  unanswered: alone.unanswered,
});
