import { beforeAll, describe, expect, it } from 'vitest';
import { parseReplayLine, type ReplayLine } from '../../shared/wire/replay-line.ts';
import { recordedRun } from '../../simulator/recording.ts';
import { SCENARIO_NAMES, SCENARIOS, type ScenarioName, variant } from '../../simulator/scenarios/index.ts';
import { type Alarm, type TruthOfRun, truthOf } from '../../simulator/truth.ts';
import { scenariosToRun } from '../support/thorough.ts';

/**
 * What a scenario says that it shows must be there to see in its lines, by somebody who has only those and
 * a table of boiling points.
 */

const START = Date.UTC(2026, 2, 2, 8);
const SEED = 5;

/** Methanol's vapour pressure: Antoine constants in Poling, Prausnitz & O'Connell, 5th ed., 262.6 to 356 K. */
const boilingC = (hPa: number): number => 1580.08 / (10.20277 - Math.log10(hPa * 100)) + 33.65 - 273.15;

type Point = readonly [minutes: number, value: number];

class Seen {
  readonly lines: ReplayLine[] = [];
  readonly truth: TruthOfRun;
  readonly #hPa: number;
  readonly #points = new Map<string, Point[]>();
  readonly #stages: { minutes: number; vessel: string; stage: string }[] = [];

  constructor(name: ScenarioName, seed: number) {
    const scenario = variant(name, seed);
    const settings = { seed, startMs: START };
    this.truth = truthOf(scenario, settings);
    this.#hPa = scenario.surroundings.pressureHPa;
    for (const text of recordedRun(scenario, settings)) {
      const line = parseReplayLine(text);
      if (line.type === 'refused') throw new Error(`${line.because}: ${text}`);
      this.lines.push(line);
      if (line.type === 'stage') {
        this.#stages.push({ minutes: minutesOf(line.atMs), vessel: line.vessel, stage: line.stage });
      }
      if (line.type !== 'reading') continue;
      const key = `${line.vessel}/${line.channel}`;
      const points = this.#points.get(key) ?? [];
      this.#points.set(key, points);
      points.push([minutesOf(line.atMs), line.value]);
    }
  }

  has(channel: string, vessel = 'r1'): boolean {
    return this.#points.has(`${vessel}/${channel}`);
  }

  of(channel: string, from = -1, to = Number.POSITIVE_INFINITY, vessel = 'r1'): Point[] {
    return (this.#points.get(`${vessel}/${channel}`) ?? []).filter(([at]) => at >= from && at <= to);
  }

  values(channel: string, from?: number, to?: number, vessel?: string): number[] {
    return this.of(channel, from, to, vessel).map(([, value]) => value);
  }

  stage(stage: string, vessel = 'r1'): number {
    return this.#stages.find((each) => each.stage === stage && each.vessel === vessel)!.minutes;
  }

  /** Below boiling, °C, at each reading of the liquid. */
  headrooms(from: number, to: number): Point[] {
    const pressures = this.of('vessel-pressure', -1, to);
    return this.of('liquid-temperature', from, to).map(([at, value]) => {
      const hPa = pressures.findLast((point) => point[0] <= at)?.[1] ?? this.#hPa;
      return [at, boilingC(hPa) - value];
    });
  }
}

const minutesOf = (ms: number): number => (ms - START) / 60_000;
const median = (values: number[]): number => [...values].sort((a, b) => a - b)[values.length >> 1]!;
const least = (points: Point[]): number => points.reduce((low, [, value]) => Math.min(low, value), Infinity);
const most = (values: number[]): number => values.reduce((high, value) => Math.max(high, value), -Infinity);

/** The mixing channel, a tenth of its lowest value, and the lowest. */
const mixing = (seen: Seen) =>
  seen.has('pump-flow')
    ? { channel: 'pump-flow', current: 'pump-current', stopped: 2, lowest: 20 }
    : seen.has('pump')
      ? { channel: 'pump', current: 'pump-current', stopped: 0.1, lowest: 1 }
      : { channel: 'stirrer-speed', current: 'stirrer-current', stopped: 20, lowest: 200 };

/** Whether a step of so many °C within so many seconds is there. */
const rises = (points: Point[], celsius: number, seconds: number): boolean =>
  points.some(([at, value]) =>
    points.some(([later, then]) => later > at && later - at <= seconds / 60 && then - value >= celsius),
  );

const longestGap = (points: Point[], from: number, to: number): number =>
  [...points.map(([at]) => at), to].reduce(
    ({ longest, last }, at) => ({ longest: Math.max(longest, at - last), last: at }),
    { longest: 0, last: from },
  ).longest * 60;

/** What shows each hazard between its beginning and the end of the time allowed for telling it, in minutes. */
const SHOWN: Record<Exclude<Alarm, 'not-watching'>, (seen: Seen, from: number, to: number) => boolean> = {
  'boiling-near': (seen, from, to) => least(seen.headrooms(from, to)) < 3,
  'boiling-reached': (seen, from, to) =>
    seen.headrooms(from, to).filter(([, headroom]) => headroom <= 0.5).length >= 2,
  'boiling-ahead': (seen, from, to) => {
    const boils = seen.headrooms(from, Infinity).find(([, headroom]) => headroom <= 0)!;
    return boils[0] - to > 55 / 60 && rises(seen.of('liquid-temperature', to - 3, to), 0.3, 180);
  },
  'too-hot-to-dose': (seen, from, to) => least(seen.headrooms(from, to)) < 5,
  'methoxide-warm-to-dose': (seen, from) =>
    seen.values('liquid-temperature', from - 1, from, 'm1').at(-1)! > boilingC(1013.25) - 25,
  'oil-overheated': (seen, from, to) => most(seen.values('liquid-temperature', from, to)) > 75,
  'condenser-warm': (seen, from, to) => {
    const seenLast = seen.values('condensate-temperature', to - 1, to);
    return most(seen.values('heater', from, to)) === 1 && (seenLast.length === 0 || most(seenLast) > 40);
  },
  'recover-overheated': (seen, from, to) => most(seen.values('liquid-temperature', from, to)) > 120,
  'heat-not-seen': (seen, from, to) => {
    const liquid = seen.of('liquid-temperature', from, to);
    const asked = seen.of('heater', from + 0.1, to).every(([, value]) => value === 1);
    const settled = liquid.filter(([at]) => at > from + 1.5).map(([, value]) => value);
    const flat = settled.length > 0 && Math.max(...settled) - Math.min(...settled) < 1;
    return asked && (flat || liquid[0]![1] - liquid.at(-1)![1] > 3);
  },
  'heater-stuck': (seen, from, to) =>
    most(seen.values('heater', from + 0.02, to)) === 0 &&
    rises(seen.of('liquid-temperature', from, to), 1.5, 180),
  'heater-on-draining': (seen, from, to) => most(seen.values('heater', from, to)) === 1,
  'reaction-cold': (seen, _from, to) => most(seen.values('liquid-temperature', to - 4.5, to)) < 55 - 8,
  'methoxide-hot': (seen, from, to) => least(seen.headrooms(from, to)) < 10,
  'rising-fast': (seen, from, to) => rises(seen.of('liquid-temperature', from, to), 1.5, 30),
  'mixing-stopped': (seen, from, to) => {
    const { channel, stopped } = mixing(seen);
    const still = seen.of(channel, from, to).filter(([, value]) => value < stopped);
    return still.at(-1)![0] - still[0]![0] >= 10 / 60 - 1e-9;
  },
  'mixing-slow': (seen, from, to) => {
    const { channel, stopped, lowest } = mixing(seen);
    const slow = seen.of(channel, from, to).filter(([, value]) => value >= stopped && value < lowest);
    return slow.at(-1)![0] - slow[0]![0] >= 0.5 - 1e-9;
  },
  'coupling-lost': (seen, from, to) => {
    const { channel, current, lowest } = mixing(seen);
    const settled = median(seen.values(current, from - 5, from));
    const least = most(seen.values(current, to - 10 / 60, to)) < 0.6 * settled;
    return least && seen.values(channel, from, to).every((value) => value >= lowest);
  },
  'motor-stalled': (seen, from, to) => {
    const { channel, current, stopped } = mixing(seen);
    const settled = median(seen.values(current, from - 5, from));
    return (
      seen.values(current, to - 2 / 60, to).every((value) => value > 1.5 * settled) &&
      seen.values(channel, to - 2 / 60, to).every((value) => value < stopped)
    );
  },
  'restart-hot': (seen, from, to) => {
    const { channel, stopped } = mixing(seen);
    const rested = most(seen.values(channel, from - 2, from - 0.01)) < stopped;
    return rested && seen.values(channel, to, to + 0.1)[0]! > stopped && least(seen.headrooms(from, to)) < 12;
  },
  'methoxide-short': (seen, from) =>
    seen.values('stirrer-speed', seen.stage('methoxide', 'm1'), from, 'm1').filter((value) => value >= 200)
      .length <
    10 * 60,
  'reaction-short': (seen, from) => from - seen.stage('react') < 0.95 * 60,
  'settling-short': (seen, from) => from - seen.stage('settle') < 24 * 60,
  'settling-disturbed': (seen, from, to) =>
    from > seen.stage('settle') + 2 &&
    seen.values('stirrer-speed', from - 10, from - 0.01).every((value) => value === 0) &&
    seen.values('stirrer-speed', from, to).filter((value) => value > 20).length >= 2,
  'reading-late': (seen, from, to) =>
    ['liquid-temperature', 'stirrer-speed'].some((channel) => {
      const everyS = 60 * median(gaps(seen.of(channel, from - 5, from)));
      return longestGap(seen.of(channel, from, to), from, to) > Math.max(15, 5 * everyS);
    }),
  'probe-frozen': (seen, from, to) => {
    const values = seen.values('liquid-temperature', from, to);
    return values.length >= 20 && new Set(values).size === 1;
  },
  'probe-jump': (seen, from, to) => {
    const points = seen.of('liquid-temperature', from - 0.05, to);
    return points.some(([, value], i) => i > 0 && Math.abs(value - points[i - 1]![1]) > 4);
  },
  'two-devices': (seen, from, to) => {
    const points = seen.of('liquid-temperature', from - 0.05, to);
    const hops = points.filter(([, value], i) => i > 0 && Math.abs(value - points[i - 1]![1]) > 18);
    return hops.length >= 4;
  },
  'probe-out-of-range': (seen, from, to) => seen.values('liquid-temperature', from, to).includes(-127),
  'probes-disagree': (seen, from, to) => {
    const second = new Map(seen.of('liquid-temperature-2', from, to));
    const apart = seen
      .of('liquid-temperature', to - 1, to)
      .map(([at, value]) => Math.abs(value - second.get(at)!));
    return apart.every((celsius) => celsius > 3);
  },
  'device-gone': (seen, from) =>
    seen.lines.some(
      (line) =>
        line.type === 'device' &&
        line.presence === 'gone' &&
        Math.abs(minutesOf(line.arrivedMs) - from) < 0.01,
    ),
  'vapour-high': (seen, from, to) => most(seen.values('room-vapour', from, to)) > 200,
};

const gaps = (points: Point[]): number[] => points.slice(1).map(([at], i) => at - points[i]![0]);

/** Hazards that no scenario is about: a daemon that was down is not for a simulator of vessels. */
const ELSEWHERE: Alarm[] = ['not-watching'];

describe.each(scenariosToRun())('%s', (name) => {
  const { expects } = SCENARIOS[name].truth;
  let seen: Seen;
  beforeAll(() => {
    seen = new Seen(name, SEED);
  });

  it('can be read, in the order in which it arrived, from its vessels to its end', () => {
    const { lines } = seen;
    const vessels = SCENARIOS[name].vessels.length;
    expect(lines.slice(0, vessels).every(({ type }) => type === 'vessel')).toBe(true);
    expect(lines.at(-1)!.type).toBe('end');
    let arrivedMs = START;
    let backwards = 0;
    for (const line of lines) {
      if (line.type === 'vessel') continue;
      if (line.arrivedMs < arrivedMs) backwards++;
      arrivedMs = Math.max(arrivedMs, line.arrivedMs);
    }
    expect(backwards).toBe(0);
  });

  if (expects.length > 0) {
    it('shows what it expects to be told, within the time that it gives for it', () => {
      const length = variant(name, SEED).lengthMinutes;
      for (const { alarm, from, withinSeconds } of seen.truth.expects) {
        expect(withinSeconds, alarm).toBeGreaterThan(0);
        const to = from + withinSeconds / 60;
        expect(to, alarm).toBeLessThan(length);
        expect(SHOWN[alarm as keyof typeof SHOWN](seen, from, to), `${alarm} from ${from} to ${to}`).toBe(
          true,
        );
      }
    });
  } else {
    it('shows nothing that anybody need be told', () => {
      const plan = variant(name, SEED).vessels[0]!.plan;
      if (!SCENARIOS[name].cues.some((cue) => cue.do === 'stage' && cue.stage === 'react')) return;
      const [dose, react, settle] = [seen.stage('dose'), seen.stage('react'), seen.stage('settle')];
      if (!seen.truth.allows.includes('probe-jump')) {
        expect(least(seen.headrooms(dose, settle + 600))).toBeGreaterThan(5);
      }
      expect(settle - react).toBeGreaterThan(63);
      if (plan.mixingStated || name === 'stirrer-off-early') return;
      const { channel, lowest } = mixing(seen);
      const unmixed = seen.of(channel, dose, settle - 0.01).filter(([, value]) => value < lowest);
      for (const [at] of unmixed) {
        const same = unmixed.filter((point) => point[0] >= at && point[0] < at + 1);
        expect(same.at(-1)![0] - at).toBeLessThan(15 / 60);
      }
    });
  }
});

it('there is a scenario for every hazard', () => {
  const told = new Set(
    SCENARIO_NAMES.flatMap((name) => SCENARIOS[name].truth.expects.map(({ alarm }) => alarm)),
  );
  const missing = [...Object.keys(SHOWN), ...ELSEWHERE].filter((alarm) => !told.has(alarm as Alarm));
  expect(missing).toEqual(ELSEWHERE);
});

it('a story that does not come to what it is about is a fault of its own', () => {
  const scenario = { ...variant('heater-runs-on', 1), lengthMinutes: 50 };
  expect(() => truthOf(scenario, { seed: 1, startMs: START })).toThrow(RangeError);
});
