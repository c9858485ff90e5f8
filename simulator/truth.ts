import type { Priority } from '../shared/wire/names.ts';
import { type RunSettings, run } from './run.ts';
import type { Scenario } from './scenario.ts';
import { insideHPa, pureBoilingC, type VesselState } from './vessel.ts';

/** Every alarm that a watcher of such vessels can be asked to raise. */
export const ALARMS = [
  'boiling-reached',
  'boiling-near',
  'boiling-ahead',
  'too-hot-to-dose',
  'methoxide-warm-to-dose',
  'oil-overheated',
  'condenser-warm',
  'recover-overheated',
  'heat-not-seen',
  'heater-stuck',
  'heater-on-draining',
  'reaction-cold',
  'methoxide-hot',
  'rising-fast',
  'mixing-stopped',
  'mixing-slow',
  'coupling-lost',
  'motor-stalled',
  'restart-hot',
  'methoxide-short',
  'reaction-short',
  'settling-short',
  'settling-disturbed',
  'reading-late',
  'probe-frozen',
  'probe-jump',
  'probe-out-of-range',
  'probes-disagree',
  'two-devices',
  'device-gone',
  'vapour-high',
  'not-watching',
] as const;
export type Alarm = (typeof ALARMS)[number];

/** What somebody who saw everything would say of a story. */
export interface Truth {
  /** Hazards that must be told. */
  expects: readonly Expectation[];
  /** What may be said as well: a hazard's consequence, or a doubt that is fair. Everything else is a false alarm. */
  allows: readonly Alarm[];
}

export interface Expectation {
  alarm: Alarm;
  vessel: string;
  /** From when on it is right to say it: the hazard begins. */
  from: Moment;
  /** What the delay counts from, where that is later: the hazard has become plain. */
  plainAt?: Moment;
  /** Seconds, without what readings take to show it; negative: it must be said so long before. */
  withinSeconds: number;
  /** Said with at least this priority, where the alarm has several. */
  atLeast?: Priority;
}

/** Minutes from the start, as the story has them or as they follow from what really happened. */
export type Moment = number | ((course: TrueCourse) => number);

export interface TruthOfRun {
  expects: readonly {
    alarm: Alarm;
    vessel: string;
    from: number;
    withinSeconds: number;
    atLeast?: Priority;
  }[];
  allows: readonly Alarm[];
}

/** Readings that a watcher may need to be sure: one that shows it and one that confirms it. */
const READINGS_TO_BE_SURE = 2;

/**
 * What must and what may be said of one run of a scenario. `from` is in minutes after its start;
 * `withinSeconds` takes in what readings at the run's interval need.
 * @throws RangeError where what the story is about never happens in this run
 */
export function truthOf(scenario: Scenario, settings: RunSettings): TruthOfRun {
  const { expects, allows } = scenario.truth;
  let course: TrueCourse | undefined;
  const minutes = (moment: Moment): number => {
    if (typeof moment === 'number') return moment;
    course ??= new TrueCourse(scenario, settings);
    return moment(course);
  };
  const everyS = (settings.readingEveryMs ?? scenario.readingEveryMs) / 1000;
  return {
    allows,
    expects: expects.map(({ from, plainAt, withinSeconds, ...told }) => {
      const fromMinutes = wholeMs(minutes(from));
      const plain = plainAt === undefined ? fromMinutes : minutes(plainAt);
      const readingsS = withinSeconds < 0 ? 0 : READINGS_TO_BE_SURE * everyS;
      return {
        ...told,
        from: fromMinutes,
        withinSeconds: (plain - fromMinutes) * 60 + withinSeconds + readingsS,
      };
    }),
  };
}

/** Not later than the millisecond at which the run does it. */
const wholeMs = (minutes: number): number => Math.floor(minutes * 60_000) / 60_000;

/** What really is at one moment, whatever any instrument shows. */
export interface TrueMoment {
  minutes: number;
  ambientC: number;
  pressureHPa: number;
  vapourPpm: number;
  vessels: Readonly<Record<string, VesselState>>;
}

/** How far a vessel's liquid is below the boiling point of pure methanol at its pressure, °C. */
export function headroomC(moment: TrueMoment, vessel: string): number {
  const state = moment.vessels[vessel]!;
  return pureBoilingC(insideHPa(state, moment)) - state.liquidC;
}

/** What really happens in one run of a scenario, second by second. */
export class TrueCourse {
  readonly #moments: TrueMoment[] = [];

  constructor(scenario: Scenario, settings: RunSettings) {
    const items = run(scenario, settings, (moment) => this.#moments.push(moment));
    while (!items.next().done);
  }

  /**
   * Minutes at which something first holds, from `afterMinutes` on.
   * @throws RangeError where it never does
   */
  first(afterMinutes: number, holds: (moment: TrueMoment) => boolean): number {
    const moment = this.#moments.find((each) => each.minutes >= afterMinutes && holds(each));
    if (!moment) throw new RangeError('what the story is about never happens');
    return moment.minutes;
  }

  /** All moments in order of time. */
  get moments(): readonly TrueMoment[] {
    return this.#moments;
  }
}
