import type { WatchPlan } from '../plan/watch-plan.ts';
import type { AlarmName } from '../rules/names.ts';
import type { AlarmFacts } from '../wire/api.ts';
import type { Moved, Priority, Role, Stage } from '../wire/names.ts';

/**
 * What the engine is told, in the order of the site's positions. `arrivedMs` runs on the arrival
 * clock and never goes back but by a `clock-step`; `atMs` is when it was so. Both epoch ms.
 */
export type EngineInput =
  | { type: 'site'; arrivedMs: number; site: StatedPressure }
  | {
      type: 'vessel';
      arrivedMs: number;
      vessel: string;
      /** Null where it is known already. */
      role: Role | null;
      /** Null for a vessel that is only known, with no batch. */
      batch: { id: string; plan: WatchPlan; site: StatedPressure | null } | null;
    }
  | {
      type: 'reading';
      arrivedMs: number;
      atMs: number;
      vessel: string;
      channel: string;
      value: number;
      typed: boolean;
      /** `atMs` is the daemon's own arrival stamp, so that it moves with the daemon's clock. */
      stamped: boolean;
    }
  | { type: 'stage'; arrivedMs: number; atMs: number; vessel: string; stage: Stage; batch: string }
  /** Liquid of a batch goes from one of its vessels to another. */
  | { type: 'move'; arrivedMs: number; atMs: number; batch: string; vessel: string; to: string; what: Moved }
  /** Somebody says that a vessel without a batch is empty. */
  | { type: 'emptied'; arrivedMs: number; vessel: string }
  /** What stands of the test of the conversion (3/27) in the present pass. */
  | { type: 'conversion-test'; arrivedMs: number; batch: string; passed: boolean }
  | {
      type: 'device';
      arrivedMs: number;
      /** Null for one that may serve any vessel of the site. */
      vessel: string | null;
      device: string;
      presence: 'here' | 'gone';
    }
  /** Devices that send to one channel at the same time, by what they are known as; fewer than two: no longer. */
  | { type: 'senders'; arrivedMs: number; vessel: string; channel: string; senders: string[] }
  | {
      type: 'acknowledge';
      arrivedMs: number;
      vessel: string;
      alarm: number;
      by: string;
      reason: string | null;
    }
  /** A standing alarm is put aside until a stated time, by arrival. */
  | {
      type: 'shelve';
      arrivedMs: number;
      vessel: string;
      alarm: number;
      by: string;
      reason: string;
      untilMs: number;
    }
  /** The watching began (again) after it was down since `downSinceMs` at the latest. */
  | { type: 'start'; arrivedMs: number; downSinceMs: number | null }
  /** The wall clock, and with it the arrival clock, was set forward (or back) by so much. */
  | { type: 'clock-step'; arrivedMs: number; stepMs: number }
  /** Nothing happened, but it is so late now. */
  | { type: 'tick'; arrivedMs: number };

/** A pressure, or an altitude to work it out from. */
export type StatedPressure = { pressureHPa: number } | { altitudeM: number };

export interface AlarmChange {
  type: 'alarm';
  vessel: string;
  alarm: AlarmName;
  /**
   * `unshelved`: back from the shelf; `explained`: another alarm came that says enough of it; `unexplained`:
   * what explained it is over, and it speaks for itself.
   */
  event: 'raised' | 'cleared' | 'acknowledged' | 'shelved' | 'unshelved' | 'explained' | 'unexplained';
  /** The how-manieth alarm of the vessel: with the vessel's name its identity. */
  number: number;
  priority: Priority;
  late: boolean;
  atMs: number;
  value: number | null;
  limit: number | null;
  facts: AlarmFacts;
  explainedBy: AlarmName | null;
  shelved: Shelved | null;
}

/** Who put an alarm aside, why, since when without a break and until when, by arrival. */
export interface Shelved {
  by: string;
  reason: string;
  sinceMs: number;
  untilMs: number;
}

export type EngineOutput =
  | AlarmChange
  /** What to do about a standing alarm has changed with time. */
  | { type: 'advice'; vessel: string; alarm: AlarmName; number: number; facts: AlarmFacts }
  | { type: 'stage'; vessel: string; stage: Stage; batch: string | null; atMs: number };
