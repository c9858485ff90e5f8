import { ENDED_STAGES } from '../../shared/wire/names.ts';
import type { StoredAction } from '../store/store.ts';
import type { Action } from '../watch/actions.ts';

/**
 * A vessel in a batch, from when it came in until what it held was moved out, another batch took it or the batch
 * ended; epoch ms, both included.
 */
export interface Stay {
  vessel: string;
  fromMs: number;
  toMs: number;
}

/**
 * The stays of a batch, in order, the one that it was opened on first. `endMs`: how far it has been watched. What was
 * noted afterwards ends a stay when it was so, not when it was noted: the vessel may have been another batch's since.
 */
export function staysOf(actions: readonly StoredAction[], batch: string, endMs: number): Stay[] {
  const stays: Stay[] = [];
  const gotGlycerol = new Set<string>();
  let endedMs = endMs;
  const present = (vessel: string): Stay | undefined =>
    stays.find((stay) => stay.vessel === vessel && stay.toMs === Number.POSITIVE_INFINITY);
  const leave = (vessel: string, toMs: number): void => {
    const stay = present(vessel);
    if (stay !== undefined) stay.toMs = toMs;
  };
  const enter = (vessel: string, into: string, { atMs, arrivedMs }: StoredAction): void => {
    if (into !== batch) leave(vessel, arrivedMs);
    else if (present(vessel) === undefined)
      stays.push({ vessel, fromMs: Math.min(atMs, arrivedMs), toMs: Number.POSITIVE_INFINITY });
  };
  for (const stored of actions) {
    const { action, body } = stored as unknown as Action;
    if (action === 'batch-opened') enter(body.vessel, body.id, stored);
    else if (action === 'vessel-joined') enter(body.vessel, body.batch, stored);
    else if (action === 'moved' && body.batch === batch) {
      const { what, from, to } = body;
      enter(to, batch, stored);
      // A reactor that glycerol is drained from keeps the fuel; a can of it has nothing else.
      if (what === 'ester' || gotGlycerol.has(from)) leave(from, stored.atMs);
      gotGlycerol.delete(from);
      if (what === 'glycerol') gotGlycerol.add(to);
    } else if (action === 'stage' && body.batch === batch) {
      // One that was noted afterwards may be of before.
      const [first] = stays;
      if (first?.vessel === body.vessel) first.fromMs = Math.min(first.fromMs, stored.atMs);
      if (ENDED_STAGES.includes(body.stage)) endedMs = stored.atMs;
    }
  }
  // What was said to have ended before it began has no time of its own.
  return stays.map((stay) => ({ ...stay, toMs: Math.max(stay.fromMs, Math.min(stay.toMs, endedMs)) }));
}
