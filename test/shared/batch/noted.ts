import { computePlan } from '../../../shared/plan/compute.ts';
import type { PlanRequest } from '../../../shared/plan/request.ts';
import type { Batch } from '../../../shared/wire/batch.ts';
import type { BatchEntry, EntryWhat } from '../../../shared/wire/entries.ts';
import type { Stage } from '../../../shared/wire/names.ts';

export const START_MS = Date.UTC(2026, 2, 2, 10);
const HOUR_MS = 3_600_000;
export const hour = (n: number): string => new Date(START_MS + n * HOUR_MS).toISOString();

const USUAL = computePlan({});

/** A thing noted in an hour of the batch, or a correction of the entry of a number. */
export interface Note {
  what: EntryWhat;
  hour?: number;
  corrects?: number;
}

/** A batch with its stages an hour after the other, and what was noted, in hour 100 unless said. */
export function batchOf(
  stages: readonly Stage[],
  notes: readonly (EntryWhat | Note)[],
  { request, ...fields }: Partial<Batch> & { request?: PlanRequest } = {},
): Batch {
  const { workings: _, ...computed } = request === undefined ? USUAL : computePlan(request);
  const all = notes.map((note): Note => ('kind' in note ? { what: note } : note));
  const entries = all.map(({ what, hour: at = 100, corrects }, i): BatchEntry => {
    const corrector = all.findIndex((note) => note.corrects === i + 1);
    return {
      id: `b1-${i + 1}`,
      vessel: 'r1',
      at: hour(corrects === undefined ? at : (all[corrects - 1]!.hour ?? 100)),
      noted: hour(at),
      by: 'Ida',
      stage: 'finished',
      what,
      result: null,
      corrects: corrects === undefined ? null : { entry: `b1-${corrects}`, reason: 'misread' },
      correctedBy: corrector < 0 ? null : `b1-${corrector + 1}`,
    };
  });
  const stage = stages.at(-1) ?? 'idle';
  return {
    id: 'b1',
    name: 'Autumn oil',
    site: 'shed',
    vessel: 'r1',
    stage,
    opened: hour(0),
    open: !['finished', 'rejected', 'void'].includes(stage),
    stages: stages.map((one, i) => ({
      stage: one,
      vessel: 'r1',
      at: hour(i),
      by: 'Ida',
      deviation: null,
      seen: [],
      unseen: [],
      reason: null,
    })),
    entries,
    moves: [],
    glycerolIn: [],
    soapLimitPpm: 66,
    draws: [],
    wentInto: [],
    madeLike: null,
    template: null,
    plan: computed.watch,
    request: request ?? {},
    computed,
    ...fields,
  };
}

export const weighing = (what: Extract<EntryWhat, { kind: 'weighing' }>['what'], kg: number): EntryWhat => ({
  kind: 'weighing',
  what,
  kg,
});
export const volume = (
  what: Extract<EntryWhat, { kind: 'volume' }>['what'],
  litres: number,
  atC?: number,
): EntryWhat => ({ kind: 'volume', what, litres, ...(atC !== undefined && { atC }) });
export const wash = (waterL?: number): EntryWhat => ({
  kind: 'wash',
  method: 'mist',
  emulsion: false,
  ...(waterL !== undefined && { waterL }),
});
export const drained = (
  what: Extract<EntryWhat, { kind: 'drained' }>['what'],
  litres: number,
): EntryWhat => ({ kind: 'drained', what, litres });
export const handedOut = (use: 'used' | 'given-away', litres: number): EntryWhat => ({
  kind: 'handed-out',
  use,
  litres,
});
