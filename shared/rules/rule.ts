import type { RuleMemory, SiteState, VesselState } from '../engine/state.ts';
import type { WatchPlan } from '../plan/watch-plan.ts';
import { formatTemperatureDifference, type TemperatureUnit } from '../units/temperature.ts';
import type { AlarmFacts } from '../wire/api.ts';
import type { Priority, Stage } from '../wire/names.ts';
import type { AlarmName } from './names.ts';

/**
 * What a rule can be woken by. One input may be several of them.
 * `liquid`: a sound temperature of the liquid; `temperature`: any temperature reading, sound or not;
 * `mixing`: a sound reading of the vessel's mixing channel; `current`: a sound one of what its drive draws;
 * `heater`, `pressure` (the vessel's own), `condensate`, `vapour`: a sound reading of that channel;
 * `senders`: who sends to a channel changed; `stage`: the vessel's stage changed; `device`: a device came or went; `start`: the watching began again;
 * `silence`: the rule's own deadline passed; `acknowledge`: the rule's standing alarm was acknowledged.
 */
export const WAKES = [
  'liquid',
  'temperature',
  'mixing',
  'current',
  'heater',
  'pressure',
  'condensate',
  'vapour',
  'senders',
  'stage',
  'device',
  'start',
  'silence',
  'acknowledge',
] as const;
export type Wake = (typeof WAKES)[number];

/** What a rule sees when it is woken: the state after what woke it, and what is derived from it once. */
export interface Sight {
  wake: Wake;
  site: SiteState;
  vessel: VesselState;
  plan: WatchPlan;
  /** When it was so: a reading's or a stage's own time, or the deadline. Epoch ms. */
  atMs: number;
  arrivedMs: number;
  /** The channel of the reading that woke the rule, and what it said. */
  channel: string | null;
  value: number | null;
  boilingC: number;
  /** Hottest sound liquid temperature of the probes that are not silent, °C, and which says so. */
  liquidC: number | null;
  liquidChannel: string | null;
  /** Its number, where the vessel has several. */
  probe: number | null;
  /** How far that is below boiling, °C. */
  headroomC: number | null;
  /** How fast that probe rises, °C/min; null with too few readings. */
  readonly trendCPerMin: number | null;
  /** Whether that can be so fast at all: far less work to know, and mostly it is not. */
  mayRiseAt(cPerMin: number): boolean;
  /** The same over the last half minute, which a sudden rise shows in first. */
  readonly surgeCPerMin: number | null;
  /** Only with `start`: since when nobody watched, epoch ms. */
  downSinceMs: number | null;
  /** What this rule noted for itself in this vessel. */
  memory: RuleMemory;
}

export type Verdict =
  /** The condition holds. For a standing alarm only a graver priority or other advice has an effect. */
  | { holds: true; priority: Priority; value: number | null; limit: number | null; facts: AlarmFacts }
  /** It no longer does. */
  | { holds: false }
  /** Nothing that this rule goes by has changed. */
  | null;

export interface Rule {
  alarm: AlarmName;
  wakes: readonly Wake[];
  /** The only stages that it judges in: at the start of any other it is `off`. Left out where it goes by more. */
  stages?: readonly Stage[];
  /** Alarms that this one follows from: while one of them stands that is no less grave, nobody is told of it. */
  explainedBy?: readonly AlarmName[];
  /** Where it does not always follow from them: whether this one, as these facts say it, does. */
  followsFrom?(vessel: VesselState, facts: AlarmFacts, cause: AlarmName): boolean;
  judge(sight: Sight): Verdict;
  /** For a rule that judges silence: when it must be woken, by the arrival clock; null if not at all. */
  deadlineMs?(vessel: VesselState): number | null;
  /** One sentence on what happened and, apart, what to do, from the facts alone. */
  describe(facts: AlarmFacts, unit: TemperatureUnit): { because: string; todo: string };
}

/** Which of several probes a temperature is of, to be put after it. */
export const byProbe = ({ probe }: AlarmFacts): string => (probe == null ? '' : ` (probe ${probe})`);

/** How far a liquid is from boiling, in words: '2.1 °C below', '0.4 °C above'. */
export const fromBoiling = (headroomC: number, unit: TemperatureUnit): string =>
  `${formatTemperatureDifference(Math.abs(headroomC), unit)} ${headroomC < 0 ? 'above' : 'below'}`;

/** The condition no longer holds. */
export const clear: Verdict = { holds: false };

/** The rule does not apply here: what it noted is void too. */
export const off: Verdict = { holds: false };

/** For how long a condition has held by the times of readings, ms; −1 while it does not. */
export function heldMs(memory: RuleMemory, holds: boolean, atMs: number, key = 'sinceMs'): number {
  if (!holds) {
    delete memory[key];
    return -1;
  }
  memory[key] ??= atMs;
  return atMs - memory[key];
}
