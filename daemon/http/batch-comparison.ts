import type { FastifyPluginAsyncZod } from 'fastify-type-provider-zod';
import { beganMs, comparedBatch, missedOf } from '../../shared/batch/comparison.ts';
import type { Batch } from '../../shared/wire/batch.ts';
import {
  type ComparedBatch,
  type ComparedSeries,
  comparisonQuerySchema,
  comparisonSchema,
} from '../../shared/wire/comparison.ts';
import { MIXING_CHANNELS, type Stage } from '../../shared/wire/names.ts';
import type { BatchRecord } from '../../shared/wire/record.ts';
import type { ArrivalClock } from '../clock.ts';
import type { Records } from '../record/records.ts';
import { staysOf } from '../record/stays.ts';
import type { Store } from '../store/store.ts';
import type { SiteWatch } from '../watch/site-watch.ts';
import type { Watch } from '../watch/watch.ts';
import type { Operations } from './operations.ts';
import { Problem } from './problem.ts';

/** Points of a line that is laid over another. */
const COMPARED_POINTS = 500;
const MINUTE_MS = 60_000;

interface ComparisonParts {
  watch: Watch;
  store: Store;
  arrivals: ArrivalClock;
  operations: Operations;
  records: Records;
}

/** Two batches beside each other. */
export const batchComparison: FastifyPluginAsyncZod<ComparisonParts> = async (app, parts) => {
  const { operations, records, arrivals } = parts;

  app.get(
    '/api/v1/batches/compare',
    { schema: { querystring: comparisonQuerySchema, response: { 200: comparisonSchema } } },
    async ({ query }) => {
      const a = operations.shownBatch(query.a);
      const b = operations.shownBatch(query.b);
      const { align, aMs, bMs } = alignedAt(a.batch, b.batch, query.align);
      if (!records.hasRoom) throw new Problem('records-busy', 'try again in a moment');
      const [ofA, ofB] = await records.figures([query.a, query.b], arrivals.nowMs());
      const [sideA, sideB] = [await sideOf(parts, a.site, ofA!, aMs), await sideOf(parts, b.site, ofB!, bMs)];
      return { align, a: sideA, b: sideB, missed: missedOf(sideA, sideB) };
    },
  );
};

/** Where two batches are laid over each other; throws a `conditions-missing` where one has no such stage. */
function alignedAt(a: Batch, b: Batch, asked: Stage | undefined): { align: Stage; aMs: number; bMs: number } {
  const usual: readonly Stage[] = ['react', 'dose'];
  const stages = asked === undefined ? usual : [asked];
  for (const align of stages) {
    const [aMs, bMs] = [beganMs(a, align), beganMs(b, align)];
    if (aMs !== null && bMs !== null) return { align, aMs, bMs };
  }
  const lacking = stages.flatMap((stage) =>
    [a, b].filter((batch) => beganMs(batch, stage) === null).map((batch) => ({ stage, batch })),
  );
  throw new Problem(
    'conditions-missing',
    lacking.map(({ stage, batch }) => `${batch.name} (${batch.id}) has no ${stage}`).join(', '),
    { missing: lacking.map(({ stage }) => ({ what: `stage-${stage}`, has: 0, needs: 1 })) },
  );
}

async function sideOf(
  parts: ComparisonParts,
  site: SiteWatch,
  record: BatchRecord,
  alignedMs: number,
): Promise<ComparedBatch> {
  return comparedBatch(record, await seriesOf(parts, site.site, record.batch.id, alignedMs), alignedMs);
}

/** The liquid temperature and what tells of mixing, of each vessel while it was the batch's. */
async function seriesOf(
  { store, watch, arrivals }: ComparisonParts,
  site: string,
  batch: string,
  alignedMs: number,
): Promise<ComparedSeries[]> {
  const all: ComparedSeries[] = [];
  for (const { vessel, fromMs, toMs } of staysOf(await store.actions(site), batch, arrivals.nowMs())) {
    const mixing = MIXING_CHANNELS.find((channel) => watch.hasChannel(site, vessel, channel));
    for (const channel of ['liquid-temperature', ...(mixing === undefined ? [] : [mixing])]) {
      const query = { site, vessel, channel, fromMs, toMs, points: COMPARED_POINTS };
      const { t, stepMs, ...values } = await store.buckets(query);
      if (t.length === 0) continue;
      const minutes = t.map((ms) => (ms - alignedMs) / MINUTE_MS);
      all.push({ vessel, channel, minutes, stepMinutes: stepMs / MINUTE_MS, ...values });
    }
  }
  return all;
}
