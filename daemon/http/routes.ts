import { Readable } from 'node:stream';
import type { FastifyPluginAsyncZod } from 'fastify-type-provider-zod';
import { z } from 'zod';
import { planAnswerSchema } from '../../shared/plan/answer.ts';
import { computePlan } from '../../shared/plan/compute.ts';
import { readPlanRequest } from '../../shared/plan/read-request.ts';
import { planRequestSchema } from '../../shared/plan/request.ts';
import { alarmMeasuresQuerySchema, alarmMeasuresSchema } from '../../shared/wire/alarm-measures.ts';
import {
  acknowledgeBodySchema,
  alarmSchema,
  alarmsQuerySchema,
  bucketsSchema,
  conditionsSchema,
  csvQuerySchema,
  rawReadingsSchema,
  readingsQuerySchema,
  refusedSchema,
  shelveBodySchema,
  siteBodySchema,
  typedReadingAnswerSchema,
  typedReadingBodySchema,
  vesselBodySchema,
  vesselSchema,
} from '../../shared/wire/api.ts';
import { batchSchema, moveBodySchema, newBatchBodySchema, stageBodySchema } from '../../shared/wire/batch.ts';
import { entryBodySchema, entrySchema } from '../../shared/wire/entries.ts';
import { STAGES } from '../../shared/wire/names.ts';
import { PAPERS, RECORD_FORMATS, recordSchema } from '../../shared/wire/record.ts';
import { type ForwardHealth, healthSchema, siteSchema } from '../../shared/wire/set-up.ts';
import { isoTime } from '../../shared/wire/time.ts';
import type { Access } from '../access/access.ts';
import type { AccessNotes } from '../access/notes.ts';
import type { Broker } from '../broker/broker.ts';
import type { ArrivalClock } from '../clock.ts';
import type { Centre } from '../forward/centre.ts';
import type { RefusedList } from '../intake/refused-list.ts';
import type { SharedChannels } from '../intake/shared-channels.ts';
import type { Viewers } from '../live/viewers.ts';
import type { Records } from '../record/records.ts';
import type { DailyBackup } from '../store/daily-backup.ts';
import type { Recorder } from '../store/recorder.ts';
import type { Sealing } from '../store/sealing.ts';
import { CSV_COLUMNS, type CsvPart, type CsvPlace, type ReadingsQuery, type Store } from '../store/store.ts';
import { VERSION } from '../version.ts';
import { alarmAnswer } from '../watch/alarm-answer.ts';
import { alarmMeasures } from '../watch/alarm-measures.ts';
import type { Watch } from '../watch/watch.ts';
import { accessRoutes } from './access-routes.ts';
import type { Acting } from './acting.ts';
import { alarmRoutes } from './alarm-routes.ts';
import { aloneRoutes } from './alone-routes.ts';
import { batchComparison } from './batch-comparison.ts';
import { batchFigures } from './batch-figures.ts';
import { forwardedRoutes } from './forwarded-routes.ts';
import { labelRoutes } from './labels.ts';
import type { LotOperations } from './lot-operations.ts';
import { lotRoutes } from './lot-routes.ts';
import { metricsText } from './metrics.ts';
import type { Operations } from './operations.ts';
import { PAGE_SECURITY_POLICY } from './page-policy.ts';
import { photographRoutes } from './photographs.ts';
import { Problem, planned } from './problem.ts';
import { queryTimeMs, rangeOf } from './query-time.ts';
import { type ReachParts, reachRoutes } from './reach-routes.ts';
import { setUpRoutes } from './set-up-routes.ts';
import type { TemplateOperations } from './template-operations.ts';
import { templateRoutes } from './template-routes.ts';
import { thermometerRoutes } from './thermometer-routes.ts';
import { vesselHistory } from './vessel-history.ts';

export interface RouteParts {
  watch: Watch;
  store: Store;
  recorder: Recorder;
  arrivals: ArrivalClock;
  refused: RefusedList;
  senders: Pick<SharedChannels, 'newest'>;
  operations: Operations;
  lots: LotOperations;
  templates: TemplateOperations;
  viewers: Viewers;
  broker: () => Broker;
  backup: () => DailyBackup['status'] | null;
  sealing: Pick<Sealing, 'failure'>;
  records: Records;
  access: Access;
  notes: AccessNotes;
  acting: Acting;
  reach: ReachParts;
  centre: Centre;
  /** How forwarding goes; null where nothing is to be. */
  forward: () => ForwardHealth;
}

const HOUR_MS = 3_600_000;
const USUAL_POINTS = 500;
const USUAL_ALARMS = 200;
/** Alarms are measured over 30 days at least, say the standards, … */
const USUAL_MEASURED_MS = 30 * 24 * HOUR_MS;
/** … and over a year and a bit at most: the answer has a line a day. */
const MOST_MEASURED_MS = 400 * 24 * HOUR_MS;
const METRICS_TYPE = 'application/openmetrics-text';
const CSV_TYPE = 'text/csv';
const RECORD_TYPES = {
  json: 'application/json; charset=utf-8',
  html: 'text/html; charset=utf-8',
  pdf: 'application/pdf',
  csv: `${CSV_TYPE}; charset=utf-8; header=present`,
};

const JSON_TYPE = 'application/json; charset=utf-8';

const idParams = z.object({ id: z.string() });
const vesselParams = z.object({ vessel: z.string() });

/** Every call of the API; the OpenAPI document is made from what stands here. */
export const routes: FastifyPluginAsyncZod<RouteParts> = async (app, parts) => {
  const { watch, store, recorder, arrivals, refused, operations, broker, records, centre } = parts;
  const shownSites = () => [...watch.sites(), ...centre.sites()];

  app.get(
    '/api/v1/health',
    { config: { right: null }, schema: { response: { 200: healthSchema, 503: healthSchema } } },
    async (_, reply) => {
      const nowMs = arrivals.nowMs();
      const { kind, connected, listens } = broker();
      const because = [
        ...(connected ? [] : ['the broker cannot be reached']),
        ...(recorder.failure === null ? [] : [`the store cannot be written: ${recorder.failure}`]),
      ];
      const oldest = recorder.oldestWaitingMs();
      // Not ready would be too much: whatever restarts a daemon that is not would help nobody by it.
      const reach = parts.reach.teller.health();
      const unreadable = parts.access.unreadableBecause;
      return reply.code(because.length === 0 ? 200 : 503).send({
        ready: because.length === 0,
        because,
        version: VERSION,
        broker: { kind, connected, listens },
        store: {
          writing: recorder.failure === null,
          because: recorder.failure,
          unsealedBecause: parts.sealing.failure,
        },
        clock: { now: isoTime(nowMs), steps: arrivals.steps.count, lastStepMs: arrivals.steps.lastMs },
        backup: parts.backup(),
        // Where the folder lies is nobody's business who need not sign in; the log and the 503 of other calls say more.
        access: {
          readable: unreadable === null,
          because: unreadable === null ? null : 'access.json cannot be read',
        },
        reach,
        forward: parts.forward(),
        oldestUnstoredMs: oldest === null ? null : Math.max(0, nowMs - oldest),
      });
    },
  );

  // ---- sites and vessels ----

  app.get(
    '/api/v1/sites',
    { schema: { response: { 200: z.object({ sites: z.array(siteSchema) }) } } },
    async () => ({
      sites: [
        ...watch.sites().map(({ site }) => operations.siteAnswer(site)),
        ...centre.sites().flatMap(({ answer }) => answer ?? []),
      ],
    }),
  );

  app.put(
    '/api/v1/sites/:site',
    {
      config: { right: 'keep' },
      schema: { params: z.object({ site: z.string() }), body: siteBodySchema, response: { 200: siteSchema } },
    },
    ({ params, body, caller }) => operations.stateSite(params.site, body, caller?.name ?? undefined),
  );

  await app.register(setUpRoutes, parts);
  await app.register(thermometerRoutes, parts);
  await app.register(accessRoutes, parts);
  await app.register(forwardedRoutes, parts);

  app.get(
    '/api/v1/vessels',
    { schema: { response: { 200: z.object({ vessels: z.array(vesselSchema) }) } } },
    async (_, reply) => {
      const vessels = shownSites().flatMap((site) => site.vessels(arrivals.nowMs()));
      // Sent as it is, past the serializer, which takes an answer apart by its schema first: pages ask for it often.
      return reply.type(JSON_TYPE).send(Buffer.from(JSON.stringify({ vessels })) as never);
    },
  );

  app.get(
    '/api/v1/vessels/:vessel',
    { schema: { params: vesselParams, response: { 200: vesselSchema } } },
    async (request) => operations.view(request.params.vessel),
  );

  app.put(
    '/api/v1/vessels/:vessel',
    { schema: { params: vesselParams, body: vesselBodySchema, response: { 200: vesselSchema } } },
    (request) => operations.stateVessel(request.params.vessel, request.body),
  );

  app.get(
    '/api/v1/vessels/:vessel/readings',
    {
      schema: {
        params: vesselParams,
        querystring: readingsQuerySchema,
        response: { 200: z.union([bucketsSchema, rawReadingsSchema]) },
      },
    },
    async (request, reply) => {
      const { site, vessel } = operations.shownVessel(request.params.vessel);
      const { channel, points = USUAL_POINTS, as } = request.query;
      if (as !== undefined && points !== 'raw') throw new Problem('body-invalid', 'as wants points=raw');
      const query = {
        site: site.site,
        vessel,
        channel,
        ...rangeOf(request.query, arrivals.nowMs()),
        ...(as !== undefined && { corrections: site.thermometers.corrections(vessel, channel) }),
      };
      // Ready-made: sent as it is, past the serializer.
      return reply.type(JSON_TYPE).send(Buffer.from(await store.readingsJson({ ...query, points })) as never);
    },
  );

  app.get(
    '/api/v1/vessels/:vessel/readings.csv',
    {
      schema: {
        params: vesselParams,
        querystring: csvQuerySchema,
        response: {
          200: { description: CSV_COLUMNS.join(','), content: { [CSV_TYPE]: { schema: z.string() } } },
        },
      },
    },
    async (request, reply) => {
      const { site, vessel } = operations.shownVessel(request.params.vessel);
      const query = {
        site: site.site,
        vessel,
        channel: request.query.channel,
        ...rangeOf(request.query, arrivals.nowMs()),
      };
      const name = `${site.site}-${vessel}-${query.channel}.csv`;
      return reply
        .type(`${CSV_TYPE}; charset=utf-8; header=present`)
        .header('content-disposition', `attachment; filename="${name}"`)
        .send(Readable.from(csvOf(store, query), { objectMode: false }) as never);
    },
  );

  app.post(
    '/api/v1/vessels/:vessel/readings',
    {
      schema: {
        params: vesselParams,
        body: typedReadingBodySchema,
        response: { 200: typedReadingAnswerSchema, 201: typedReadingAnswerSchema },
      },
    },
    async (request, reply) => {
      const typed = await operations.typeReading(request.params.vessel, request.body);
      return reply.code(typed.result === 'stored' ? 201 : 200).send({ ...typed, at: isoTime(typed.at) });
    },
  );

  await app.register(vesselHistory, parts);

  // ---- alarms ----

  app.get(
    '/api/v1/alarms',
    {
      schema: {
        querystring: alarmsQuerySchema,
        response: { 200: z.object({ alarms: z.array(alarmSchema) }) },
      },
    },
    async (request) => {
      const { standing, vessel: name, limit = USUAL_ALARMS } = request.query;
      const of = name === undefined ? undefined : operations.shownVessel(name);
      if (standing === 'true') {
        const nowMs = arrivals.nowMs();
        const views =
          of === undefined ? shownSites().flatMap((site) => site.vessels(nowMs)) : [operations.view(name!)];
        return { alarms: views.flatMap(({ alarms }) => alarms) };
      }
      const { alarm, from, to } = request.query;
      const where = of === undefined ? {} : { site: of.site.site, vessel: of.vessel };
      const fromMs = from === undefined ? undefined : queryTimeMs('from', from);
      const toMs = to === undefined ? undefined : queryTimeMs('to', to);
      const found = await store.alarms({ ...where, alarm, fromMs, toMs, limit });
      return { alarms: operations.asTheyAre(found.map(alarmAnswer)) };
    },
  );

  app.get(
    '/api/v1/alarms/measures',
    { schema: { querystring: alarmMeasuresQuerySchema, response: { 200: alarmMeasuresSchema } } },
    async (request) => {
      const { from, to } = request.query;
      const nowMs = arrivals.nowMs();
      const toMs = to === undefined ? nowMs : Math.min(queryTimeMs('to', to), nowMs);
      const fromMs = from === undefined ? toMs - USUAL_MEASURED_MS : queryTimeMs('from', from);
      if (fromMs < 0) throw new Problem('body-invalid', 'nothing was measured before 1970');
      if (fromMs > toMs) throw new Problem('body-invalid', 'from is after to');
      if (toMs - fromMs > MOST_MEASURED_MS) throw new Problem('body-invalid', 'that is more than 400 days');
      return alarmMeasures(await store.alarmHistory({ fromMs, toMs }));
    },
  );

  await app.register(alarmRoutes, parts);

  app.post(
    '/api/v1/alarms/:id/acknowledge',
    { schema: { params: idParams, body: acknowledgeBodySchema, response: { 204: z.null() } } },
    async (request, reply) => {
      await operations.acknowledge(request.params.id, request.body);
      return reply.code(204).send(null);
    },
  );

  app.post(
    '/api/v1/alarms/:id/shelve',
    { schema: { params: idParams, body: shelveBodySchema, response: { 204: z.null() } } },
    async (request, reply) => {
      await operations.shelve(request.params.id, request.body);
      return reply.code(204).send(null);
    },
  );

  // ---- plans and batches ----

  app.post(
    '/api/v1/plans',
    {
      // It changes nothing.
      config: { right: 'look' },
      schema: { body: planRequestSchema, response: { 200: planAnswerSchema } },
      // Says more of what is wrong than the schema's own check after it.
      preValidation: async ({ body }) => void planned(() => readPlanRequest(body)),
    },
    async (request) => planned(() => computePlan(request.body)),
  );

  await app.register(batchFigures, parts);
  await app.register(batchComparison, parts);

  app.get(
    '/api/v1/batches/:id',
    { schema: { params: idParams, response: { 200: batchSchema } } },
    async (request) => operations.shownBatch(request.params.id).batch,
  );

  app.post(
    '/api/v1/batches',
    { schema: { body: newBatchBodySchema, response: { 201: batchSchema } } },
    async (request, reply) => reply.code(201).send(await operations.openBatch(request.body)),
  );

  app.post(
    '/api/v1/batches/:id/stage',
    { schema: { params: idParams, body: stageBodySchema, response: { 200: batchSchema } } },
    (request) => operations.enterStage(request.params.id, request.body),
  );

  app.get(
    '/api/v1/batches/:id/conditions',
    {
      schema: {
        params: idParams,
        querystring: z.strictObject({ stage: z.enum(STAGES), vessel: z.string().optional() }),
        response: { 200: conditionsSchema },
      },
    },
    async (request) => operations.conditions(request.params.id, request.query.stage, request.query.vessel),
  );

  app.post(
    '/api/v1/batches/:id/move',
    { schema: { params: idParams, body: moveBodySchema, response: { 200: batchSchema } } },
    (request) => operations.moveLiquid(request.params.id, request.body),
  );

  app.post(
    '/api/v1/batches/:id/entries',
    { schema: { params: idParams, body: entryBodySchema, response: { 201: entrySchema } } },
    async (request, reply) =>
      reply.code(201).send(await operations.addEntry(request.params.id, request.body)),
  );

  app.get(
    '/api/v1/batches/:id/record',
    {
      schema: {
        params: idParams,
        querystring: z.strictObject({
          format: z.enum(['csv', ...RECORD_FORMATS]).default('html'),
          paper: z.enum(PAPERS).default('a4').describe('Of a PDF'),
        }),
        response: {
          200: {
            description: 'The record of a batch; as CSV every reading',
            content: {
              'application/json': { schema: recordSchema },
              'text/html': { schema: z.string() },
              'application/pdf': { schema: z.string() },
              [CSV_TYPE]: { schema: z.string() },
            },
          },
        },
      },
    },
    async (request, reply) => {
      const { id } = request.params;
      const { format, paper } = request.query;
      const { batch } = operations.shownBatch(id);
      if (!records.hasRoom) throw new Problem('records-busy', 'try again in a moment');
      const shown = format === 'html' ? 'inline' : 'attachment';
      reply
        .type(RECORD_TYPES[format])
        .header('content-disposition', `${shown}; filename="batch-${batch.id}.${format}"`);
      // It brings its own style, and nothing else.
      if (format === 'html') reply.header('content-security-policy', PAGE_SECURITY_POLICY);
      if (format === 'csv') return reply.send(records.csv(id) as never);
      const made = await records.make(id, format, paper, arrivals.nowMs());
      if (made === null) throw new Problem('batch-unknown', `there is no batch ${id}`);
      return reply.send(Buffer.from(made) as never);
    },
  );

  await app.register(lotRoutes, { lots: parts.lots });
  await app.register(templateRoutes, { templates: parts.templates });
  await app.register(photographRoutes, { operations, store });
  await app.register(labelRoutes, { operations });

  // ---- reaching people ----

  await app.register(reachRoutes, parts);
  await app.register(aloneRoutes, { watch, acting: parts.acting, operations, teller: parts.reach.teller });

  // ---- the daemon itself ----

  app.get('/api/v1/refused', { schema: { response: { 200: refusedSchema } } }, async () => ({
    refused: refused.list().map(({ firstMs, lastMs, ...topic }) => ({
      ...topic,
      first: isoTime(firstMs),
      last: isoTime(lastMs),
    })),
    others: refused.others,
  }));

  app.get(
    '/metrics',
    {
      schema: {
        response: {
          200: { description: 'OpenMetrics 1.0', content: { [METRICS_TYPE]: { schema: z.string() } } },
        },
      },
    },
    async (_, reply) => reply.type(`${METRICS_TYPE}; version=1.0.0; charset=utf-8`).send(metricsText(parts)),
  );

  // It stays as it is, is large, and anybody may ask for it again and again.
  let document: Buffer | undefined;
  app.get('/api/v1/openapi.json', { schema: { response: { 200: z.unknown() } } }, async (_request, reply) => {
    document ??= Buffer.from(JSON.stringify(app.swagger()));
    return reply.type(JSON_TYPE).send(document);
  });
};

/** A range of readings as CSV, in parts, each fetched when the one before has gone. */
async function* csvOf(store: Store, query: ReadingsQuery): AsyncGenerator<Uint8Array> {
  yield Buffer.from(`${CSV_COLUMNS.join(',')}\n`);
  for (let after: CsvPlace | null = null; ; ) {
    const { csv, endsAt }: CsvPart = await store.readingsCsv({ ...query, after });
    if (csv.length > 0) yield csv;
    if (endsAt === null) return;
    after = endsAt;
  }
}
