import { randomUUID } from 'node:crypto';
import { drawCaution } from '../../shared/batch/draw-caution.ts';
import { newestTest } from '../../shared/batch/standing.ts';
import { computePlan } from '../../shared/plan/compute.ts';
import type { Titration } from '../../shared/plan/request.ts';
import type { Missing } from '../../shared/wire/api.ts';
import type { Batch } from '../../shared/wire/batch.ts';
import {
  type Draw,
  type DrawBody,
  type Lot,
  type LotKind,
  type LotNote,
  type LotNoteBody,
  type LotNoteWhat,
  type LotWhat,
  type NewLotBody,
  NOTES_OF,
} from '../../shared/wire/lots.ts';
import { isoTime } from '../../shared/wire/time.ts';
import { newAction } from '../watch/actions.ts';
import { NOTHING_KNOWN, unitOf } from '../watch/lots.ts';
import type { SiteWatch } from '../watch/site-watch.ts';
import type { Watch } from '../watch/watch.ts';
import type { Acting } from './acting.ts';
import type { Operations } from './operations.ts';
import { Problem, planned } from './problem.ts';

/** What a draw is of, as its action keeps it. */
type Source = Pick<Draw, 'kind' | 'lot' | 'fromBatch' | 'name' | 'known'> & { missing: Missing };

/** What people do with lots, and what batches draw. */
export class LotOperations {
  readonly #watch: Watch;
  readonly #acting: Acting;
  readonly #operations: Pick<Operations, 'findBatch'>;

  constructor(parts: { watch: Watch; acting: Acting; operations: Pick<Operations, 'findBatch'> }) {
    this.#watch = parts.watch;
    this.#acting = parts.acting;
    this.#operations = parts.operations;
  }

  addLot(body: NewLotBody): Promise<Lot> {
    return this.#acting.oneAtATime(async () => {
      const { site: siteName, name, by, at, ...what } = body;
      const site = this.#siteOf(siteName);
      if (what.kind === 'oil' && what.titration !== undefined) checkTitration(what.titration);
      const id = randomUUID();
      const done = this.#acting.done({ by, at });
      await this.#acting.commit(siteName, [newAction('lot-added', { id, name, what }, done)]);
      return site.lots.get(id)!;
    });
  }

  /** The newest first. */
  lots({ site, kind }: { site?: string | undefined; kind?: LotKind | undefined }): Lot[] {
    const sites = site === undefined ? this.#watch.sites() : [this.#siteOf(site)];
    return sites.flatMap(({ lots }) => lots.list()).filter((lot) => kind === undefined || lot.kind === kind);
  }

  findLot(id: string): { site: SiteWatch; lot: Lot } {
    for (const site of this.#watch.sites()) {
      const lot = site.lots.get(id);
      if (lot !== undefined) return { site, lot };
    }
    throw new Problem('lot-unknown', `there is no lot ${id}`);
  }

  addNote(id: string, body: LotNoteBody): Promise<LotNote> {
    return this.#acting.oneAtATime(async () => {
      const { site, lot } = this.findLot(id);
      const { what } = body;
      checkNote(lot.kind, what);
      const note = { lot: id, id: `${id}-${lot.notes.length + 1}`, what };
      await this.#acting.commit(site.site, [newAction('lot-note', note, this.#acting.done(body))]);
      return site.lots.get(id)!.notes.at(-1)!;
    });
  }

  /** Notes what went into a batch, also of one that has ended. */
  draw(id: string, body: DrawBody): Promise<Draw> {
    return this.#acting.oneAtATime(async () => {
      const { site, batch } = this.#operations.findBatch(id);
      if (batch.stage === 'void') throw new Problem('batch-ended', `batch ${batch.name} is void`);
      const done = this.#acting.done(body);
      const { missing, ...source } = sourceOf(site, batch, body, isoTime(done.atMs));
      if (missing.length > 0 && body.anyway === undefined) {
        throw new Problem(
          'conditions-missing',
          `of ${source.name}: ${missing.map(said).join(', ')}; with anyway and a reason it is noted as a deviation`,
          { missing },
        );
      }
      const caution = drawCaution(source.kind, source.known, batch.request);
      const draw = {
        batch: id,
        id: `${id}-d${batch.draws.length + 1}`,
        ...source,
        litres: body.litres ?? null,
        kg: body.kg ?? null,
        deviation: missing.length > 0 ? { reason: body.anyway!.reason, missing } : null,
        ...(caution !== null && { caution }),
      };
      await this.#acting.commit(site.site, [newAction('draw', draw, done)]);
      return site.batches.get(id)!.draws.at(-1)!;
    });
  }

  undoDraw(id: string, drawId: string, body: { reason: string; by?: string | undefined }): Promise<Draw> {
    return this.#acting.oneAtATime(async () => {
      const { site, batch } = this.#operations.findBatch(id);
      const draw = batch.draws.find((one) => one.id === drawId);
      if (draw === undefined) throw new Problem('draw-unknown', `batch ${batch.name} has no draw ${drawId}`);
      if (draw.undone !== null)
        throw new Problem('draw-undone', `${draw.undone.by} has taken ${drawId} back`);
      await this.#acting.act(
        site.site,
        'draw-undone',
        { batch: id, draw: drawId, reason: body.reason },
        body.by,
      );
      return draw;
    });
  }

  #siteOf(name: string): SiteWatch {
    const site = this.#watch.site(name);
    if (site === undefined) throw new Problem('site-unknown', `there is no site ${name}`);
    return site;
  }
}

const said = ({ what, has, needs }: Missing[number]): string => `${what} ${has} of ${needs}`;

/** Refused where it comes to more acid than an oil can have. */
const checkTitration = (titration: Titration): void =>
  void planned(() => computePlan({ oil: { titration } }));

function checkNote(kind: LotKind, what: LotNoteWhat): void {
  if (!NOTES_OF[kind].includes(what.kind))
    throw new Problem('body-invalid', `what.kind: ${NOTES_OF[kind].join(', ')} is noted of ${kind}`);
  if (what.kind === 'titration') checkTitration(what.titration);
  if (what.kind === 'count') checkUnit(kind, what);
  if (what.kind === 'soap' && what.beforePpm === undefined && what.afterPpm === undefined)
    throw new Problem('body-invalid', 'what: beforePpm, afterPpm or both');
}

/** An amount is said in what the lot is kept in. */
function checkUnit(kind: LotKind, body: { litres?: number | undefined; kg?: number | undefined }): void {
  const unit = unitOf(kind);
  const other = unit === 'kg' ? 'litres' : 'kg';
  if (body[unit] === undefined) throw new Problem('body-invalid', `${unit} is missing: ${kind} goes by it`);
  if (body[other] !== undefined) throw new Problem('body-invalid', `${other}: ${kind} goes by ${unit}`);
}

function sourceOf(site: SiteWatch, batch: Batch, body: DrawBody, at: string): Source {
  if ((body.lot === undefined) === (body.batch === undefined))
    throw new Problem('body-invalid', 'lot or batch, one of them');
  if (body.batch !== undefined) return batchSource(site, batch, body.batch, body);
  const lot = site.lots.stated(body.lot!);
  if (lot === undefined) throw new Problem('lot-unknown', `there is no lot ${body.lot} at ${site.site}`);
  const { kind } = lot.what;
  checkUnit(kind, body);
  const needs = body[unitOf(kind)]!;
  const has = site.lots.stockAt(lot.id, at);
  return {
    kind,
    lot: lot.id,
    fromBatch: null,
    name: lot.name,
    known: site.lots.knownAt(lot.id, at),
    missing: [
      ...(site.lots.closedAt(lot.id, at) ? [{ what: 'open-lot', has: 0, needs: 1 }] : []),
      ...(needs > has ? [{ what: 'stock', has, needs }] : []),
      ...(isOtherBase(lot.what, batch) ? [{ what: 'base-as-planned', has: 0, needs: 1 }] : []),
    ],
  };
}

/** As much of the other base is not as much base: KOH weighs 1.4 times what NaOH does. */
const isOtherBase = (what: LotWhat, { computed }: Batch): boolean =>
  what.kind === 'catalyst' && computed !== null && what.base !== computed.catalyst;

/** Of a batch nobody knows how much there is: what it needs is that it failed. */
function batchSource(site: SiteWatch, batch: Batch, id: string, body: DrawBody): Source {
  const from = site.batches.get(id);
  if (from === undefined) throw new Problem('batch-unknown', `there is no batch ${id} at ${site.site}`);
  checkUnit('oil', body);
  const failed = from.stage === 'finished' && newestTest(from.entries, '3/27')?.result?.passed === false;
  if (from === batch || !(from.stage === 'rejected' || failed)) {
    const because = 'neither rejected, nor finished with a 3/27 that failed last';
    throw new Problem('batch-not-failed', `batch ${from.name} is ${because}, or is this one`);
  }
  if (drewFrom(site, from, batch))
    throw new Problem(
      'batch-not-failed',
      `batch ${from.name} itself drew from ${batch.name}, directly or through others: it cannot have come of it, too`,
    );
  return {
    kind: 'oil',
    lot: null,
    fromBatch: id,
    name: from.name,
    known: NOTHING_KNOWN,
    missing: [],
  };
}

/** Whether a batch drew from another, directly or through others, by draws that were not undone. */
function drewFrom(site: SiteWatch, batch: Batch, other: Batch): boolean {
  const seen = new Set<Batch>();
  const toFollow = [batch];
  for (let one = toFollow.pop(); one !== undefined; one = toFollow.pop()) {
    if (one === other) return true;
    if (seen.has(one)) continue;
    seen.add(one);
    for (const { fromBatch, undone } of one.draws) {
      const from = fromBatch === null || undone !== null ? undefined : site.batches.get(fromBatch);
      if (from !== undefined) toFollow.push(from);
    }
  }
  return false;
}
