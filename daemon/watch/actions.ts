import type { EngineInput, StatedPressure } from '../../shared/engine/events.ts';
import type { PlanNumbers } from '../../shared/plan/answer.ts';
import type { PlanRequest } from '../../shared/plan/request.ts';
import { type PartialWatchPlan, resolveWatchPlan, type WatchPlan } from '../../shared/plan/watch-plan.ts';
import type { Missing } from '../../shared/wire/api.ts';
import type { EntryResult, EntryWhat } from '../../shared/wire/entries.ts';
import type { Draw, LotNoteWhat, LotWhat } from '../../shared/wire/lots.ts';
import type { Moved, Role, Stage } from '../../shared/wire/names.ts';
import type { Way } from '../../shared/wire/reach.ts';
import type { CheckedPoint } from '../../shared/wire/thermometers.ts';
import type { About, TryResult } from '../reach/ledger.ts';
import { DROP_ACTION, type Drop } from '../store/drops.ts';
import type { NewAction, NewReading, StoredEntry } from '../store/store.ts';

/** What people and the daemon do, by name, each with the shape of its body. */
export interface ActionBodies {
  'vessel-added': { vessel: string; role: Role };
  'vessel-emptied': { vessel: string };
  'site-stated': { site: StatedPressure };
  'batch-opened': {
    id: string;
    name: string;
    vessel: string;
    request: PlanRequest;
    /** The plan as it was computed then, with what the rules watch by. */
    computed: PlanNumbers;
    /** Instead of `computed` in batches from before plans were computed. */
    plan?: PartialWatchPlan;
    /** Of soap in washed fuel; absent where nobody said one. */
    soapLimitPpm?: number;
    site: StatedPressure | null;
    /** Where its request is from; missing in batches from before there was either. */
    madeLike?: string | null;
    template?: string | null;
  };
  /** Another vessel of the site works for a batch. */
  'vessel-joined': { batch: string; vessel: string; plan: WatchPlan; site: StatedPressure | null };
  stage: {
    batch: string;
    vessel: string;
    stage: Stage;
    deviation: { reason: string; missing: Missing } | null;
    /** What was looked at, and what should have been; both absent in older ones. */
    seen?: string[];
    unseen?: string[];
    reason?: string;
  };
  moved: { batch: string; from: string; to: string; litres: number; what: Moved };
  entry: {
    batch: string;
    id: string;
    vessel: string;
    stage: Stage;
    what: EntryWhat;
    result: EntryResult | null;
    corrects: { entry: string; reason: string } | null;
  };
  /** What stands of the 3/27 from now on. */
  'conversion-test': { batch: string; passed: boolean };
  'lot-added': { id: string; name: string; what: LotWhat };
  'lot-note': { lot: string; id: string; what: LotNoteWhat };
  /** With what was known then of what was drawn from. */
  draw: { batch: string } & Omit<Draw, 'at' | 'noted' | 'by' | 'undone'>;
  'draw-undone': { batch: string; draw: string; reason: string };
  'template-kept': { id: string; name: string; plan: PlanRequest };
  'template-retired': { template: string };
  acknowledge: { vessel: string; number: number; reason: string | null };
  shelve: { vessel: string; number: number; reason: string; minutes: number };
  presence: { device: string; presence: 'here' | 'gone' };
  /** Devices that send to one channel at the same time, by what they are known as; fewer than two: no longer. */
  'channel-shared': { vessel: string; channel: string; senders: string[] };
  /** Somebody sends a warning to see that it arrives. */
  'warning-tested': Record<string, never>;
  /** What was found of a thermometer: what it sends is corrected by that from here on. The true ones as of then. */
  'thermometer-checked': {
    vessel: string;
    channel: string;
    ice: CheckedPoint | null;
    boiling: (CheckedPoint & { pressureHPa: number }) | null;
    /** The day (UTC) by which it is to be checked again. */
    due: string;
    deviation: { reason: string; missing: Missing } | null;
  };
  /** It is not corrected any more from here on. */
  'thermometer-check-withdrawn': { vessel: string; channel: string; reason: string };
  /** Who or what may do what from now on; null: nothing any more. */
  'access-changed': {
    kind: 'person' | 'token' | 'device' | 'forwarder';
    name: string;
    may: string | null;
  };
  /** From which address. */
  'signed-in': { from: string };
  'signed-out': Record<string, never>;
  /**
   * The person is null where nobody has such a name: what was typed for one may be a passphrase. `tooMany`: after too
   * many tries, so that none was compared.
   */
  'sign-in-refused': { person: string | null; from: string; tooMany?: true };
  /** Somebody is to be told; stored before the first try, so that all tries carry one id. */
  message: { id: string; to: string; about: About };
  /** A try to send it, and what came of it: a code, never an address. */
  told: { message: string; way: Way; result: TryResult; because: string | null };
  /** Its one-time link was used. */
  answered: { message: string };
  /** Who is told what, or by what server, was changed; what it is now stands in no history. */
  'reach-changed': { person: string | null };
  'alone-begun': { vessel: string; tell: string; everyMinutes: number; answerMinutes: number };
  'alone-answered': { vessel: string };
  'alone-unanswered': { vessel: string; question: number };
  'alone-ended': { vessel: string };
  started: { downSinceMs: number | null };
  'clock-step': { stepMs: number };
  /** Said by the store itself. */
  [DROP_ACTION]: Drop;
}

/** What the rules watch a batch by; one from before plans were computed gets what it lacks. */
export const watchPlanOf = ({ computed, plan }: ActionBodies['batch-opened']): WatchPlan =>
  // Stored JSON: `computed` is missing there, whatever its type says.
  (computed as PlanNumbers | undefined)?.watch ?? resolveWatchPlan(plan);

export type ActionName = keyof ActionBodies;

export type Action = { [Name in ActionName]: { action: Name; body: ActionBodies[Name] } }[ActionName];

export const newAction = <Name extends ActionName>(
  action: Name,
  body: ActionBodies[Name],
  { by, atMs, arrivedMs }: { by: string; atMs: number; arrivedMs: number },
): NewAction => ({ kind: 'action', action, body, by, atMs, arrivedMs });

type Stored = Omit<NewAction, 'kind'>;

/** An action as the engine takes it: what to do with each, null where the rules have no use for it. */
export function engineInputOfAction(stored: Stored): EngineInput | null {
  const { arrivedMs, atMs } = stored;
  const { action, body } = stored as unknown as Action;
  switch (action) {
    case 'vessel-added':
      return { type: 'vessel', arrivedMs, vessel: body.vessel, role: body.role, batch: null };
    case 'vessel-emptied':
      return { type: 'emptied', arrivedMs, vessel: body.vessel };
    case 'site-stated':
      return { type: 'site', arrivedMs, site: body.site };
    case 'batch-opened':
      return {
        type: 'vessel',
        arrivedMs,
        vessel: body.vessel,
        role: null,
        batch: { id: body.id, plan: watchPlanOf(body), site: body.site },
      };
    case 'vessel-joined':
      return {
        type: 'vessel',
        arrivedMs,
        vessel: body.vessel,
        role: null,
        // A plan from an earlier version gets what it lacks.
        batch: { id: body.batch, plan: resolveWatchPlan(body.plan), site: body.site },
      };
    case 'stage':
      return { type: 'stage', arrivedMs, atMs, vessel: body.vessel, stage: body.stage, batch: body.batch };
    case 'moved': {
      const { batch, from, to, what } = body;
      return { type: 'move', arrivedMs, atMs, batch, vessel: from, to, what };
    }
    case 'acknowledge':
      return {
        type: 'acknowledge',
        arrivedMs,
        vessel: body.vessel,
        alarm: body.number,
        by: stored.by,
        reason: body.reason,
      };
    case 'shelve':
      return {
        type: 'shelve',
        arrivedMs,
        vessel: body.vessel,
        alarm: body.number,
        by: stored.by,
        reason: body.reason,
        untilMs: arrivedMs + body.minutes * 60_000,
      };
    case 'started':
      return { type: 'start', arrivedMs, downSinceMs: body.downSinceMs };
    case 'clock-step':
      return { type: 'clock-step', arrivedMs, stepMs: body.stepMs };
    case 'presence':
      return { type: 'device', arrivedMs, vessel: null, ...body };
    case 'channel-shared':
      return { type: 'senders', arrivedMs, ...body };
    case 'conversion-test':
      return { type: 'conversion-test', arrivedMs, ...body };
    case 'entry':
    case 'lot-added':
    case 'lot-note':
    case 'draw':
    case 'draw-undone':
    case 'template-kept':
    case 'template-retired':
    case 'warning-tested':
    case 'thermometer-checked':
    case 'thermometer-check-withdrawn':
    case 'access-changed':
    case 'signed-in':
    case 'signed-out':
    case 'sign-in-refused':
    case 'message':
    case 'told':
    case 'answered':
    case 'reach-changed':
    case 'alone-begun':
    case 'alone-answered':
    case 'alone-unanswered':
    case 'alone-ended':
    case DROP_ACTION:
      return null;
  }
}

/** A stored thing as the engine takes it; alarm events are what it said itself. */
export function engineInput(entry: StoredEntry): EngineInput | null {
  if (entry.kind === 'alarm') return null;
  if (entry.kind === 'action') return engineInputOfAction(entry);
  return inputOfReading(entry, entry.atMs);
}

/** A reading as the engine takes it, with the time under which it is stored. */
export function inputOfReading(reading: NewReading, atMs: number): EngineInput {
  const { arrivedMs, vessel, channel, value, source, stamped } = reading;
  return { type: 'reading', arrivedMs, atMs, vessel, channel, value, typed: source === 'typed', stamped };
}
