import type { FastifyPluginAsyncZod } from 'fastify-type-provider-zod';
import { z } from 'zod';
import { resolveWatchPlan } from '../../shared/plan/watch-plan.ts';
import { alarmWhySchema } from '../../shared/wire/alarm-why.ts';
import type { Alarm } from '../../shared/wire/api.ts';
import type { Batch } from '../../shared/wire/batch.ts';
import type { ArrivalClock } from '../clock.ts';
import type { Centre } from '../forward/centre.ts';
import type { Records } from '../record/records.ts';
import { staysOf } from '../record/stays.ts';
import type { Store } from '../store/store.ts';
import { alarmAnswer } from '../watch/alarm-answer.ts';
import type { Watch } from '../watch/watch.ts';
import type { Operations } from './operations.ts';
import { Problem } from './problem.ts';

const NDJSON_TYPE = 'application/x-ndjson';
const idParams = z.object({ id: z.string() });

interface AlarmParts {
  watch: Watch;
  store: Store;
  arrivals: ArrivalClock;
  operations: Operations;
  records: Records;
  centre: Centre;
}

/** Why an alarm came: what it went by, and the run in which it did. */
export const alarmRoutes: FastifyPluginAsyncZod<AlarmParts> = async (app, parts) => {
  const { watch, store, arrivals, operations, records, centre } = parts;

  app.get(
    '/api/v1/alarms/:id',
    { schema: { params: idParams, response: { 200: alarmWhySchema } } },
    async ({ params: { id } }) => {
      const alarm = await alarmOf(id);
      const batch = await batchOf(alarm);
      return {
        alarm,
        batch: batch && { id: batch.id, name: batch.name },
        plan: batch === null ? resolveWatchPlan() : batch.plan,
      };
    },
  );

  /** As it is now; one that was raised a moment ago is not stored yet. */
  const alarmOf = async (id: string): Promise<Alarm> => {
    const [site, vessel] = id.split('.') as [string, string?];
    const stored = await store.alarm(site, id);
    const [known] = operations.asTheyAre(stored === null ? [] : [alarmAnswer(stored)]);
    const found =
      known ??
      (watch.site(site) ?? centre.site(site))
        ?.vessel(vessel ?? '', arrivals.nowMs())
        ?.alarms.find((alarm) => alarm.id === id);
    if (found === undefined) throw new Problem('alarm-unknown', `there is no alarm ${id}`);
    return found;
  };

  /** The batch that the vessel was in when an alarm was raised; of two that meet then the later one. */
  const batchOf = async (alarm: Alarm): Promise<Batch | null> => {
    const atMs = Date.parse(alarm.at);
    const actions = await store.actions(alarm.site);
    const isOf = (batch: Batch): boolean =>
      staysOf(actions, batch.id, arrivals.nowMs()).some(
        ({ vessel, fromMs, toMs }) => vessel === alarm.vessel && fromMs <= atMs && atMs <= toMs,
      );
    const batches = (watch.site(alarm.site) ?? centre.site(alarm.site))?.batches.list() ?? [];
    return (
      batches
        .filter((batch) => isUnderWay(batch, atMs))
        .toSorted((a, b) => Date.parse(b.opened) - Date.parse(a.opened))
        .find(isOf) ?? null
    );
  };

  app.get(
    '/api/v1/batches/:id/run',
    {
      schema: {
        params: idParams,
        response: {
          200: {
            description: 'The recorded run of a batch, a line each, as `replay` reads it',
            content: { [NDJSON_TYPE]: { schema: z.string() } },
          },
        },
      },
    },
    async ({ params: { id } }, reply) => {
      const { batch } = operations.shownBatch(id);
      if (!records.hasRoom) throw new Problem('records-busy', 'try again in a moment');
      return reply
        .type(`${NDJSON_TYPE}; charset=utf-8`)
        .header('content-disposition', `attachment; filename="batch-${batch.id}.ndjson"`)
        .send(records.run(id) as never);
    },
  );
};

/** A first sieve, since to know a batch’s stays all that was done at its site is gone through. */
function isUnderWay({ opened, open, stages }: Batch, atMs: number): boolean {
  const times = [opened, ...stages.map(({ at }) => at)].map((at) => Date.parse(at));
  return Math.min(...times) <= atMs && (open || atMs <= Math.max(...times));
}
