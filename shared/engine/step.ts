import { resolveWatchPlan } from '../plan/watch-plan.ts';
import { RULES } from '../rules/index.ts';
import type { Rule, Sight, Verdict, Wake } from '../rules/rule.ts';
import {
  channelKind,
  isGraver,
  isLiquidTemperature,
  MIXING_STAGES,
  type Role,
  type Stage,
} from '../wire/names.ts';
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
} from './channels.ts';
import type { EngineInput, EngineOutput } from './events.ts';
import { addSample, noSamples } from './reaction-time.ts';
import { isJump, soundness } from './soundness.ts';
import { bankReactionTime, enterStage, newBatch, noteMixingForSettling } from './stages.ts';
import { type ChannelState, type SiteState, type VesselState, vesselNamed } from './state.ts';
import { TREND_SPAN_MS } from './trend.ts';

/** A reading older than this on arrival raises what it raises as late, ms. */
const LATE_AFTER_MS = 60_000;
/** A gap of more than so many intervals between readings shows nothing. */
const GAP_INTERVALS = 3;
/** At a stage's start the last temperature known still tells how hot the oil is, ms. */
const KNOWN_AT_STAGE_MS = 600_000;
/** The most cleared alarms that a vessel carries along unacknowledged; older ones are in the history. */
const MOST_UNACKNOWLEDGED = 100;
/** A watching plan for vessels without a batch. */
const NO_PLAN = resolveWatchPlan();

/**
 * The rule engine: what was known, and what happened next, give what is known then and what the rules
 * say to it. Time comes from the inputs alone. The state given is changed in place and returned.
 */
export function step(state: SiteState, input: EngineInput): [SiteState, EngineOutput[]] {
  const out: EngineOutput[] = [];
  if (input.type === 'clock-step') shiftArrivalClock(state, input.stepMs);
  advance(state, input.type === 'start' ? (input.downSinceMs ?? state.nowMs) : input.arrivedMs, out);
  state.nowMs = Math.max(state.nowMs, input.arrivedMs);
  switch (input.type) {
    case 'site':
      state.stated = input.site;
      break;
    case 'vessel':
      takeVessel(state, input);
      break;
    case 'reading':
      takeReading(state, input, out);
      break;
    case 'stage': {
      const vessel = vesselNamed(state, input.vessel);
      if (vessel?.batch !== input.batch || isSameStage(vessel, input)) break;
      const judgeStage = (member: VesselState, left: Stage) =>
        judge(state, member, ['stage'], { atMs: input.atMs, arrivedMs: input.arrivedMs, left }, out);
      enterStage(state, vessel, input.stage, input.atMs, input.arrivedMs, judgeStage, out);
      break;
    }
    case 'acknowledge':
      acknowledge(state, input, out);
      break;
    case 'start':
      for (const vessel of Object.values(state.vessels)) vessel.watchedFromMs = input.arrivedMs;
      break;
    case 'clock-step':
    case 'tick':
      break;
  }
  return [state, out];
}

/** Whether a stage that is under way is told again; `idle` told again says more, that the vessel is empty. */
const isSameStage = (vessel: VesselState, input: { stage: Stage; atMs: number }): boolean =>
  input.stage !== 'idle' && input.stage === vessel.stage && input.atMs === vessel.stageAtMs;

// ---- time ----

/** Wakes the rules of silence whose deadline has passed, the earliest first. */
function advance(state: SiteState, nowMs: number, out: EngineOutput[]): void {
  for (;;) {
    let due: { vessel: VesselState; rule: Rule; deadlineMs: number } | undefined;
    for (const name in state.vessels) {
      const vessel = state.vessels[name]!;
      for (const rule of SILENCE_RULES) {
        const deadlineMs = rule.deadlineMs!(vessel);
        if (deadlineMs !== null && deadlineMs <= nowMs && deadlineMs < (due?.deadlineMs ?? Infinity)) {
          due = { vessel, rule, deadlineMs };
        }
      }
    }
    if (due === undefined) return;
    const moment = { atMs: due.deadlineMs, arrivedMs: due.deadlineMs };
    judgeRule(due.rule, sightOf(state, due.vessel, 'silence', moment), moment, out);
    // A rule whose deadline passed has judged: were it still due, this would not end.
    if (due.vessel.alarms[due.rule.alarm] === undefined) return;
  }
}

const SILENCE_RULES = RULES.filter((rule) => rule.deadlineMs !== undefined);

/**
 * The wall clock was set: what the daemon stamped itself moves along, as if it had been right before.
 * What devices stamped stays.
 */
function shiftArrivalClock(state: SiteState, byMs: number): void {
  state.nowMs += byMs;
  if (state.ambient?.stamped) state.ambient.atMs += byMs;
  for (const vessel of Object.values(state.vessels)) {
    vessel.stageAtMs += byMs;
    vessel.stageArrivedMs += byMs;
    vessel.watchedFromMs += byMs;
    for (const channel of Object.values(vessel.channels)) shiftChannel(channel, byMs);
    const leading = vessel.channels['liquid-temperature'];
    if (leading?.stamped) vessel.samples.temperature.t = vessel.samples.temperature.t.map((t) => t + byMs);
    const mixing = mixingChannel(vessel);
    if (mixing !== undefined && vessel.channels[mixing]!.stamped) {
      vessel.samples.mixing.t = vessel.samples.mixing.t.map((t) => t + byMs);
      if (vessel.mixing.stoppedSinceMs !== null) vessel.mixing.stoppedSinceMs += byMs;
      if (vessel.mixing.lastAtSpeedMs !== null) vessel.mixing.lastAtSpeedMs += byMs;
    }
  }
  for (const batch of Object.values(state.batches)) {
    for (const span of batch.pass.spans) {
      span.fromMs += byMs;
      if (span.toMs !== null) span.toMs += byMs;
    }
    const settling = batch.settling.span;
    if (settling === null) continue;
    settling.fromMs += byMs;
    if (settling.toMs !== null) settling.toMs += byMs;
    for (const run of settling.runs) {
      run.fromMs += byMs;
      run.toMs += byMs;
    }
  }
}

function shiftChannel(channel: ChannelState, byMs: number): void {
  channel.newest.arrivedMs += byMs;
  if (channel.sound !== null) channel.sound.arrivedMs += byMs;
  if (!channel.stamped) return;
  channel.newestAtMs += byMs;
  channel.newest.atMs += byMs;
  if (channel.sound !== null) channel.sound.atMs += byMs;
  if (channel.candidate !== null) channel.candidate.atMs += byMs;
  channel.recent = channel.recent.map(([t, value]) => [t + byMs, value]);
}

// ---- vessels ----

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
    vessel.methanolPresent = false;
    for (const channel of Object.values(vessel.channels)) channel.seenInBatch = false;
  }
  vessel.plan = plan;
  vessel.methanolPresent ||= plan.methanolInFeed;
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
    methanolPresent: false,
    channels: {},
    mixing: { stoppedSinceMs: null, seenAtSpeed: false, methoxideMs: 0, lastAtSpeedMs: null },
    samples: noSamples(),
    alarms: {},
    unacknowledged: [],
    alarmCount: 0,
    watchedFromMs: arrivedMs,
    suspect: { jump: [], range: [] },
    highestLiquidC: null,
    smallestHeadroomC: null,
  };
}

// ---- readings ----

type Reading = Extract<EngineInput, { type: 'reading' }>;

function takeReading(state: SiteState, reading: Reading, out: EngineOutput[]): void {
  const vessel = vesselNamed(state, reading.vessel);
  if (vessel === undefined) return;
  // Any valid name may be a channel's, `constructor` too.
  if (!Object.hasOwn(vessel.channels, reading.channel)) vessel.channels[reading.channel] = newChannel();
  const channel = vessel.channels[reading.channel]!;
  const { atMs, arrivedMs, value } = reading;
  if (atMs <= channel.newestAtMs) {
    fillIn(state, vessel, channel, reading);
    return;
  }

  noteGap(channel, arrivedMs);
  const verdict = soundness(reading.channel, channel, atMs, value, reading.typed);
  const sound = verdict === 'sound';
  channel.newestAtMs = atMs;
  channel.newest = { atMs, arrivedMs, value, sound, typed: reading.typed };
  channel.stamped = reading.stamped;
  channel.candidate = verdict === 'jump' ? { atMs, value } : sound ? null : channel.candidate;
  mark(vessel.suspect.range, reading.channel, verdict === 'out-of-range');
  // A value out of range says nothing of the jump before it.
  if (verdict !== 'out-of-range') mark(vessel.suspect.jump, reading.channel, verdict === 'jump');
  if (sound) {
    channel.sound = { atMs, arrivedMs, value };
    channel.seenInBatch = true;
    channel.seenInStage = true;
  }
  const wakes = sound ? takeSound(state, vessel, channel, reading) : [];
  if (channelKind(reading.channel) === 'temperature') wakes.unshift('temperature');
  if (wakes.length > 0) judge(state, vessel, wakes, { atMs, arrivedMs, reading }, out);
}

function mark(list: string[], channel: string, present: boolean): void {
  const index = list.indexOf(channel);
  if (present && index === -1) list.push(channel);
  if (!present && index !== -1) list.splice(index, 1);
}

/** What a sound reading changes, by what its channel means. */
function takeSound(state: SiteState, vessel: VesselState, channel: ChannelState, reading: Reading): Wake[] {
  const { atMs, value } = reading;
  if (isLiquidTemperature(reading.channel)) {
    takeLiquid(state, vessel, channel, reading);
    return ['liquid'];
  }
  if (reading.channel === 'heater') return ['heater'];
  if (reading.channel === 'vessel-pressure') return ['pressure'];
  if (reading.channel === 'ambient-pressure') {
    if (state.ambient === null || state.ambient.atMs < atMs) {
      state.ambient = { atMs, hPa: value, stamped: reading.stamped };
    }
    return [];
  }
  if (reading.channel !== mixingChannel(vessel)) return [];
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
  channel.recent.push([atMs, value]);
  while (atMs - channel.recent[0]![0] > TREND_SPAN_MS) channel.recent.shift();
  vessel.highestLiquidC = Math.max(vessel.highestLiquidC ?? value, value);
  if (vessel.methanolPresent) {
    const headroomC = boilingC - (hottestLiquid(vessel, arrivedMs)?.value ?? value);
    vessel.smallestHeadroomC = Math.min(vessel.smallestHeadroomC ?? headroomC, headroomC);
  }
  if (keepsSamples(vessel.stage) && leadingProbe(vessel, arrivedMs) === reading.channel) {
    const hold = GAP_INTERVALS * intervalMs(vessel, channel);
    addSample(vessel.samples.temperature, { t: atMs, c: value, below: value < boilingC, hold });
  }
}

/** Credit can only come from these; later stages may last for days. */
const keepsSamples = (stage: Stage): boolean =>
  stage === 'warm' || stage === 'dry-oil' || MIXING_STAGES.includes(stage);

function takeMixing(vessel: VesselState, atMs: number, ratio: number, holdMs: number): void {
  const { mixing } = vessel;
  if (ratio < STOPPED_RATIO) mixing.stoppedSinceMs ??= atMs;
  else mixing.stoppedSinceMs = null;
  if (ratio >= 1) {
    if (MIXING_STAGES.includes(vessel.stage)) mixing.seenAtSpeed = true;
    const beforeMs = mixing.lastAtSpeedMs;
    if (vessel.stage === 'methoxide' && beforeMs !== null && atMs - beforeMs <= holdMs) {
      mixing.methoxideMs += atMs - Math.max(beforeMs, vessel.stageAtMs);
    }
    mixing.lastAtSpeedMs = atMs;
  } else mixing.lastAtSpeedMs = null;
  if (keepsSamples(vessel.stage)) addSample(vessel.samples.mixing, { t: atMs, ratio, hold: holdMs });
}

/** A reading not newer than the newest of its channel: it completes history and credit, and raises nothing. */
function fillIn(state: SiteState, vessel: VesselState, channel: ChannelState, reading: Reading): void {
  const { atMs, value } = reading;
  // The newest itself, sent again: it has been judged, and nothing is to be completed.
  if (atMs === channel.newestAtMs || !inRange(reading.channel, value)) return;
  const hold = GAP_INTERVALS * intervalMs(vessel, channel);
  if (reading.channel === mixingChannel(vessel)) {
    const ratio = mixingRatio(vessel, reading.channel, value);
    addSample(vessel.samples.mixing, { t: atMs, ratio, hold });
    noteMixingForSettling(state, vessel, atMs, ratio, hold);
  } else if (leadingProbe(vessel, state.nowMs) === reading.channel) {
    const { t, c } = vessel.samples.temperature;
    const before = t.findLastIndex((sampleMs) => sampleMs < atMs);
    if (before !== -1 && isJump(c[before]!, value, atMs - t[before]!)) return;
    const { boilingC } = boilingPoint(state, vessel, atMs);
    addSample(vessel.samples.temperature, { t: atMs, c: value, below: value < boilingC, hold });
  }
}

// ---- judging ----

interface Moment {
  atMs: number;
  arrivedMs: number;
  reading?: Reading;
  left?: Stage;
}

function judge(
  state: SiteState,
  vessel: VesselState,
  wakes: readonly Wake[],
  moment: Moment,
  out: EngineOutput[],
): void {
  for (const wake of wakes) {
    const sight = sightOf(state, vessel, wake, moment);
    for (const rule of RULES_BY_WAKE[wake]) judgeRule(rule, sight, moment, out);
  }
}

const RULES_BY_WAKE: Record<Wake, readonly Rule[]> = {
  liquid: rulesWokenBy('liquid'),
  temperature: rulesWokenBy('temperature'),
  mixing: rulesWokenBy('mixing'),
  heater: rulesWokenBy('heater'),
  pressure: rulesWokenBy('pressure'),
  stage: rulesWokenBy('stage'),
  silence: rulesWokenBy('silence'),
  acknowledge: rulesWokenBy('acknowledge'),
};

function rulesWokenBy(wake: Wake): readonly Rule[] {
  return RULES.filter((rule) => rule.wakes.includes(wake));
}

function judgeRule(rule: Rule, sight: Sight, moment: Moment, out: EngineOutput[]): void {
  const verdict = rule.judge(sight);
  if (verdict !== null) follow(sight.vessel, rule, verdict, moment, out);
}

function sightOf(state: SiteState, vessel: VesselState, wake: Wake, moment: Moment): Sight {
  const { boilingC } = boilingPoint(state, vessel, moment.atMs);
  const liquid =
    hottestLiquid(vessel, moment.arrivedMs) ?? (wake === 'stage' ? knownRecently(vessel, moment.atMs) : null);
  return {
    wake,
    site: state,
    vessel,
    plan: vessel.plan ?? NO_PLAN,
    atMs: moment.atMs,
    arrivedMs: moment.arrivedMs,
    channel: moment.reading?.channel ?? null,
    boilingC,
    liquidC: liquid?.value ?? null,
    headroomC: liquid === null ? null : boilingC - liquid.value,
    leftStage: moment.left ?? null,
  };
}

function knownRecently(vessel: VesselState, atMs: number): { value: number } | null {
  const known = hottestLiquid(vessel, 0, true);
  return known !== null && atMs - known.atMs <= KNOWN_AT_STAGE_MS ? known : null;
}

/** Turns a verdict into what changes: raised, raised again as graver, other advice, cleared, or nothing. */
function follow(
  vessel: VesselState,
  rule: Rule,
  verdict: NonNullable<Verdict>,
  { atMs, arrivedMs, reading }: Moment,
  out: EngineOutput[],
): void {
  const standing = vessel.alarms[rule.alarm];
  if (!verdict.holds) {
    if (standing !== undefined) clearAlarm(vessel, rule, atMs, out);
    return;
  }
  const { priority, value, limit, facts } = verdict;
  if (standing !== undefined && !isGraver(priority, standing.priority)) {
    if (facts.advice !== standing.facts.advice) {
      standing.facts = facts;
      out.push({ type: 'advice', vessel: vessel.name, alarm: rule.alarm, number: standing.number, facts });
    }
    return;
  }
  const alarm = {
    number: standing?.number ?? ++vessel.alarmCount,
    priority,
    late: reading !== undefined && arrivedMs - reading.atMs > LATE_AFTER_MS,
    atMs,
    value,
    limit,
    facts,
  };
  // Graver than what was acknowledged: that must be seen again. It has stood since it was first raised.
  vessel.alarms[rule.alarm] = { ...alarm, atMs: standing?.atMs ?? atMs, acknowledged: null };
  out.push({ type: 'alarm', vessel: vessel.name, alarm: rule.alarm, event: 'raised', ...alarm });
}

function clearAlarm(vessel: VesselState, rule: Rule, atMs: number, out: EngineOutput[]): void {
  const standing = vessel.alarms[rule.alarm]!;
  // Silence is raised at its deadline; the reading that ends it may be older than that.
  const clearedAtMs = Math.max(atMs, standing.atMs);
  delete vessel.alarms[rule.alarm];
  if (standing.acknowledged === null) {
    vessel.unacknowledged.push({ ...standing, alarm: rule.alarm, clearedAtMs });
    if (vessel.unacknowledged.length > MOST_UNACKNOWLEDGED) vessel.unacknowledged.shift();
  }
  const { acknowledged: _, ...alarm } = standing;
  out.push({
    type: 'alarm',
    vessel: vessel.name,
    alarm: rule.alarm,
    event: 'cleared',
    ...alarm,
    atMs: clearedAtMs,
  });
}

function acknowledge(
  state: SiteState,
  input: Extract<EngineInput, { type: 'acknowledge' }>,
  out: EngineOutput[],
): void {
  const vessel = vesselNamed(state, input.vessel);
  if (vessel === undefined) return;
  const acknowledged = { by: input.by, reason: input.reason, atMs: input.arrivedMs };
  const cleared = vessel.unacknowledged.findIndex(({ number }) => number === input.alarm);
  if (cleared !== -1) {
    const [{ alarm, clearedAtMs: _, acknowledged: __, ...rest }] = vessel.unacknowledged.splice(
      cleared,
      1,
    ) as [(typeof vessel.unacknowledged)[number]];
    out.push({
      type: 'alarm',
      vessel: vessel.name,
      alarm,
      event: 'acknowledged',
      ...rest,
      atMs: input.arrivedMs,
    });
    return;
  }
  for (const rule of RULES) {
    const standing = vessel.alarms[rule.alarm];
    if (standing?.number !== input.alarm) continue;
    standing.acknowledged = acknowledged;
    const { acknowledged: _, ...rest } = standing;
    out.push({
      type: 'alarm',
      vessel: vessel.name,
      alarm: rule.alarm,
      event: 'acknowledged',
      ...rest,
      atMs: input.arrivedMs,
    });
    if (rule.wakes.includes('acknowledge')) {
      follow(vessel, rule, { holds: false }, { atMs: input.arrivedMs, arrivedMs: input.arrivedMs }, out);
    }
  }
}
