import type { SiteState, VesselState } from '../engine/state.ts';
import type { WatchPlan } from '../plan/watch-plan.ts';
import type { TemperatureUnit } from '../units/temperature.ts';
import type { AlarmFacts } from '../wire/api.ts';
import type { Priority, Stage } from '../wire/names.ts';
import type { AlarmName } from './names.ts';

/**
 * What a rule can be woken by. One input may be several of them.
 * `liquid`: a sound temperature of the liquid; `temperature`: any temperature reading, sound or not;
 * `mixing`: a sound reading of the vessel's mixing channel; `heater`: a sound heater reading;
 * `pressure`: a sound reading of the vessel's own pressure; `stage`: the vessel's stage changed;
 * `silence`: the rule's own deadline passed; `acknowledge`: the rule's standing alarm was acknowledged.
 */
export type Wake =
  | 'liquid'
  | 'temperature'
  | 'mixing'
  | 'heater'
  | 'pressure'
  | 'stage'
  | 'silence'
  | 'acknowledge';

/** What a rule sees when it is woken: the state after what woke it, and what is derived from it once. */
export interface Sight {
  wake: Wake;
  site: SiteState;
  vessel: VesselState;
  plan: WatchPlan;
  /** When it was so: a reading's or a stage's own time, or the deadline. Epoch ms. */
  atMs: number;
  arrivedMs: number;
  /** The channel of the reading that woke the rule. */
  channel: string | null;
  boilingC: number;
  /** Hottest sound liquid temperature of the probes that are not silent, °C. */
  liquidC: number | null;
  /** How far that is below boiling, °C. */
  headroomC: number | null;
  /** Only with `stage`: the stage before. */
  leftStage: Stage | null;
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
  judge(sight: Sight): Verdict;
  /** For a rule that judges silence: when it must be woken, by the arrival clock; null if not at all. */
  deadlineMs?(vessel: VesselState): number | null;
  /** One sentence on what happened and, apart, what to do, from the facts alone. */
  describe(facts: AlarmFacts, unit: TemperatureUnit): { because: string; todo: string };
}

export const clear: Verdict = { holds: false };
