import { ENDED_STAGES, MIXING_STAGES, type Moved, STAGES, type Stage } from '../wire/names.ts';
import { mixingChannel } from './channels.ts';
import { endDoubt, forgetLost } from './drive.ts';
import type { EngineOutput } from './events.ts';
import {
  add,
  dropSamplesBefore,
  mergeLate,
  methoxideMixedMs,
  noReactionTime,
  noSamples,
  passReactionTime,
  spanReactionTime,
} from './reaction-time.ts';
import { noSettling, noteSettlingSpeed } from './settling-time.ts';
import type { BatchState, SiteState, VesselState } from './state.ts';

/**
 * What a stage does to a vessel of a batch, to the batch and to its other vessels. `judge` is called when
 * a vessel's new stage is in place, before what the stage settles for good.
 */
export function enterStage(
  site: SiteState,
  vessel: VesselState,
  stage: Stage,
  atMs: number,
  arrivedMs: number,
  judge: (vessel: VesselState) => void,
  out: EngineOutput[],
): void {
  const batch = batchOf(site, vessel);
  const left = vessel.stage;
  if (vessel.holdsGlycerol && !ENDED_STAGES.includes(stage)) {
    enterStageOfGlycerol(vessel, stage, atMs, arrivedMs, judge, out);
    return;
  }
  if (left === 'idle' && isFromSettlingOn(stage)) takeOverMethanol(site, vessel);
  change(site, vessel, batch, stage, atMs, arrivedMs);
  // Somebody says that the vessel is empty.
  if (stage === 'idle') vessel.methanolPresent = false;
  out.push({ type: 'stage', vessel: vessel.name, stage, batch: vessel.batch, atMs });
  judge(vessel);
  emptyOthers(site, vessel, stage, atMs, arrivedMs, judge, out);
  if (stage === 'settle') batch.pass.reacting = false;
  if (stage === 'dose') batch.methoxide = null;
  if (isFromSettlingOn(stage) && stage !== 'settle' && stage !== 'drain') batch.settling.goneOn = true;
  if (ENDED_STAGES.includes(stage)) endBatch(site, vessel, batch, stage, atMs, arrivedMs, judge);
}

/** What is done with a batch's glycerol changes nothing of the batch; `idle` says that the vessel is empty. */
function enterStageOfGlycerol(
  vessel: VesselState,
  stage: Stage,
  atMs: number,
  arrivedMs: number,
  judge: (vessel: VesselState) => void,
  out: EngineOutput[],
): void {
  if (vessel.stage === 'recover' || vessel.stage === 'wash' || stage === 'idle')
    vessel.methanolPresent = false;
  setStage(vessel, stage, atMs, arrivedMs);
  out.push({ type: 'stage', vessel: vessel.name, stage, batch: vessel.batch, atMs });
  judge(vessel);
  if (stage === 'idle') leave(vessel);
}

/** Stages in which methoxide and oil are together. */
const REACTING_STAGES: readonly Stage[] = ['dose', 'react'];

const isFromSettlingOn = (stage: Stage): boolean => STAGES.indexOf(stage) >= STAGES.indexOf('settle');

/** The batch that all vessels of a recorded run belong to, to its end. */
export const RUN = 'run';

const batchOf = (site: SiteState, vessel: VesselState): BatchState => site.batches[vessel.batch!]!;

export const newBatch = (id: string): BatchState => ({
  id,
  pass: { reacting: false, banked: noReactionTime(), spans: [] },
  earlierPassesMs: [],
  reactor: null,
  settling: noSettling(),
  methoxide: null,
});

function change(
  site: SiteState,
  vessel: VesselState,
  batch: BatchState,
  stage: Stage,
  atMs: number,
  arrivedMs: number,
): void {
  const left = vessel.stage;
  const previousStageAtMs = vessel.stageAtMs;
  closeSpans(batch, vessel, stage, atMs);
  if (left === 'recover' || left === 'wash') vessel.methanolPresent = false;
  if (MIXING_STAGES.includes(stage)) vessel.methanolPresent = true;

  if (left === 'methoxide' && mixingChannel(vessel) !== undefined) {
    batch.methoxide = { mixedMs: methoxideMixedMs(vessel) };
  }
  const reacts = REACTING_STAGES.includes(stage);
  if (!(reacts && REACTING_STAGES.includes(left))) {
    vessel.reactingSinceMs = reacts ? atMs : null;
    // A stirrer that stands still when methoxide comes has rested since then.
    if (vessel.mixing.restSinceMs !== null) vessel.mixing.restSinceMs = atMs;
  }

  setStage(vessel, stage, atMs, arrivedMs);
  if (stage === 'dose') {
    const { weightedMs } = passReactionTime(site, batch.pass, atMs);
    if (weightedMs > 0) batch.earlierPassesMs.push(weightedMs);
    batch.pass = { reacting: true, banked: noReactionTime(), spans: [] };
    batch.settling = noSettling();
  }
  if (stage === 'react') {
    batch.pass.reacting = true;
    batch.reactor = vessel.name;
    // An hour is one hour, however many vessels it is spent in: the newest counts.
    for (const span of batch.pass.spans) span.toMs ??= Math.max(span.fromMs, atMs);
    batch.pass.spans.push({ vessel: vessel.name, fromMs: atMs, toMs: null });
  }
  if (stage === 'settle' || (stage === 'drain' && left === 'settle'))
    openSettling(batch, vessel, stage, atMs);
  forgetSamples(site, vessel, previousStageAtMs);
}

/** What a stage is for its vessel, whatever it is for the batch. */
function setStage(vessel: VesselState, stage: Stage, atMs: number, arrivedMs: number): void {
  const left = vessel.stage;
  if (stage === 'idle' && left !== 'idle') vessel.batchEndedMs = atMs;
  vessel.previousStage = left;
  vessel.stage = stage;
  vessel.stageAtMs = atMs;
  vessel.stageArrivedMs = arrivedMs;
  for (const channel of Object.values(vessel.channels)) channel.seenInStage = false;
  if (!(MIXING_STAGES.includes(left) && MIXING_STAGES.includes(stage))) vessel.mixing.seenAtSpeed = false;
  if (!MIXING_STAGES.includes(stage)) endDoubt(vessel, atMs);
}

/** Ends what the vessel's stage was earning, at the moment the next one starts. */
function closeSpans(batch: BatchState, vessel: VesselState, next: Stage, atMs: number): void {
  for (const span of batch.pass.spans) {
    if (span.vessel === vessel.name && span.toMs === null) span.toMs = Math.max(span.fromMs, atMs);
  }
  const span = batch.settling.span;
  const runsOn = next === 'settle' || next === 'drain';
  if (span !== null && span.vessel === vessel.name && span.toMs === null && !runsOn) {
    span.toMs = Math.max(span.fromMs, atMs);
  }
}

/**
 * Settling runs on through the drain after it. Coming back to it in the same vessel adds to what was
 * earned; in another one the liquid was moved, which disturbs it.
 */
function openSettling(batch: BatchState, vessel: VesselState, stage: Stage, atMs: number): void {
  const { settling } = batch;
  const open = settling.span;
  if (open?.vessel === vessel.name && open.toMs === null) return;
  if (stage === 'drain') return;
  const earned =
    open !== null && open.vessel === vessel.name
      ? settling.bankedMs + Math.max(0, (open.toMs ?? atMs) - open.fromMs)
      : 0;
  batch.settling = {
    bankedMs: earned,
    span: { vessel: vessel.name, fromMs: atMs, toMs: null, runs: [] },
    goneOn: false,
  };
  // A stage noted afterwards: what the stirrer did since is known already.
  mergeLate(vessel.samples);
  const { t, ratio, hold } = vessel.samples.mixing;
  for (let i = 0; i < t.length; i++) {
    if (t[i]! >= atMs) noteSettlingSpeed(batch.settling, t[i]!, ratio[i]!, hold[i]!);
  }
}

/** Keeps the samples of the stage under way and of the one before it. */
function forgetSamples(site: SiteState, vessel: VesselState, keepFromMs: number): void {
  for (const batch of Object.values(site.batches)) {
    batch.pass.spans = batch.pass.spans.filter((span) => {
      if (span.vessel !== vessel.name || span.toMs === null || span.toMs > keepFromMs) return true;
      add(batch.pass.banked, spanReactionTime(vessel, span.fromMs, span.toMs));
      return false;
    });
  }
  dropSamplesBefore(vessel.samples, keepFromMs);
  forgetLost(vessel, keepFromMs);
}

/**
 * From here on another plan counts: what was earned so far stays as the old one had it. Before this a
 * reading that comes late earns nothing any more.
 */
export function bankReactionTime(batch: BatchState, vessel: VesselState): void {
  // None that waits to be put in its place is the newest.
  const newestMs = vessel.samples.temperature.t.at(-1);
  if (newestMs === undefined) return;
  for (const span of batch.pass.spans) {
    if (span.vessel !== vessel.name) continue;
    const toMs = Math.min(span.toMs ?? newestMs, newestMs);
    if (toMs <= span.fromMs) continue;
    add(batch.pass.banked, spanReactionTime(vessel, span.fromMs, toMs));
    span.fromMs = toMs;
  }
}

/** Liquid that comes into an idle vessel brings its methanol from the vessel of the batch that held it. */
function takeOverMethanol(site: SiteState, vessel: VesselState): void {
  vessel.methanolPresent ||= others(site, vessel).some(
    (other) => other.methanolPresent && !other.holdsGlycerol,
  );
}

/** `dose` empties the methoxide vessel, `settle` elsewhere the reactor. */
function emptyOthers(
  site: SiteState,
  vessel: VesselState,
  stage: Stage,
  atMs: number,
  arrivedMs: number,
  judge: (vessel: VesselState) => void,
  out: EngineOutput[],
): void {
  const emptied: Stage | undefined =
    stage === 'dose' ? 'methoxide' : stage === 'settle' ? 'react' : undefined;
  for (const other of others(site, vessel)) {
    if (other.stage !== emptied || other.holdsGlycerol) continue;
    const batch = batchOf(site, other);
    change(site, other, batch, 'idle', atMs, arrivedMs);
    other.methanolPresent = false;
    judge(other);
    if (batch.id !== RUN) release(site, other);
    out.push({ type: 'stage', vessel: other.name, stage: 'idle', batch: other.batch, atMs });
  }
}

/** The batch's other vessels. */
export const others = (site: SiteState, vessel: VesselState): VesselState[] =>
  Object.values(site.vessels).filter((other) => other !== vessel && other.batch === vessel.batch);

/** All its vessels are idle again and free; in a rejected or voided batch the liquid stays where it is. */
function endBatch(
  site: SiteState,
  vessel: VesselState,
  batch: BatchState,
  stage: Stage,
  atMs: number,
  arrivedMs: number,
  judge: (vessel: VesselState) => void,
): void {
  for (const member of [vessel, ...others(site, vessel)]) {
    change(site, member, batch, 'idle', atMs, arrivedMs);
    member.batchEndedMs = atMs;
    // What becomes of the glycerol, nobody has said.
    if (stage === 'finished' && !member.holdsGlycerol) member.methanolPresent = false;
    judge(member);
    if (batch.id !== RUN) release(site, member);
  }
  if (batch.id !== RUN) delete site.batches[batch.id];
}

/** Frees an emptied vessel; what its samples earned for the batch is banked before they go. */
function release(site: SiteState, vessel: VesselState): void {
  forgetSamples(site, vessel, Number.POSITIVE_INFINITY);
  leave(vessel);
}

function leave(vessel: VesselState): void {
  // The one batch of a recorded run keeps its vessels.
  if (vessel.batch === RUN) return;
  vessel.batch = null;
  vessel.plan = null;
  vessel.stated = null;
  vessel.samples = noSamples();
  delete vessel.holdsGlycerol;
}

/**
 * Liquid goes to another vessel of the batch, with its methanol. What becomes the fuel takes its stage along and
 * leaves the first vessel empty and free; its settling counts as far as it had come, since moving disturbs it.
 * Glycerol is drained into the other vessel, and the first goes on as it was.
 */
export function moveLiquid(
  site: SiteState,
  moved: { from: VesselState; to: VesselState; what: Moved; atMs: number; arrivedMs: number },
  judge: (vessel: VesselState) => void,
  out: EngineOutput[],
): void {
  const { from, to, what, atMs, arrivedMs } = moved;
  const batch = batchOf(site, from);
  to.methanolPresent ||= from.methanolPresent;
  const arrive = (stage: Stage): void => {
    setStage(to, stage, atMs, arrivedMs);
    out.push({ type: 'stage', vessel: to.name, stage, batch: to.batch, atMs });
    judge(to);
  };
  if (what === 'glycerol') {
    to.holdsGlycerol = true;
    arrive('drain');
    if (from.holdsGlycerol) enterStageOfGlycerol(from, 'idle', atMs, arrivedMs, judge, out);
    return;
  }
  const isReacting = batch.pass.spans.some((span) => span.vessel === from.name && span.toMs === null);
  closeSpans(batch, from, 'idle', atMs);
  if (isReacting) {
    batch.pass.spans.push({ vessel: to.name, fromMs: atMs, toMs: null });
    batch.reactor = to.name;
  }
  to.reactingSinceMs = from.reactingSinceMs;
  arrive(from.stage);
  change(site, from, batch, 'idle', atMs, arrivedMs);
  from.methanolPresent = false;
  judge(from);
  out.push({ type: 'stage', vessel: from.name, stage: 'idle', batch: from.batch, atMs });
  if (batch.id !== RUN) release(site, from);
}

/** Speed readings that settling goes by, in order or late. */
export function noteMixingForSettling(
  site: SiteState,
  vessel: VesselState,
  atMs: number,
  ratio: number,
  holdMs: number,
): void {
  const batch = vessel.batch === null ? undefined : site.batches[vessel.batch];
  if (batch?.settling.span?.vessel === vessel.name) noteSettlingSpeed(batch.settling, atMs, ratio, holdMs);
}
