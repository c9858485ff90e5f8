import { resolveWatchPlan, type WatchPlan } from '../plan/watch-plan.ts';
import { RULES } from '../rules/index.ts';
import type { AlarmName } from '../rules/names.ts';
import { off, type Rule, type Sight, type Verdict, WAKES, type Wake } from '../rules/rule.ts';
import type { AlarmFacts } from '../wire/api.ts';
import { isGraver, STAGES, type Stage } from '../wire/names.ts';
import { boilingPoint } from './boiling.ts';
import { hottestLiquid, lastLiquid, probeNumber } from './channels.ts';
import type { EngineInput, EngineOutput } from './events.ts';
import { causeOver, explainOthers, explanation } from './explaining.ts';
import { alarmChange, standingAlarms } from './standing.ts';
import {
  type ClearedAlarm,
  type RuleMemory,
  type SiteState,
  type VesselState,
  vesselNamed,
} from './state.ts';
import { steepestPerMinute, surgePerMinute, trendPerMinute } from './trend.ts';

/** A reading older than this on arrival raises what it raises as late, ms. */
const LATE_AFTER_MS = 60_000;
/** The most cleared alarms that a vessel carries along unacknowledged; the others are in the history. */
const MOST_UNACKNOWLEDGED = 100;
/** A watching plan for vessels without a batch. */
const NO_PLAN = resolveWatchPlan();

/** When something happened, and what it was. */
export interface Moment {
  atMs: number;
  arrivedMs: number;
  reading?: Extract<EngineInput, { type: 'reading' }>;
  downSinceMs?: number | null;
}

/** Wakes the rules that go by what has changed in a vessel. */
export function judge(
  state: SiteState,
  vessel: VesselState,
  wakes: readonly Wake[],
  moment: Moment,
  out: EngineOutput[],
): void {
  const sight = sightOf(state, vessel, wakes[0]!, moment);
  for (const wake of wakes) {
    sight.wake = wake;
    for (const rule of RULES_WOKEN[vessel.stage][wake]) judgeRule(rule, sight, moment, out);
  }
}

/** Wakes one rule of silence at its deadline. */
export function judgeSilence(
  state: SiteState,
  vessel: VesselState,
  rule: Rule,
  deadlineMs: number,
  out: EngineOutput[],
): void {
  const moment = { atMs: deadlineMs, arrivedMs: deadlineMs };
  judgeRule(rule, sightOf(state, vessel, 'silence', moment), moment, out);
}

const judgesIn = (rule: Rule, stage: Stage): boolean => rule.stages?.includes(stage) ?? true;

/** The start of a stage wakes those, too, that do not judge in it: for them it is `off`. */
const rulesWoken = (stage: Stage, wake: Wake): readonly Rule[] =>
  RULES.filter((rule) => (judgesIn(rule, stage) ? rule.wakes.includes(wake) : wake === 'stage'));

/** By the vessel's stage and what wakes them. */
const RULES_WOKEN = Object.fromEntries(
  STAGES.map((stage) => [stage, Object.fromEntries(WAKES.map((wake) => [wake, rulesWoken(stage, wake)]))]),
) as Record<Stage, Record<Wake, readonly Rule[]>>;

function judgeRule(rule: Rule, sight: Sight, moment: Moment, out: EngineOutput[]): void {
  const { vessel } = sight;
  sight.memory = vessel.memory[rule.alarm] ??= {};
  const isOff = sight.wake === 'stage' && !judgesIn(rule, vessel.stage);
  const verdict = isOff ? off : rule.judge(sight);
  const told = out.length;
  if (verdict === off) for (const key in sight.memory) delete sight.memory[key];
  if (verdict !== null) follow(vessel, rule, verdict, moment, out);
  // What a rule of silence waits for depends on what stands.
  if (out.length > told) sight.site.nothingDueBeforeMs = 0;
}

function sightOf(state: SiteState, vessel: VesselState, wake: Wake, moment: Moment): Sight {
  const { boilingC } = boilingPoint(state, vessel, moment.atMs);
  const liquid =
    hottestLiquid(vessel, moment.arrivedMs) ?? (wake === 'stage' ? lastLiquid(vessel, moment.atMs) : null);
  return new SightOf(state, vessel, wake, moment, boilingC, liquid);
}

class SightOf implements Sight {
  readonly site: SiteState;
  readonly vessel: VesselState;
  readonly plan: WatchPlan;
  readonly atMs: number;
  readonly arrivedMs: number;
  readonly channel: string | null;
  readonly value: number | null;
  readonly boilingC: number;
  readonly liquidC: number | null;
  readonly liquidChannel: string | null;
  readonly probe: number | null;
  readonly headroomC: number | null;
  readonly downSinceMs: number | null;
  wake: Wake;
  memory: RuleMemory = {};
  #trend: number | null | undefined;
  #surge: number | null | undefined;

  constructor(
    site: SiteState,
    vessel: VesselState,
    wake: Wake,
    { atMs, arrivedMs, reading, downSinceMs }: Moment,
    boilingC: number,
    liquid: { channel: string; value: number } | null,
  ) {
    this.site = site;
    this.vessel = vessel;
    this.plan = vessel.plan ?? NO_PLAN;
    this.wake = wake;
    this.atMs = atMs;
    this.arrivedMs = arrivedMs;
    this.channel = reading?.channel ?? null;
    this.value = reading?.value ?? null;
    this.boilingC = boilingC;
    this.liquidC = liquid?.value ?? null;
    this.liquidChannel = liquid?.channel ?? null;
    this.probe = liquid !== null && vessel.probes > 1 ? probeNumber(liquid.channel) : null;
    this.headroomC = liquid === null ? null : boilingC - liquid.value;
    this.downSinceMs = downSinceMs ?? null;
  }

  /** Few rules ask, and few readings need it: worked out when asked for. */
  get trendCPerMin(): number | null {
    if (this.#trend === undefined) this.#trend = trendPerMinute(this.#recent());
    return this.#trend;
  }

  mayRiseAt(cPerMin: number): boolean {
    const steepest = steepestPerMinute(this.#recent());
    // Rounding may make a mean a little more than the most.
    return steepest !== null && steepest >= cPerMin * (1 - 1e-9);
  }

  get surgeCPerMin(): number | null {
    if (this.#surge === undefined) this.#surge = surgePerMinute(this.#recent());
    return this.#surge;
  }

  #recent() {
    return this.liquidChannel === null ? [] : this.vessel.channels[this.liquidChannel]!.recent;
  }
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
    if (standing !== undefined) clearAlarm(vessel, rule, atMs, arrivedMs, out);
    return;
  }
  const { priority, value, limit } = verdict;
  const facts = toldToLeave(vessel, rule.alarm, verdict.facts);
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
    explainedBy: explanation(vessel, rule.alarm, priority, facts),
    shelved: null,
  };
  // Graver than what was acknowledged or shelved: that must be seen again. It has stood since it was first raised.
  vessel.alarms[rule.alarm] = {
    ...alarm,
    atMs: standing?.atMs ?? atMs,
    speaksFromMs: null,
    acknowledged: null,
  };
  out.push({ type: 'alarm', vessel: vessel.name, alarm: rule.alarm, event: 'raised', ...alarm });
  explainOthers(vessel, atMs, out);
  if (rule.alarm === LEAVING) adviseToLeave(vessel, out);
}

/** Who has to leave the room can do nothing in it: every other alarm then says but that. */
const LEAVING = 'vapour-high';
const mustLeave = ({ alarms }: VesselState): boolean => (alarms[LEAVING]?.priority ?? 'medium') !== 'medium';
const toldToLeave = (vessel: VesselState, alarm: AlarmName, facts: AlarmFacts): AlarmFacts =>
  alarm !== LEAVING && mustLeave(vessel) ? { ...facts, leave: true } : facts;

function adviseToLeave(vessel: VesselState, out: EngineOutput[]): void {
  const leave = mustLeave(vessel);
  for (const [alarm, standing] of standingAlarms(vessel)) {
    if (alarm === LEAVING || (standing.facts.leave === true) === leave) continue;
    const { leave: _, ...others } = standing.facts;
    standing.facts = leave ? { ...others, leave } : others;
    const { number, facts } = standing;
    out.push({ type: 'advice', vessel: vessel.name, alarm, number, facts });
  }
}

function clearAlarm(
  vessel: VesselState,
  rule: Rule,
  atMs: number,
  arrivedMs: number,
  out: EngineOutput[],
): void {
  const standing = vessel.alarms[rule.alarm]!;
  // Silence is raised at its deadline; the reading that ends it may be older than that. A clock set back since
  // leaves the deadline ahead.
  const clearedAtMs = Math.max(atMs, Math.min(standing.atMs, arrivedMs));
  delete vessel.alarms[rule.alarm];
  if (standing.acknowledged === null) {
    vessel.unacknowledged.push({ ...standing, shelved: null, alarm: rule.alarm, clearedAtMs });
    if (vessel.unacknowledged.length > MOST_UNACKNOWLEDGED) dropLeastGrave(vessel.unacknowledged);
  }
  out.push(alarmChange(vessel, rule.alarm, 'cleared', { ...standing, shelved: null }, clearedAtMs));
  causeOver(vessel, rule.alarm, arrivedMs);
  if (rule.alarm === LEAVING) adviseToLeave(vessel, out);
}

/** Drops the oldest of the least grave ones. */
function dropLeastGrave(alarms: ClearedAlarm[]): void {
  let least = 0;
  for (const [i, { priority }] of alarms.entries()) {
    if (isGraver(alarms[least]!.priority, priority)) least = i;
  }
  alarms.splice(least, 1);
}

/** A person has seen an alarm, standing or cleared. */
export function acknowledge(
  state: SiteState,
  input: Extract<EngineInput, { type: 'acknowledge' }>,
  out: EngineOutput[],
): void {
  const vessel = vesselNamed(state, input.vessel);
  if (vessel === undefined) return;
  const cleared = vessel.unacknowledged.findIndex(({ number }) => number === input.alarm);
  if (cleared !== -1) {
    const { alarm, clearedAtMs: _, ...rest } = vessel.unacknowledged.splice(cleared, 1)[0]!;
    out.push(alarmChange(vessel, alarm, 'acknowledged', rest, input.arrivedMs));
    return;
  }
  for (const rule of RULES) {
    const standing = vessel.alarms[rule.alarm];
    if (standing?.number !== input.alarm) continue;
    standing.acknowledged = { by: input.by, reason: input.reason, atMs: input.arrivedMs };
    out.push(alarmChange(vessel, rule.alarm, 'acknowledged', standing, input.arrivedMs));
    if (rule.wakes.includes('acknowledge')) {
      follow(vessel, rule, { holds: false }, { atMs: input.arrivedMs, arrivedMs: input.arrivedMs }, out);
    }
  }
}
