import { describe, expect, test } from 'vitest';
import { conversionPercent, type ReactionInputs } from '../../shared/chemistry/kinetics.ts';
import { percentAfter, type Stretch } from './chemistry/whole-system.ts';
import { end, every, type Line, liquid, play, speed, stage, vesselLine } from './run.ts';

type Told = Omit<ReactionInputs, 'temperatureC'>;

/** What the chemistry takes of a plan that names none. */
const USUAL: Told = {
  methanolToOilMolar: 6,
  catalyst: 'NaOH',
  catalystPercentOfOilMass: 0.5,
  acidNumberMgKOHPerG: 0,
  passSharesPercent: [100],
};
const SECONDS = 5;
const PLAN = { reactionTemperatureC: 55, lowestStirrerSpeed: 200, readingEverySeconds: SECONDS };

type Estimate = Record<'conversionPercent' | 'conversionPercentLow' | 'conversionPercentHigh', number>;
const FIELDS = {
  low: 'conversionPercentLow',
  value: 'conversionPercent',
  high: 'conversionPercentHigh',
} as const;
const BOUNDS = ['low', 'value', 'high'] as const;

function estimate(...lines: (Line | Line[])[]): Estimate {
  const { summaries, refused } = play(...lines);
  expect(refused).toEqual([]);
  return summaries.r1 as unknown as Estimate;
}

/** Readings of a stretch from a second on, both ends included, with the stirrer turning or not. */
const readings = (from: number, { minutes, fromC, toC }: Stretch, rpm = 300): Line[] =>
  every(from, from + minutes * 60, SECONDS, (s) => [
    liquid(s, fromC + ((toC - fromC) * (s - from)) / (minutes * 60)),
    speed(s, rpm),
  ]);

/** Readings of stretches on end. */
function run(from: number, stretches: readonly Stretch[]): { lines: Line[]; to: number } {
  const lines: Line[] = [];
  let to = from;
  for (const stretch of stretches) {
    lines.push(...readings(to, stretch));
    to += stretch.minutes * 60;
  }
  return { lines, to };
}

const still = (minutes: number, celsius: number): Stretch => ({ minutes, fromC: celsius, toC: celsius });

/** The integrator's 1e-3, and the mean of two readings' speeds for what lies between them. */
const TOLERANCE = 2e-3;
function expectIntegrated(found: Estimate, told: Told, passes: readonly (readonly Stretch[])[]): void {
  for (const bound of BOUNDS)
    expect(Math.abs(found[FIELDS[bound]] - percentAfter(told, passes, bound))).toBeLessThan(TOLERANCE);
}

describe('the conversion that a run’s readings show, against the whole system integrated by ODEX', () => {
  const RAMPS: readonly Stretch[] = [
    { minutes: 10, fromC: 41, toC: 56 },
    { minutes: 5, fromC: 56, toC: 52 },
    { minutes: 6, fromC: 52, toC: 36 },
    still(4, 36),
    { minutes: 8, fromC: 36, toC: 58 },
  ];

  test('over a temperature that ramps up, down into a cold stretch, and up again', () => {
    const { lines, to } = run(0, RAMPS);
    expectIntegrated(estimate(vesselLine(PLAN), stage(0, 'react'), lines, end(to)), USUAL, [RAMPS]);
  });

  test('whatever temperature is planned', () => {
    const { lines } = run(0, RAMPS);
    for (const reactionTemperatureC of [45, 60])
      expectIntegrated(
        estimate(vesselLine({ ...PLAN, reactionTemperatureC }), stage(0, 'react'), lines),
        USUAL,
        [RAMPS],
      );
  });

  test('of the chemistry that the plan names', () => {
    const { lines } = run(0, RAMPS);
    const chemistry = {
      methanolToOilMolar: 4.8,
      catalyst: 'KOH' as const,
      catalystPercentOfOilMass: 0.9,
      acidNumberMgKOHPerG: 2,
    };
    expectIntegrated(
      estimate(vesselLine({ ...PLAN, chemistry }), stage(0, 'react'), lines),
      { ...USUAL, ...chemistry },
      [RAMPS],
    );
  });

  test('over mixed time only: while the stirrer stands it stays as it is, and then goes on', () => {
    const first = { minutes: 5, fromC: 45, toC: 55 };
    const second = { minutes: 6, fromC: 50, toC: 55 };
    const turning = [vesselLine(PLAN), stage(0, 'react'), readings(0, first)];
    // From the last reading at speed to the first one at speed again nothing is shown to be mixed.
    const standing = readings(300 + SECONDS, { minutes: 7, fromC: 55, toC: 50 }, 0);
    const again = 300 + SECONDS + 420 + SECONDS;

    const stopped = estimate(...turning);
    expectIntegrated(stopped, USUAL, [[first]]);
    expect(estimate(...turning, standing.slice(0, 20))).toMatchObject(pick(stopped));
    expect(estimate(...turning, standing)).toMatchObject(pick(stopped));
    const whole = estimate(...turning, standing, readings(again, second));
    expectIntegrated(whole, USUAL, [[first, second]]);
    for (const bound of BOUNDS) expect(whole[FIELDS[bound]]).toBeGreaterThan(stopped[FIELDS[bound]]);
  });

  test('not over a gap in the readings', () => {
    const first = still(4, 55);
    const second = still(4, 55);
    const lines = [
      vesselLine(PLAN),
      stage(0, 'react'),
      readings(0, first),
      readings(1200, second),
      end(1500),
    ];
    expectIntegrated(estimate(...lines), USUAL, [[first, second]]);
  });

  test('in two passes, the glycerol drained between them', () => {
    const shares = { passSharesPercent: [80, 20] };
    const told = { ...USUAL, ...shares };
    const first = run(60, RAMPS);
    const secondPass = [{ minutes: 12, fromC: 44, toC: 56 }];
    const start = first.to + 3600;
    const firstLines = [
      vesselLine({ ...PLAN, chemistry: shares }),
      stage(0, 'dose'),
      stage(60, 'react'),
      first.lines,
    ];
    const lines = [
      ...firstLines,
      stage(first.to, 'settle'),
      stage(start - 60, 'dose'),
      stage(start, 'react'),
      run(start, secondPass).lines,
    ];
    expectIntegrated(estimate(...firstLines), told, [RAMPS]);
    const both = estimate(...lines);
    expectIntegrated(both, told, [RAMPS, secondPass]);
    for (const bound of BOUNDS)
      expect(both[FIELDS[bound]]).toBeGreaterThan(estimate(...firstLines)[FIELDS[bound]]);
  });
});

const pick = (of: Estimate): Estimate =>
  Object.fromEntries(Object.values(FIELDS).map((field) => [field, of[field]])) as Estimate;

describe('two passes', () => {
  /** So many passes of 20 min at 55 °C, a dose before each. */
  const passes = (count: number, passSharesPercent: number[]): Line[] => {
    const lines = [vesselLine({ ...PLAN, chemistry: { passSharesPercent } })];
    for (let pass = 0; pass < count; pass++) {
      const start = pass * 10_000;
      lines.push(stage(start, 'dose'), stage(start + 60, 'react'), ...readings(start + 60, still(20, 55)));
      lines.push(stage(start + 1320, 'settle'));
    }
    return lines;
  };
  const of = (minutes: number[], passSharesPercent: number[]) => {
    const { low, value, high } = conversionPercent({
      ...USUAL,
      passSharesPercent,
      temperatureC: 55,
      minutes,
    });
    return {
      conversionPercentLow: expect.closeTo(low, 6),
      conversionPercent: expect.closeTo(value, 6),
      conversionPercentHigh: expect.closeTo(high, 6),
    };
  };

  test('of 80 and 20 % give more than the first alone', () => {
    expect(estimate(passes(1, [80, 20]))).toMatchObject(of([20], [80, 20]));
    expect(estimate(passes(2, [80, 20]))).toMatchObject(of([20, 20], [80, 20]));
    expect(estimate(passes(2, [80, 20])).conversionPercent).toBeGreaterThan(
      estimate(passes(1, [80, 20])).conversionPercent + 1,
    );
  });

  test('and a third that nobody planned go on with the last', () => {
    expect(estimate(passes(3, [80, 20]))).toMatchObject(of([20, 40], [80, 20]));
    expect(estimate(passes(2, [100]))).toMatchObject(of([40], [100]));
  });

  test('of which the second is only being dosed are the first', () => {
    expect(estimate([...passes(1, [80, 20]), stage(9000, 'dose')])).toEqual(
      expect.objectContaining(pick(estimate(passes(1, [80, 20])))),
    );
  });
});

describe('the summary’s conversion', () => {
  test('is there where the plan names no chemistry, by the usual one: 6:1, 0.5 % NaOH, at 55 °C', () => {
    const lines = [stage(0, 'react'), readings(0, still(60, 55))];
    const found = estimate(vesselLine({ readingEverySeconds: SECONDS }), ...lines);
    const { low, value, high } = conversionPercent({ ...USUAL, temperatureC: 55, minutes: [60] });
    expect(found.conversionPercent).toBeCloseTo(value, 6);
    expect(found.conversionPercentLow).toBeCloseTo(low, 6);
    expect(found.conversionPercentHigh).toBeCloseTo(high, 6);
    expect(found.conversionPercentLow).toBeLessThan(found.conversionPercent);
    expect(found.conversionPercent).toBeLessThan(found.conversionPercentHigh);
    // An hour of a usual batch: 93 to 98 % (Freedman 1984) is within the bounds.
    expect(found.conversionPercentLow).toBeLessThan(93);
    expect(found.conversionPercentHigh).toBeGreaterThan(98);
  });

  const none = { conversionPercent: 0, conversionPercentLow: 0, conversionPercentHigh: 0 };
  test('is 0 where no stage was told, before the reaction, and without mixing', () => {
    expect(estimate(vesselLine(PLAN), readings(0, still(10, 55)))).toMatchObject(none);
    expect(
      estimate(vesselLine(PLAN), stage(0, 'warm'), stage(10, 'dose'), readings(10, still(10, 55))),
    ).toMatchObject(none);
    expect(estimate(vesselLine(PLAN), stage(0, 'react'), readings(0, still(10, 55), 0))).toMatchObject(none);
    expect(estimate(vesselLine(PLAN), stage(0, 'react'), end(3600))).toMatchObject(none);
  });

  test('does not count time at boiling', () => {
    // Methanol boils at 64.5 °C here.
    const before = readings(0, still(5, 60));
    const boiling = readings(300 + SECONDS, still(5, 66));
    const start = [vesselLine(PLAN), stage(0, 'react'), before];
    expect(estimate(...start, boiling)).toMatchObject(pick(estimate(...start)));
  });

  test('counts what a person has stated to be mixed', () => {
    const temperatures = every(0, 1200, SECONDS, (s) => liquid(s, 55));
    const of = (plan: object) => estimate(vesselLine({ ...PLAN, ...plan }), stage(0, 'react'), temperatures);
    expectIntegrated(of({ mixingStated: true }), USUAL, [[still(20, 55)]]);
    expect(of({})).toMatchObject(none);
  });

  test('is 0 without catalyst, and with an acid that takes all of it', () => {
    const of = (chemistry: object) =>
      estimate(vesselLine({ ...PLAN, chemistry }), stage(0, 'react'), readings(0, still(10, 55)));
    expect(of({ catalystPercentOfOilMass: 0 })).toMatchObject(none);
    expect(of({ acidNumberMgKOHPerG: 10 })).toMatchObject(none);
  });

  test('is the batch’s: every vessel’s summary has the same', () => {
    const { summaries } = play(
      vesselLine(PLAN),
      vesselLine({}, { vessel: 's1', role: 'settling' }),
      stage(0, 'react'),
      readings(0, still(10, 55)),
    );
    expect(pick(summaries.s1 as unknown as Estimate)).toEqual(pick(summaries.r1 as unknown as Estimate));
    expect(pick(summaries.r1 as unknown as Estimate).conversionPercent).toBeGreaterThan(0);
  });
});
