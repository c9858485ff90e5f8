import type { FastifyPluginAsyncZod } from 'fastify-type-provider-zod';
import { z } from 'zod';
import { balanceOf } from '../../shared/batch/balance.ts';
import { costOf } from '../../shared/batch/cost.ts';
import { yearsOf } from '../../shared/batch/fuel.ts';
import { yieldOf } from '../../shared/batch/yield.ts';
import {
  batchBalanceSchema,
  pricesSchema,
  yearsQuerySchema,
  yearsSchema,
} from '../../shared/wire/balance.ts';
import { type Batch, batchesQuerySchema, batchSchema } from '../../shared/wire/batch.ts';
import type { Stage } from '../../shared/wire/names.ts';
import type { Centre } from '../forward/centre.ts';
import type { Watch } from '../watch/watch.ts';
import type { Operations } from './operations.ts';
import { Problem } from './problem.ts';
import { queryTimeMs } from './query-time.ts';

interface FigureParts {
  watch: Watch;
  operations: Operations;
  centre: Centre;
}

/** What batches gave: lists of them, balances, and the fuel of a year. */
export const batchFigures: FastifyPluginAsyncZod<FigureParts> = async (
  app,
  { watch, operations, centre },
) => {
  app.get(
    '/api/v1/batches',
    {
      schema: {
        querystring: batchesQuerySchema,
        response: {
          200: z.object({
            batches: z.array(batchSchema),
            others: z.number().describe('How many more there are of those wanted'),
          }),
        },
      },
    },
    async ({ query: { from, to, ...query } }, reply) => {
      const fromMs = from === undefined ? Number.NEGATIVE_INFINITY : queryTimeMs('from', from);
      const toMs = to === undefined ? Number.POSITIVE_INFINITY : queryTimeMs('to', to);
      if (fromMs > toMs) throw new Problem('body-invalid', 'from is after to');
      const found = wantedBatches(batchesOf(query.site), { fromMs, toMs, ...query });
      const batches = newestOf(found, query.limit);
      // Put into words here: checked against their schema, a few hundred would hold everybody up for long.
      const body = JSON.stringify({ batches, others: found.length - batches.length });
      return reply.type('application/json; charset=utf-8').send(Buffer.from(body) as never);
    },
  );

  /** Of one site, or of all; the newest of each first. */
  const batchesOf = (site: string | undefined): Batch[] => {
    if (site === undefined)
      return [...watch.sites(), ...centre.sites()].flatMap(({ batches }) => batches.list());
    const found = watch.site(site) ?? centre.site(site);
    if (found === undefined) throw new Problem('site-unknown', `there is no site ${site}`);
    return found.batches.list();
  };

  app.get(
    '/api/v1/batches/:id/balance',
    {
      schema: {
        params: z.object({ id: z.string() }),
        querystring: pricesSchema,
        response: { 200: batchBalanceSchema },
      },
    },
    async ({ params: { id }, query }) => {
      const { site, batch } = operations.shownBatch(id);
      const balance = balanceOf(batch);
      return {
        batch: id,
        balance,
        yield: yieldOf(batch, balance, site.batches.list()),
        cost: costOf(balance, query),
      };
    },
  );

  app.get(
    '/api/v1/years',
    { schema: { querystring: yearsQuerySchema, response: { 200: yearsSchema } } },
    async ({ query: { site } }) => ({ years: yearsOf(batchesOf(site)) }),
  );
};

interface Wanted {
  fromMs: number;
  toMs: number;
  open?: 'true' | 'false' | undefined;
  stage?: Stage | undefined;
  text?: string | undefined;
}

function wantedBatches(batches: readonly Batch[], { fromMs, toMs, open, stage, text }: Wanted): Batch[] {
  const inName = text?.toLowerCase();
  return batches.filter((batch) => {
    const openedMs = Date.parse(batch.opened);
    return (
      openedMs >= fromMs &&
      openedMs <= toMs &&
      (open === undefined || batch.open === (open === 'true')) &&
      (stage === undefined || batch.stage === stage) &&
      (inName === undefined || batch.name.toLowerCase().includes(inName))
    );
  });
}

/** In the order given, those that were opened last, and all that are open. */
function newestOf(found: Batch[], limit: number): Batch[] {
  if (found.length <= limit) return found;
  const newest = new Set(
    found.toSorted((a, b) => Date.parse(b.opened) - Date.parse(a.opened)).slice(0, limit),
  );
  return found.filter((batch) => batch.open || newest.has(batch));
}
