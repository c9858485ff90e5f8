import { ENDED_STAGES } from '../../shared/wire/names.ts';
import type { StoredAction } from '../store/store.ts';
import type { Action } from '../watch/actions.ts';

/** A vessel in a batch, from when it came in until it was taken by another or the batch ended; epoch ms, both included. */
export interface Stay {
  vessel: string;
  fromMs: number;
  toMs: number;
}

/** The stays of a batch, in order, the one that it was opened on first. `endMs`: how far it has been watched. */
export function staysOf(actions: readonly StoredAction[], batch: string, endMs: number): Stay[] {
  const stays: Stay[] = [];
  let endedMs = endMs;
  const enter = (vessel: string, into: string, { atMs, arrivedMs }: StoredAction): void => {
    for (const stay of stays)
      if (stay.vessel === vessel && into !== batch) stay.toMs = Math.min(stay.toMs, arrivedMs);
    const isThere = stays.some((stay) => stay.vessel === vessel && stay.toMs === Number.POSITIVE_INFINITY);
    if (into === batch && !isThere)
      stays.push({ vessel, fromMs: Math.min(atMs, arrivedMs), toMs: Number.POSITIVE_INFINITY });
  };
  for (const stored of actions) {
    const { action, body } = stored as unknown as Action;
    if (action === 'batch-opened') enter(body.vessel, body.id, stored);
    else if (action === 'vessel-joined') enter(body.vessel, body.batch, stored);
    else if (action === 'stage' && body.batch === batch) {
      // One that was noted afterwards may be of before.
      const [first] = stays;
      if (first?.vessel === body.vessel) first.fromMs = Math.min(first.fromMs, stored.atMs);
      if (ENDED_STAGES.includes(body.stage)) endedMs = Math.max(stored.atMs, stored.arrivedMs);
    }
  }
  return stays.map((stay) => ({ ...stay, toMs: Math.min(stay.toMs, endedMs) }));
}
