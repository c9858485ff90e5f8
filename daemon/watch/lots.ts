import { newestTest } from '../../shared/batch/standing.ts';
import type { Batch } from '../../shared/wire/batch.ts';
import type { Draw, Lot, LotKnown, LotNote, LotNoteWhat, LotWhat, Tried } from '../../shared/wire/lots.ts';
import { isoTime } from '../../shared/wire/time.ts';
import type { NewAction } from '../store/store.ts';
import type { Action } from './actions.ts';
import { type Batches, wentInto } from './batches.ts';
import { type StockChange, stockAt, stockLeft, toParts } from './stock.ts';

export const NOTHING_KNOWN: LotKnown = {
  titration: null,
  waterPpm: null,
  filtered: null,
  purityPercent: null,
};

/** What a lot is kept in. */
export const unitOf = (kind: LotWhat['kind']): 'litres' | 'kg' => (kind === 'catalyst' ? 'kg' : 'litres');

interface Stored {
  id: string;
  name: string;
  what: LotWhat;
  at: string;
  noted: string;
  by: string;
  notes: LotNote[];
  drawn: Drawn[];
  /** What was counted and drawn, in one order: times can be the same. */
  history: (LotNote | Drawn)[];
}

/** The batch's own, so that what is done to either later is seen here. */
interface Drawn {
  batch: Batch;
  draw: Draw;
}

/**
 * The lots of a site: made from its actions alone, in order, and so re-made at every start. What batches drew is
 * theirs: each action goes to `batches` first.
 */
export class Lots {
  readonly #site: string;
  readonly #batches: Batches;
  readonly #lots = new Map<string, Stored>();

  constructor(site: string, batches: Batches) {
    this.#site = site;
    this.#batches = batches;
  }

  apply(stored: NewAction): void {
    const { action, body } = stored as unknown as Action;
    const { by } = stored;
    const [at, noted] = [isoTime(stored.atMs), isoTime(stored.arrivedMs)];
    if (action === 'lot-added') {
      this.#lots.set(body.id, { ...body, at, noted, by, notes: [], drawn: [], history: [] });
    } else if (action === 'lot-note') {
      const lot = this.#lots.get(body.lot);
      const { id, what } = body;
      const note = { id, at, noted, by, what };
      lot?.notes.push(note);
      if (what.kind === 'count' || what.kind === 'bed-changed') lot?.history.push(note);
    } else if (action === 'draw' && body.lot !== null) {
      const lot = this.#lots.get(body.lot);
      const batch = this.#batches.get(body.batch);
      const draw = batch?.draws.at(-1);
      if (lot === undefined || batch === undefined || draw === undefined) return;
      lot.drawn.push({ batch, draw });
      lot.history.push({ batch, draw });
    }
  }

  get(id: string): Lot | undefined {
    const lot = this.#lots.get(id);
    return lot && this.#answer(lot);
  }

  /** What was stated of a lot at the start, without all that became of it. */
  stated(id: string): Pick<Lot, 'id' | 'name' | 'what'> | undefined {
    return this.#lots.get(id);
  }

  /** The newest first. */
  list(): Lot[] {
    return [...this.#lots.values()].reverse().map((lot) => this.#answer(lot));
  }

  /** What was known of a lot at a time, as far as it has been noted by now. */
  knownAt(id: string, at: string): LotKnown {
    return knownOf(this.#lots.get(id)!, at);
  }

  /** Whether a lot was closed at a time. */
  closedAt(id: string, at: string): boolean {
    return newestNote(this.#lots.get(id)!, 'closed', at) !== undefined;
  }

  /** What could be drawn from a lot at a time, L or kg; without an end for a dry bed, which nothing is taken from. */
  stockAt(id: string, at: string): number {
    const lot = this.#lots.get(id)!;
    return lot.what.kind === 'dry-bed'
      ? Number.POSITIVE_INFINITY
      : stockAt(startOf(lot.what), changesOf(lot), at);
  }

  #answer(lot: Stored): Lot {
    const { what, id, name, at, noted, by, notes, drawn } = lot;
    const isBed = what.kind === 'dry-bed';
    const changes = changesOf(lot);
    const left = isBed ? null : stockLeft(startOf(what), changes);
    // A bed that has been changed has had none through it.
    const through = isBed ? 0 - stockLeft(0, changes) : null;
    return {
      id,
      site: this.#site,
      name,
      kind: what.kind,
      at,
      noted,
      by,
      what,
      known: knownOf(lot),
      newest: Object.fromEntries(
        NOTE_KINDS.flatMap((kind) => {
          const note = newestNote(lot, kind);
          return note === undefined ? [] : [[kind, note]];
        }),
      ),
      notes: [...notes],
      litresLeft: unitOf(what.kind) === 'litres' ? left : null,
      kgLeft: unitOf(what.kind) === 'kg' ? left : null,
      litresThrough: through,
      due: isBed && through! > what.dueAfterL,
      closed: newestNote(lot, 'closed') !== undefined,
      wentInto: drawn.map(({ batch, draw }) => wentInto(batch, draw)),
      tried: what.kind === 'oil' ? triedOf(drawn) : [],
    };
  }
}

const NOTE_KINDS: readonly LotNoteWhat['kind'][] = [
  'titration',
  'water',
  'count',
  'soap',
  'bed-changed',
  'closed',
  'note',
];

function changesOf({ what: { kind }, history }: Stored): StockChange[] {
  const unit = unitOf(kind);
  const changes: StockChange[] = [];
  for (const one of history) {
    if ('what' in one) {
      const counted = one.what.kind === 'count' ? one.what[unit]! : 0;
      changes.push({ at: one.at, counted });
    } else if (one.draw.undone === null) changes.push({ at: one.draw.at, drawn: one.draw[unit]! });
  }
  return changes;
}

const standing = (drawn: readonly Drawn[]): Drawn[] => drawn.filter(({ draw }) => draw.undone === null);

/** L or kg. */
const startOf = (what: Exclude<LotWhat, { kind: 'dry-bed' }>): number =>
  what.kind === 'catalyst' ? what.kg : what.litres;

/** The newest of a kind by its time; of those of one time the one that was noted last. */
function newestNote(lot: Stored, kind: LotNoteWhat['kind'], at?: string): LotNote | undefined {
  return lot.notes
    .filter((note) => note.what.kind === kind && (at === undefined || note.at <= at))
    .reduce<LotNote | undefined>(
      (newest, note) => (newest === undefined || note.at >= newest.at ? note : newest),
      undefined,
    );
}

function knownOf(lot: Stored, at?: string): LotKnown {
  const { what } = lot;
  const titration = newestNote(lot, 'titration', at)?.what as
    | Extract<LotNoteWhat, { kind: 'titration' }>
    | undefined;
  const water = newestNote(lot, 'water', at)?.what as Extract<LotNoteWhat, { kind: 'water' }> | undefined;
  switch (what.kind) {
    case 'oil':
      return {
        ...NOTHING_KNOWN,
        titration: titration?.titration ?? what.titration ?? null,
        waterPpm: water?.ppm ?? what.waterPpm ?? null,
        filtered: what.filtered ?? null,
      };
    case 'methanol':
    case 'catalyst':
      return { ...NOTHING_KNOWN, purityPercent: what.purityPercent ?? null };
    case 'dry-bed':
      return NOTHING_KNOWN;
  }
}

/** What batches of an oil came to; one opened by mistake tells nothing of it. */
function triedOf(drawn: readonly Drawn[]): Tried[] {
  const litresOf = new Map<Batch, number>();
  for (const { batch, draw } of standing(drawn))
    litresOf.set(batch, (litresOf.get(batch) ?? 0) + draw.litres!);
  return [...litresOf].flatMap(([batch, litres]) => {
    const dropout = newestTest(batch.entries, '3/27');
    if (dropout === undefined || batch.stage === 'void') return [];
    const { computed } = batch;
    return [
      {
        batch: batch.id,
        name: batch.name,
        at: dropout.at,
        litres: toParts(litres),
        base: computed?.catalyst ?? null,
        // Pure base in % of the oil's mass, and so many kg in a m³, are g in a litre as measured.
        baseGPerL: computed && (computed.catalystPercentOfOilMass / 100) * computed.oilDensityKgPerM3,
        passed: dropout.result?.passed === true,
        dropoutMl: dropout.what.dropoutMl,
      },
    ];
  });
}
