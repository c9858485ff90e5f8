import { RULES } from '../rules/index.ts';
import type { Rule } from '../rules/rule.ts';
import type { Role, Stage } from '../wire/names.ts';
import { holdBack, isHeldLongEnough, takeHeld } from './backlog.ts';
import { shiftArrivalClock } from './clock-step.ts';
import { takeDevice, takeSenders } from './devices.ts';
import { newDrive } from './drive.ts';
import type { EngineInput, EngineOutput } from './events.ts';
import { endExplanations, nextSpeakingMs } from './explaining.ts';
import { acknowledge, judge, judgeSilence } from './judging.ts';
import { noSamples } from './reaction-time.ts';
import { takeReading } from './reading.ts';
import { endShelves, nextReturnMs, shelve } from './shelving.ts';
import { bankReactionTime, enterStage, moveLiquid, newBatch } from './stages.ts';
import { type SiteState, type VesselState, vesselNamed } from './state.ts';

/**
 * The rule engine: what was known, and what happened next, give what is known then and what the rules
 * say to it. Time comes from the inputs alone. The state given is changed in place and returned.
 */
export function step(state: SiteState, input: EngineInput): [SiteState, EngineOutput[]] {
  const out: EngineOutput[] = [];
  const mayWait = input.type === 'reading' || input.type === 'tick';
  if (!mayWait || isHeldLongEnough(state, input.arrivedMs)) judgeHeld(state, out);
  if (input.type === 'clock-step') {
    // What fell due by the clock as it was before.
    const beforeMs = input.arrivedMs - input.stepMs;
    advance(state, beforeMs, out);
    state.nowMs = Math.max(state.nowMs, beforeMs);
    shiftArrivalClock(state, input.stepMs);
    state.nothingDueBeforeMs = 0;
  }
  advance(state, input.type === 'start' ? (input.downSinceMs ?? state.nowMs) : input.arrivedMs, out);
  state.nowMs = Math.max(state.nowMs, input.arrivedMs);
  // A reading says itself whether it may bring a deadline nearer; nothing brings none.
  if (input.type !== 'reading' && input.type !== 'tick') state.nothingDueBeforeMs = 0;
  switch (input.type) {
    case 'site':
      state.stated = input.site;
      break;
    case 'vessel':
      takeVessel(state, input);
      break;
    case 'reading':
      if (!holdBack(state, input, () => earliestDeadline(state)?.deadlineMs ?? Number.MAX_SAFE_INTEGER))
        takeReading(state, input, out);
      break;
    case 'stage': {
      const vessel = vesselNamed(state, input.vessel);
      if (vessel?.batch !== input.batch || isSameStage(vessel, input)) break;
      const { atMs, arrivedMs } = input;
      const judgeStage = (member: VesselState) => judge(state, member, ['stage'], { atMs, arrivedMs }, out);
      enterStage(state, vessel, input.stage, atMs, arrivedMs, judgeStage, out);
      break;
    }
    case 'move': {
      const [from, to] = [vesselNamed(state, input.vessel), vesselNamed(state, input.to)];
      const isOfBatch = from?.batch === input.batch && to?.batch === input.batch && from !== to;
      if (!isOfBatch) break;
      const { atMs, arrivedMs } = input;
      const judgeStage = (member: VesselState) => judge(state, member, ['stage'], { atMs, arrivedMs }, out);
      moveLiquid(state, { from, to, what: input.what, atMs, arrivedMs }, judgeStage, out);
      break;
    }
    case 'emptied': {
      const vessel = vesselNamed(state, input.vessel);
      if (vessel?.batch === null) vessel.methanolPresent = false;
      break;
    }
    case 'conversion-test': {
      const batch = Object.hasOwn(state.batches, input.batch) ? state.batches[input.batch] : undefined;
      if (batch !== undefined) batch.pass.testPassed = input.passed;
      break;
    }
    case 'device':
      takeDevice(state, input, out);
      break;
    case 'senders':
      takeSenders(state, input, out);
      break;
    case 'acknowledge':
      acknowledge(state, input, out);
      break;
    case 'shelve':
      shelve(state, input, out);
      break;
    case 'start':
      takeStart(state, input, out);
      break;
    case 'clock-step':
    case 'tick':
      break;
  }
  return [state, out];
}

/** Judges what was held back of a backlog; nothing where nothing was. */
export function judgeHeld(state: SiteState, out: EngineOutput[]): void {
  if (state.held === null) return;
  for (const reading of takeHeld(state)) takeReading(state, reading, out);
  state.nothingDueBeforeMs = 0;
}

/** Whether a stage that is under way is told again; `idle` told again says more, that the vessel is empty. */
const isSameStage = (vessel: VesselState, input: { stage: Stage; atMs: number }): boolean =>
  input.stage !== 'idle' && input.stage === vessel.stage && input.atMs === vessel.stageAtMs;

function takeStart(
  state: SiteState,
  { arrivedMs, downSinceMs }: Extract<EngineInput, { type: 'start' }>,
  out: EngineOutput[],
): void {
  for (const vessel of Object.values(state.vessels)) {
    vessel.watchedFromMs = arrivedMs;
    if (downSinceMs === null) continue;
    judge(state, vessel, ['start'], { atMs: arrivedMs, arrivedMs, downSinceMs }, out);
  }
}

// ---- time ----

const SILENCE_RULES = RULES.filter((rule) => rule.deadlineMs !== undefined);

/** What falls due by the clock: a rule of silence, or (null) that people are told again of an alarm. */
interface Due {
  vessel: VesselState;
  rule: Rule | null;
  deadlineMs: number;
}

/** Does what has fallen due, the earliest first. */
function advance(state: SiteState, nowMs: number, out: EngineOutput[]): void {
  // Deadlines are worked out only where one may be due: what could bring one nearer resets this.
  if (nowMs < state.nothingDueBeforeMs) return;
  const stuck = new Set<string>();
  for (;;) {
    const due = earliestDeadline(state, stuck);
    if (due === undefined || due.deadlineMs > nowMs) {
      state.nothingDueBeforeMs = due?.deadlineMs ?? Number.MAX_SAFE_INTEGER;
      return;
    }
    if (due.rule === null) {
      endShelves(due.vessel, due.deadlineMs, out);
      endExplanations(due.vessel, due.deadlineMs, out);
      continue;
    }
    judgeSilence(state, due.vessel, due.rule, due.deadlineMs, out);
    // A rule whose deadline passed has judged: were it still due, this would not end.
    if (due.rule.deadlineMs!(due.vessel) === due.deadlineMs)
      stuck.add(`${due.vessel.name} ${due.rule.alarm}`);
  }
}

function earliestDeadline(state: SiteState, stuck: ReadonlySet<string> = new Set()): Due | undefined {
  let due: Due | undefined;
  const offer = (vessel: VesselState, rule: Rule | null, deadlineMs: number | null): void => {
    if (deadlineMs === null || (due !== undefined && deadlineMs >= due.deadlineMs)) return;
    due = { vessel, rule, deadlineMs };
  };
  for (const name in state.vessels) {
    const vessel = state.vessels[name]!;
    offer(vessel, null, nextReturnMs(vessel));
    offer(vessel, null, nextSpeakingMs(vessel));
    for (const rule of SILENCE_RULES) {
      if (!stuck.has(`${name} ${rule.alarm}`)) offer(vessel, rule, rule.deadlineMs!(vessel));
    }
  }
  return due;
}

// ---- vessels ----

/** What a heater showed so long before a batch is known at its start, ms. */
const HEATER_TELLS_MS = 600_000;

function takeVessel(state: SiteState, input: Extract<EngineInput, { type: 'vessel' }>): void {
  const vessel =
    vesselNamed(state, input.vessel) ?? newVessel(input.vessel, input.role ?? 'reactor', input.arrivedMs);
  state.vessels[vessel.name] = vessel;
  if (input.role !== null) vessel.role = input.role;
  if (input.batch === null) return;
  const { id, plan, site } = input.batch;
  state.batches[id] ??= newBatch(id);
  if (vessel.batch === id) {
    bankReactionTime(state.batches[id], vessel);
    vessel.stated = site ?? vessel.stated;
  } else {
    vessel.batch = id;
    vessel.stated = site;
    vessel.methanolPresent = plan.methanolInFeed;
    // What it showed long before is no word of this batch.
    if (input.arrivedMs - (vessel.channels.heater?.newest.arrivedMs ?? 0) > HEATER_TELLS_MS)
      vessel.heater = null;
    for (const channel of Object.values(vessel.channels)) channel.seenInBatch = false;
  }
  vessel.plan = plan;
}

function newVessel(name: string, role: Role, arrivedMs: number): VesselState {
  return {
    name,
    role,
    batch: null,
    plan: null,
    stated: null,
    stage: 'idle',
    stageAtMs: arrivedMs,
    stageArrivedMs: arrivedMs,
    previousStage: 'idle',
    reactingSinceMs: null,
    batchEndedMs: null,
    methanolPresent: false,
    channels: {},
    probes: 0,
    mixing: {
      stoppedSinceMs: null,
      seenAtSpeed: false,
      restSinceMs: null,
      movingSinceMs: null,
      lastMovingMs: null,
    },
    heater: null,
    drive: newDrive(),
    vapour: [],
    devices: {},
    senders: {},
    samples: noSamples(),
    alarms: {},
    memory: {},
    unacknowledged: [],
    alarmCount: 0,
    watchedFromMs: arrivedMs,
    suspect: { jump: [], range: [] },
    highestLiquidC: null,
    smallestHeadroomC: null,
  };
}
