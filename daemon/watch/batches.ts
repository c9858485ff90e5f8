import { metalPerSoap } from '../../shared/batch/test-limits.ts';
import type { BaseKind } from '../../shared/chemistry/bases.ts';
import { FUEL_STANDARDS } from '../../shared/chemistry/fuel-limits.ts';
import type { Batch } from '../../shared/wire/batch.ts';
import type { Draw, WentInto } from '../../shared/wire/lots.ts';
import { ENDED_STAGES } from '../../shared/wire/names.ts';
import { isoTime, LATEST_MS } from '../../shared/wire/time.ts';
import type { Span } from '../store/drops.ts';
import type { NewAction } from '../store/store.ts';
import { type Action, type ActionBodies, watchPlanOf } from './actions.ts';

/** What was measured shortly before a batch and after it goes with it. */
const AROUND_MS = 3_600_000;

/**
 * The batches of a site: made from its actions alone, and so re-made at every start; what was done to each, in the
 * order in which it was noted.
 */
export class Batches {
  readonly #site: string;
  readonly #batches = new Map<string, Batch>();
  /** From the first to the last that was done to each, by its time and by its arrival, epoch ms. */
  readonly #spans = new Map<string, Span>();

  constructor(site: string) {
    this.#site = site;
  }

  apply(stored: NewAction): void {
    const { action, body } = stored as unknown as Action;
    if (action === 'batch-opened') {
      this.#batches.set(body.id, {
        id: body.id,
        name: body.name,
        site: this.#site,
        vessel: body.vessel,
        stage: 'idle',
        opened: isoTime(stored.atMs),
        open: true,
        stages: [],
        moves: [],
        glycerolIn: [],
        entries: [],
        soapLimitPpm: body.soapLimitPpm ?? usualSoapLimitPpm(body.computed?.catalyst),
        draws: [],
        wentInto: [],
        madeLike: body.madeLike ?? null,
        template: body.template ?? null,
        plan: watchPlanOf(body),
        request: body.request,
        computed: body.computed ?? null,
      });
      this.#stretch(body.id, stored);
    }
    if (action === 'entry') this.#note(body, stored);
    if (action === 'moved') this.#move(body, stored);
    if (action === 'draw') this.#draw(body, stored);
    if (action === 'draw-undone') this.#undoDraw(body, stored);
    if (action !== 'stage') return;
    const batch = this.#batches.get(body.batch);
    if (batch === undefined) return;
    this.#stretch(batch.id, stored);
    const { stage, vessel, deviation, seen = [], unseen = [], reason = null } = body;
    const { by } = stored;
    batch.stages.push({ stage, vessel, at: isoTime(stored.atMs), by, deviation, seen, unseen, reason });
    // What is done with its glycerol does not change where the batch is; `idle` says that none is left there.
    if (stage === 'idle') batch.glycerolIn = batch.glycerolIn.filter((one) => one !== vessel);
    if (stage === 'idle' || (batch.glycerolIn.includes(vessel) && !ENDED_STAGES.includes(stage))) return;
    // Nor does a methoxide vessel, which works beside the batch's own.
    if (stage !== 'methoxide' || vessel === batch.vessel) batch.stage = stage;
    if (stage === 'settle' || stage === 'react' || stage === 'dose') batch.vessel = vessel;
    if (ENDED_STAGES.includes(stage)) batch.open = false;
  }

  #note(body: ActionBodies['entry'], { atMs, arrivedMs, by }: NewAction): void {
    const batch = this.#batches.get(body.batch);
    if (batch === undefined) return;
    const { batch: _, ...entry } = body;
    const corrected = batch.entries.find(({ id }) => id === entry.corrects?.entry);
    if (corrected !== undefined) corrected.correctedBy = entry.id;
    batch.entries.push({ ...entry, at: isoTime(atMs), noted: isoTime(arrivedMs), by, correctedBy: null });
  }

  #move({ batch: id, ...moved }: ActionBodies['moved'], stored: NewAction): void {
    const batch = this.#batches.get(id);
    if (batch === undefined) return;
    this.#stretch(id, stored);
    batch.moves.push({ ...moved, at: isoTime(stored.atMs), by: stored.by });
    if (moved.what === 'glycerol')
      batch.glycerolIn = [...new Set([...batch.glycerolIn, moved.to])].filter((one) => one !== moved.from);
    else if (moved.from === batch.vessel) batch.vessel = moved.to;
  }

  #draw(body: ActionBodies['draw'], { atMs, arrivedMs, by }: NewAction): void {
    const batch = this.#batches.get(body.batch);
    if (batch === undefined) return;
    const { batch: _, ...drawn } = body;
    const draw = { ...drawn, at: isoTime(atMs), noted: isoTime(arrivedMs), by, undone: null };
    batch.draws.push(draw);
    if (draw.fromBatch !== null) this.#batches.get(draw.fromBatch)?.wentInto.push(wentInto(batch, draw));
  }

  #undoDraw(body: ActionBodies['draw-undone'], { atMs, by }: NewAction): void {
    const draw = this.#batches.get(body.batch)?.draws.find(({ id }) => id === body.draw);
    if (draw === undefined) return;
    draw.undone = { reason: body.reason, by, at: isoTime(atMs) };
    const from = draw.fromBatch === null ? undefined : this.#batches.get(draw.fromBatch);
    for (const went of from?.wentInto ?? []) if (went.draw === draw.id) went.undone = draw.undone;
  }

  #stretch(id: string, { atMs, arrivedMs }: NewAction): void {
    const { fromMs, toMs } = this.#spans.get(id) ?? { fromMs: atMs, toMs: atMs };
    this.#spans.set(id, { fromMs: Math.min(fromMs, atMs, arrivedMs), toMs: Math.max(toMs, atMs, arrivedMs) });
  }

  /** From when to when batches were under way, epoch ms, ascending, each with an hour before and after. */
  spans(): Span[] {
    const spans = [...this.#spans].map(([id, { fromMs, toMs }]) => ({
      fromMs: fromMs - AROUND_MS,
      toMs: this.#batches.get(id)!.open ? LATEST_MS : toMs + AROUND_MS,
    }));
    const merged: Span[] = [];
    for (const span of spans.sort((a, b) => a.fromMs - b.fromMs)) {
      const last = merged.at(-1);
      if (last !== undefined && span.fromMs <= last.toMs) last.toMs = Math.max(last.toMs, span.toMs);
      else merged.push(span);
    }
    return merged;
  }

  get(id: string): Batch | undefined {
    return this.#batches.get(id);
  }

  /** The newest first. */
  list(): Batch[] {
    return [...this.#batches.values()].reverse();
  }
}

/**
 * Soap that holds as much metal as the standards take, ppm: 5 mg/kg (EN 14214:2012+A1:2014, ASTM D6751-09) as oleate.
 */
function usualSoapLimitPpm(base: BaseKind = 'KOH'): number {
  return METAL_MG_PER_KG / metalPerSoap(base);
}

const METAL_MG_PER_KG = FUEL_STANDARDS['EN 14214:2012+A1:2014'].sodiumPotassium!.most!;
/** A draw, as what was drawn from shows it. */
export const wentInto = (batch: Batch, { id, litres, kg, at, by, undone }: Draw): WentInto => ({
  batch: batch.id,
  name: batch.name,
  draw: id,
  litres,
  kg,
  at,
  by,
  undone,
});
