import type { FastifyPluginAsyncZod } from 'fastify-type-provider-zod';
import { z } from 'zod';
import {
  boilingHistory,
  PRESSURE_LOOKS_BACK_MS,
  type PressureHistory,
} from '../../shared/engine/boiling-history.ts';
import type { StatedPressure } from '../../shared/engine/events.ts';
import { alarmId } from '../../shared/engine/view.ts';
import type { Buckets } from '../../shared/wire/api.ts';
import {
  boilingQuerySchema,
  boilingSchema,
  type DeedMark,
  rangeQuerySchema,
  type Timeline,
  timelineSchema,
} from '../../shared/wire/history.ts';
import { ENDED_STAGES } from '../../shared/wire/names.ts';
import { isoTime } from '../../shared/wire/time.ts';
import type { ArrivalClock } from '../clock.ts';
import { type Stay, staysOf } from '../record/stays.ts';
import { bucketGrid } from '../store/sqlite/bucket-grid.ts';
import type { Store, StoredAction } from '../store/store.ts';
import type { Action } from '../watch/actions.ts';
import { alarmAnswer } from '../watch/alarm-answer.ts';
import type { SiteWatch } from '../watch/site-watch.ts';
import type { Operations } from './operations.ts';
import { rangeOf } from './query-time.ts';

interface HistoryParts {
  store: Store;
  arrivals: ArrivalClock;
  operations: Operations;
}

const USUAL_POINTS = 500;
/** Batches of a vessel that are listed: more than a person chooses from. */
const MOST_BATCHES = 200;
/** Marks of a kind that are put on one axis: more would lie on each other. */
const MOST_MARKS = 1000;
/** How far back the vessel's own pressure is looked for at the beginning of a range: it holds under vacuum, ms. */
const OWN_LOOKS_BACK_MS = 24 * 3_600_000;
/** In steps of a minute, a little more than either look back. */
const BACK_POINTS = 1450;

type BatchStay = Stay & { batch: string; stated: StatedPressure | null };

/** What a vessel went through: what its readings are drawn among. */
export const vesselHistory: FastifyPluginAsyncZod<HistoryParts> = async (app, parts) => {
  const { store, arrivals, operations } = parts;
  const vesselParams = z.object({ vessel: z.string() });

  app.get(
    '/api/v1/vessels/:vessel/boiling',
    { schema: { params: vesselParams, querystring: boilingQuerySchema, response: { 200: boilingSchema } } },
    async (request, reply) => {
      const { site, vessel } = operations.shownVessel(request.params.vessel);
      const nowMs = arrivals.nowMs();
      const { fromMs, toMs } = rangeOf(request.query, nowMs);
      const { points = USUAL_POINTS } = request.query;
      const history = await pressures(store, site, vessel, { fromMs, toMs, points });
      const { originMs, stepMs } = bucketGrid(fromMs, toMs, points);
      const endMs = Math.min(toMs, nowMs);
      const t: number[] = [];
      for (let at = originMs; at <= endMs; at += stepMs) t.push(Math.max(at, fromMs));
      const body = JSON.stringify(boilingHistory(history, { t, stepMs, endMs }));
      // Ready-made: checked number by number it would hold everybody up.
      return reply.type('application/json; charset=utf-8').send(Buffer.from(body) as never);
    },
  );

  app.get(
    '/api/v1/vessels/:vessel/timeline',
    { schema: { params: vesselParams, querystring: rangeQuerySchema, response: { 200: timelineSchema } } },
    async (request): Promise<Timeline> => {
      const { site, vessel } = operations.shownVessel(request.params.vessel);
      const range = rangeOf(request.query, arrivals.nowMs());
      const [actions, channels, found] = await Promise.all([
        store.actions(site.site),
        store.channels(site.site),
        store.alarmsDuring({ site: site.site, vessel, ...range, limit: MOST_MARKS + 1 }),
      ]);
      const stays = staysIn(site, vessel, actions);
      const deeds = deedsOf(site.site, vessel, actions, stays).filter(({ atMs }) => isIn(atMs, range));
      const alarms = operations.asTheyAre(found.slice(0, MOST_MARKS).map(alarmAnswer));
      return {
        channels: channels.filter((each) => each.vessel === vessel).map(({ channel }) => channel),
        batches: stays
          .slice(-MOST_BATCHES)
          .reverse()
          .map((stay) => batchOf(site, stay)),
        stages: stagesOf(site, vessel, stays)
          .filter(({ fromMs, toMs }) => fromMs <= range.toMs && toMs >= range.fromMs)
          .map(({ stage, batch, fromMs, toMs }) => ({
            stage,
            batch,
            from: isoTime(fromMs),
            to: isoOrNull(toMs),
          })),
        alarms: alarms.sort((a, b) => Date.parse(a.at) - Date.parse(b.at)),
        deeds: deeds
          .sort((a, b) => a.atMs - b.atMs)
          .slice(-MOST_MARKS)
          .map(({ atMs, ...deed }) => ({ at: isoTime(atMs), ...deed })),
        more: found.length > MOST_MARKS || deeds.length > MOST_MARKS,
      };
    },
  );
};

const isIn = (atMs: number, { fromMs, toMs }: { fromMs: number; toMs: number }): boolean =>
  atMs >= fromMs && atMs <= toMs;

const isoOrNull = (ms: number): string | null => (Number.isFinite(ms) ? isoTime(ms) : null);

/** When the vessel was which batch's, ascending; without an end where it is yet. */
function staysIn(site: SiteWatch, vessel: string, actions: readonly StoredAction[]): BatchStay[] {
  const { ofBatch, entries } = sorted(vessel, actions);
  return site.batches
    .list()
    .filter(
      (batch) =>
        batch.vessel === vessel ||
        batch.stages.some((stage) => stage.vessel === vessel) ||
        batch.moves.some(({ from, to }) => from === vessel || to === vessel),
    )
    .flatMap(({ id }) => {
      const own = ofBatch.get(id) ?? [];
      const moving = withOthers(own, entries);
      return staysOf(moving, id, Number.POSITIVE_INFINITY)
        .filter((stay) => stay.vessel === vessel)
        .map((stay) => ({ ...stay, batch: id, stated: statedFor(id, vessel, own) }));
    })
    .sort((a, b) => a.fromMs - b.fromMs);
}

/** What moves batches, by batch, and what brought any batch into the vessel: gone through once for all batches. */
function sorted(
  vessel: string,
  actions: readonly StoredAction[],
): { ofBatch: ReadonlyMap<string, readonly StoredAction[]>; entries: readonly StoredAction[] } {
  const ofBatch = new Map<string, StoredAction[]>();
  const entries: StoredAction[] = [];
  for (const stored of actions) {
    const { action, body } = stored as unknown as Action;
    const batch =
      action === 'batch-opened'
        ? body.id
        : action === 'vessel-joined' || action === 'moved' || action === 'stage'
          ? body.batch
          : null;
    if (batch === null) continue;
    const own = ofBatch.get(batch);
    if (own === undefined) ofBatch.set(batch, [stored]);
    else own.push(stored);
    if ((action === 'batch-opened' || action === 'vessel-joined') && body.vessel === vessel)
      entries.push(stored);
  }
  return { ofBatch, entries };
}

/** With those of other batches that came into the vessel meanwhile, and the first that did afterwards. */
function withOthers(own: readonly StoredAction[], entries: readonly StoredAction[]): StoredAction[] {
  const first = own[0]?.position ?? 0;
  const last = own.at(-1)?.position ?? 0;
  const from = firstAfter(entries, first);
  const to = firstAfter(entries, last) + 1;
  const mine = new Set(own);
  return [...own, ...entries.slice(from, to).filter((entry) => !mine.has(entry))].sort(
    (a, b) => a.position - b.position,
  );
}

/** Index of the first that is later than a position, all being in their order. */
function firstAfter(entries: readonly StoredAction[], position: number): number {
  let [low, high] = [0, entries.length];
  while (low < high) {
    const middle = (low + high) >>> 1;
    if (entries[middle]!.position <= position) low = middle + 1;
    else high = middle;
  }
  return low;
}

/** What the batch's plan said of the place, where it did. */
function statedFor(batch: string, vessel: string, actions: readonly StoredAction[]): StatedPressure | null {
  let stated: StatedPressure | null = null;
  for (const stored of actions) {
    const { action, body } = stored as unknown as Action;
    if (action === 'batch-opened' && body.id === batch && body.vessel === vessel) stated = body.site;
    if (action === 'vessel-joined' && body.batch === batch && body.vessel === vessel)
      stated = body.site ?? stated;
  }
  return stated;
}

function batchOf(site: SiteWatch, { batch, fromMs, toMs }: BatchStay): Timeline['batches'][number] {
  const { name, plan } = site.batches.get(batch)!;
  const { reactionTemperatureC, lowestStirrerSpeed, lowestPumpFlow } = plan;
  const times = { from: isoTime(fromMs), to: isoOrNull(toMs) };
  return { batch, name, ...times, reactionTemperatureC, lowestStirrerSpeed, lowestPumpFlow };
}

function stagesOf(site: SiteWatch, vessel: string, stays: readonly BatchStay[]) {
  return stays.flatMap(({ batch, fromMs, toMs }) => {
    const stages = site.batches
      .get(batch)!
      .stages.filter((each) => each.vessel === vessel && !ENDED_STAGES.includes(each.stage))
      .map(({ stage, at }) => ({ stage, atMs: Date.parse(at) }))
      .filter(({ atMs }) => atMs >= fromMs && atMs <= toMs)
      // One that was noted afterwards is where it was.
      .sort((a, b) => a.atMs - b.atMs);
    return stages
      .map(({ stage, atMs }, i) => ({ stage, batch, fromMs: atMs, toMs: stages[i + 1]?.atMs ?? toMs }))
      .filter(({ stage }) => stage !== 'idle');
  });
}

type Deed = Omit<DeedMark, 'at'> & { atMs: number };

/** What was done at a vessel, with its batch while it was there, and to its site. */
function deedsOf(
  site: string,
  vessel: string,
  actions: readonly StoredAction[],
  stays: readonly BatchStay[],
): Deed[] {
  const here = (batch: string, atMs: number): boolean =>
    stays.some((stay) => stay.batch === batch && isIn(atMs, stay));
  return actions.flatMap((stored): Deed[] => {
    const { action, body } = stored as unknown as Action;
    const { by, atMs } = stored;
    const deed = { by, atMs, batch: null, stage: null, entry: null, alarm: null, reason: null };
    switch (action) {
      case 'batch-opened':
        return body.vessel === vessel ? [{ ...deed, what: action, batch: body.id }] : [];
      case 'stage': {
        const isEnd = ENDED_STAGES.includes(body.stage) && here(body.batch, atMs);
        if (body.vessel !== vessel && !isEnd) return [];
        const reason = body.deviation?.reason ?? body.reason ?? null;
        return [{ ...deed, what: action, batch: body.batch, stage: body.stage, reason }];
      }
      case 'moved':
        if (body.from !== vessel && body.to !== vessel) return [];
        return [{ ...deed, what: action, batch: body.batch }];
      case 'entry':
        if (body.vessel !== vessel) return [];
        return [
          {
            ...deed,
            what: action,
            batch: body.batch,
            entry: body.what.kind,
            reason: body.corrects?.reason ?? null,
          },
        ];
      case 'draw':
        return here(body.batch, atMs) ? [{ ...deed, what: action, batch: body.batch }] : [];
      case 'acknowledge':
      case 'shelve': {
        if (body.vessel !== vessel) return [];
        const alarm = alarmId(site, vessel, body.number);
        return [{ ...deed, what: action, alarm, reason: body.reason }];
      }
      case 'site-stated':
        return [{ ...deed, what: action }];
      case 'vessel-emptied':
        return body.vessel === vessel ? [{ ...deed, what: action }] : [];
      case 'thermometer-checked':
      case 'thermometer-check-withdrawn': {
        if (body.vessel !== vessel) return [];
        const reason = 'reason' in body ? body.reason : (body.deviation?.reason ?? null);
        // Where the line steps, whenever it was in the baths.
        return [{ ...deed, what: action, atMs: stored.arrivedMs, reason }];
      }
      case 'started':
        return body.downSinceMs === null ? [] : [{ ...deed, what: action }];
      default:
        return [];
    }
  });
}

/** The pressures that a vessel's boiling point went by in a time. */
async function pressures(
  store: Store,
  site: SiteWatch,
  vessel: string,
  { fromMs, toMs, points }: { fromMs: number; toMs: number; points: number },
): Promise<PressureHistory> {
  const channels = await store.channels(site.site);
  const series = async (of: string, channel: string, backMs: number): Promise<Buckets[]> => {
    const query = { site: site.site, vessel: of, channel };
    return Promise.all([
      store.buckets({ ...query, fromMs: fromMs - backMs, toMs: fromMs - 1, points: BACK_POINTS }),
      store.buckets({ ...query, fromMs, toMs, points }),
    ]);
  };
  const barometers = channels.filter(({ channel }) => channel === 'ambient-pressure');
  const hasOwn = channels.some((each) => each.vessel === vessel && each.channel === 'vessel-pressure');
  const [actions, ambient, own] = await Promise.all([
    store.actions(site.site),
    Promise.all(barometers.map((each) => series(each.vessel, each.channel, PRESSURE_LOOKS_BACK_MS))),
    hasOwn ? series(vessel, 'vessel-pressure', OWN_LOOKS_BACK_MS) : [],
  ]);
  const stays = staysIn(site, vessel, actions);
  return {
    site: actions.flatMap((stored) => {
      const { action, body } = stored as unknown as Action;
      return action === 'site-stated' ? [{ atMs: stored.arrivedMs, stated: body.site }] : [];
    }),
    stays,
    recovering: stagesOf(site, vessel, stays).filter(({ stage }) => stage === 'recover'),
    ambient: ambient.flat(),
    own,
  };
}
