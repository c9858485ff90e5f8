import type { Wake } from '../rules/rule.ts';
import { channelKind, isLiquidTemperature, MIXING_STAGES } from '../wire/names.ts';
import { boilingPoint } from './boiling.ts';
import {
  hottestLiquid,
  inRange,
  intervalMs,
  leadingProbe,
  mixingChannel,
  mixingRatio,
  newChannel,
  noteGap,
  STOPPED_RATIO,
  silenceMs,
} from './channels.ts';
import { driveCurrentChannel, takeCurrent } from './drive.ts';
import type { EngineInput, EngineOutput } from './events.ts';
import { judge } from './judging.ts';
import { addSample, temperatureBefore } from './reaction-time.ts';
import { isJump, soundness } from './soundness.ts';
import { noteMixingForSettling } from './stages.ts';
import { type ChannelState, type SiteState, type VesselState, vesselNamed } from './state.ts';
import { LOOKS_BACK_MS } from './trend.ts';

/** A gap of more than so many intervals between readings shows nothing. */
const GAP_INTERVALS = 3;
/** The past of a probe is kept in steps of this … */
const PAST_STEP_MS = 10_000;
/** … and for as long as a rule may look back, ms. */
const PAST_SPAN_MS = 2 * 3_600_000;
/** Moving for less than this does not end a rest: the layers lie there still, ms. */
const BURST_MS = 30_000;
/** The mean of methanol in the room is of so long, taken in steps of this; a shorter gap is none, ms. */
const VAPOUR_SPAN_MS = 15 * 60_000;
const VAPOUR_STEP_MS = 15_000;
const VAPOUR_GAP_MS = 60_000;

type Reading = Extract<EngineInput, { type: 'reading' }>;

/** A reading, in order or late: what it changes, and what the rules say to it. */
export function takeReading(state: SiteState, reading: Reading, out: EngineOutput[]): void {
  const vessel = vesselNamed(state, reading.vessel);
  if (vessel === undefined) return;
  // Any valid name may be a channel's, `constructor` too.
  if (!Object.hasOwn(vessel.channels, reading.channel)) {
    const added = newChannel(reading.channel);
    vessel.channels[reading.channel] = added;
    if (added.isLiquid) vessel.probes++;
  }
  const channel = vessel.channels[reading.channel]!;
  const { atMs, arrivedMs, value } = reading;
  if (atMs <= channel.newestAtMs) {
    fillIn(state, vessel, channel, reading);
    return;
  }

  // One more reading of the kind that came before brings no deadline nearer but that of its own silence.
  const isOrdinary =
    channel.seenInStage &&
    !channel.newest.typed &&
    !reading.typed &&
    channelKind(reading.channel) !== 'pressure';
  noteGap(channel, reading);
  const verdict = soundness(reading.channel, channel, atMs, value, reading.typed);
  const sound = verdict === 'sound';
  channel.newestAtMs = atMs;
  channel.newest = { atMs, arrivedMs, value, sound, typed: reading.typed };
  channel.stamped = reading.stamped;
  channel.candidate = verdict === 'jump' ? { atMs, value } : sound ? null : channel.candidate;
  mark(vessel.suspect.range, reading.channel, verdict === 'out-of-range');
  // A value out of range says nothing of the jump before it.
  if (verdict !== 'out-of-range') mark(vessel.suspect.jump, reading.channel, verdict === 'jump');
  const silentMs = arrivedMs + silenceMs(vessel, channel);
  state.nothingDueBeforeMs = isOrdinary && sound ? Math.min(state.nothingDueBeforeMs, silentMs) : 0;
  if (sound) {
    channel.sound = { atMs, arrivedMs, value };
    channel.seenInBatch = true;
    channel.seenInStage = true;
  }
  const wakes = sound ? takeSound(state, vessel, channel, reading) : wokenByUnsound(reading.channel);
  if (wakes.length > 0) judge(state, vessel, wakes, { atMs, arrivedMs, reading }, out);
}

function mark(list: string[], channel: string, present: boolean): void {
  const index = list.indexOf(channel);
  if (present && index === -1) list.push(channel);
  if (!present && index !== -1) list.splice(index, 1);
}

const wokenByUnsound = (channel: string): Wake[] =>
  channelKind(channel) === 'temperature' ? ['temperature'] : [];

/** What a sound reading changes, by what its channel means, and what that wakes. */
function takeSound(state: SiteState, vessel: VesselState, channel: ChannelState, reading: Reading): Wake[] {
  const { atMs, value } = reading;
  if (isLiquidTemperature(reading.channel)) {
    takeLiquid(state, vessel, channel, reading);
    return ['temperature', 'liquid'];
  }
  if (reading.channel === 'heater') {
    const on = value === 1;
    if (vessel.heater?.on !== on) {
      vessel.heater = { on, sinceMs: atMs, sinceArrivedMs: reading.arrivedMs };
      state.nothingDueBeforeMs = 0;
    }
    return ['heater'];
  }
  if (reading.channel === 'condensate-temperature') return ['temperature', 'condensate'];
  if (reading.channel === 'room-vapour') {
    takeVapour(vessel, atMs, value, GAP_INTERVALS * intervalMs(vessel, channel));
    return ['vapour'];
  }
  if (reading.channel === 'vessel-pressure') return ['pressure'];
  if (reading.channel === 'ambient-pressure') {
    if (state.ambient === null || state.ambient.atMs < atMs) {
      state.ambient = { atMs, hPa: value, stamped: reading.stamped };
    }
    return [];
  }
  const mixes = mixingChannel(vessel);
  if (mixes !== undefined && reading.channel === driveCurrentChannel(mixes)) {
    takeCurrent(vessel, mixes, atMs, value);
    return ['current'];
  }
  if (reading.channel !== mixes) return [];
  const ratio = mixingRatio(vessel, reading.channel, value);
  const holdMs = GAP_INTERVALS * intervalMs(vessel, channel);
  takeMixing(vessel, atMs, ratio, holdMs);
  noteMixingForSettling(state, vessel, atMs, ratio, holdMs);
  return ['mixing'];
}

function takeLiquid(state: SiteState, vessel: VesselState, channel: ChannelState, reading: Reading): void {
  const { atMs, arrivedMs, value } = reading;
  const { boilingC } = boilingPoint(state, vessel, atMs);
  channel.previousHeadroomC = channel.headroomC;
  channel.headroomC = boilingC - value;
  if (!(atMs - (channel.recent.at(-1)?.[0] ?? Number.NEGATIVE_INFINITY) < RECENT_STEP_MS))
    channel.recent.push([atMs, value]);
  while (atMs - channel.recent[0]![0] > LOOKS_BACK_MS) channel.recent.shift();
  if (channel.past.length === 0 || atMs - channel.past.at(-1)![0] >= PAST_STEP_MS)
    channel.past.push([atMs, value]);
  if (atMs - channel.past[0]![0] > PAST_SPAN_MS) channel.past.shift();
  if (channel.same?.value === value) channel.same.count++;
  else channel.same = { value, sinceMs: atMs, count: 1 };
  vessel.highestLiquidC = Math.max(vessel.highestLiquidC ?? value, value);
  if (vessel.methanolPresent) {
    const headroomC = boilingC - (hottestLiquid(vessel, arrivedMs)?.value ?? value);
    vessel.smallestHeadroomC = Math.min(vessel.smallestHeadroomC ?? headroomC, headroomC);
  }
  if (keepsSamples(vessel, atMs) && leadingProbe(vessel, arrivedMs) === reading.channel) {
    const hold = GAP_INTERVALS * intervalMs(vessel, channel);
    addSample(vessel.samples, 'temperature', { t: atMs, c: value, below: value < boilingC, hold });
  }
}

/** Readings that follow each other faster add nothing to a trend but work, ms. */
const RECENT_STEP_MS = 50;

/** Credit can only come from these; later stages may last for days. */
function keepsSamples({ stage, stageAtMs, previousStage }: VesselState, atMs: number): boolean {
  // What was kept while the link was down may be of the stage before.
  const then = atMs < stageAtMs ? previousStage : stage;
  return then === 'warm' || then === 'dry-oil' || MIXING_STAGES.includes(then);
}

function takeMixing(vessel: VesselState, atMs: number, ratio: number, holdMs: number): void {
  const { mixing } = vessel;
  if (ratio < STOPPED_RATIO) {
    mixing.stoppedSinceMs ??= atMs;
    mixing.restSinceMs ??= atMs;
    mixing.movingSinceMs = null;
    mixing.lastMovingMs = null;
  } else {
    mixing.stoppedSinceMs = null;
    // Nobody saw it move through a gap.
    const goesOn = mixing.lastMovingMs !== null && atMs - mixing.lastMovingMs <= holdMs;
    if (!goesOn) mixing.movingSinceMs = atMs;
    mixing.lastMovingMs = atMs;
    if (atMs - mixing.movingSinceMs! >= BURST_MS) mixing.restSinceMs = null;
  }
  if (ratio >= 1 && MIXING_STAGES.includes(vessel.stage)) mixing.seenAtSpeed = true;
  if (keepsSamples(vessel, atMs)) {
    addSample(vessel.samples, 'mixing', { t: atMs, ratio, hold: holdMs });
  }
}

function takeVapour(vessel: VesselState, atMs: number, ppm: number, holdMs: number): void {
  const { vapour } = vessel;
  const newest = vapour.at(-1);
  const gapMs = newest === undefined ? 0 : atMs - newest.toMs;
  const isGap = gapMs > Math.max(holdMs, VAPOUR_GAP_MS);
  if (newest === undefined || isGap || newest.toMs - newest.fromMs >= VAPOUR_STEP_MS) {
    vapour.push({ fromMs: isGap ? atMs : atMs - gapMs, toMs: atMs, ppm, shownMs: 0, sum: 0 });
  }
  const span = vapour.at(-1)!;
  if (newest !== undefined && !isGap) {
    span.shownMs += gapMs;
    span.sum += ((newest.ppm + ppm) / 2) * gapMs;
  }
  span.toMs = atMs;
  span.ppm = ppm;
  while (atMs - vapour[0]!.toMs >= VAPOUR_SPAN_MS) vapour.shift();
}

/**
 * A reading not newer than the newest of its channel: it completes history and credit, and raises nothing. It is kept
 * in any stage: one that is noted afterwards may earn by it.
 */
function fillIn(state: SiteState, vessel: VesselState, channel: ChannelState, reading: Reading): void {
  const { atMs, value } = reading;
  // The newest itself, sent again: it has been judged, and nothing is to be completed.
  if (atMs === channel.newestAtMs || !inRange(reading.channel, value)) return;
  const hold = GAP_INTERVALS * intervalMs(vessel, channel);
  if (reading.channel === mixingChannel(vessel)) {
    const ratio = mixingRatio(vessel, reading.channel, value);
    addSample(vessel.samples, 'mixing', { t: atMs, ratio, hold });
    noteMixingForSettling(state, vessel, atMs, ratio, hold);
  } else if (leadingProbe(vessel, state.nowMs) === reading.channel) {
    const before = temperatureBefore(vessel.samples, atMs);
    if (before !== null && isJump(before.c, value, atMs - before.t)) return;
    const { boilingC } = boilingPoint(state, vessel, atMs);
    addSample(vessel.samples, 'temperature', { t: atMs, c: value, below: value < boilingC, hold });
  }
}
