import { describe, expect, test } from 'vitest';
import {
  BOILING_C,
  end,
  every,
  type Line,
  liquid,
  ofAlarm,
  play,
  reading,
  speed,
  stage,
  vesselLine,
} from './run.ts';

describe('credited reaction minutes', () => {
  const plan = { reactionTemperatureC: 55, lowestStirrerSpeed: 200 };
  const at55 = (s: number) => [liquid(s, 55), speed(s, 300)];
  const credited = (...lines: (Line | Line[])[]) =>
    play(vesselLine(plan), ...lines).summaries.r1!.creditedReactionMinutes;

  test('at the planned temperature are the time itself', () => {
    expect(credited(stage(0, 'react'), every(0, 3600, 1, at55))).toBeCloseTo(60, 9);
  });

  test('warmer than planned are no more than the time itself', () => {
    expect(
      credited(
        stage(0, 'react'),
        every(0, 600, 1, (s) => [liquid(s, 60), speed(s, 300)]),
      ),
    ).toBeCloseTo(10, 9);
  });

  test('10 °C colder are weighted by the Arrhenius factor', () => {
    // Ea 55,000 J/mol, R 8.31446 J/(mol K): Ea/R = 6614.99 K. 1/328.15 K = 0.003047387, 1/318.15 K =
    // 0.003143171; their difference is −9.5785e-5 1/K, times Ea/R −0.633615, and e to that 0.53067.
    expect(
      credited(
        stage(0, 'react'),
        every(0, 3600, 1, (s) => [liquid(s, 45), speed(s, 300)]),
      ) / 60,
    ).toBeCloseTo(0.53067, 4);
  });

  test('a colder start is made up for by a warmer end, but never beyond the time', () => {
    // Factors as above: 45 °C 0.53067; 50 °C e^(6614.99 · −4.71518e-5) = 0.73205; 55 °C 1;
    // 60 °C e^(6614.99 · 4.57358e-5) = 1.35330. Between two readings their mean counts.
    const steps = [50, 55];
    const run = credited(
      stage(0, 'react'),
      every(0, 1800, 5, (s) => [liquid(s, 45), speed(s, 300)]),
      every(1805, 1810, 5, (s) => [liquid(s, steps.shift()!), speed(s, 300)]),
      every(1815, 3600, 5, (s) => [liquid(s, 60), speed(s, 300)]),
    );
    const between = ((0.53067 + 0.73205) / 2 + (0.73205 + 1) / 2 + (1 + 1.3533) / 2) * 5;
    expect(run).toBeCloseTo((1800 * 0.53067 + between + 1785 * 1.3533) / 60, 2);
    expect(run).toBeLessThan(60);
  });

  test('without mixing are none', () => {
    const stops = (s: number) => [liquid(s, 55), speed(s, s > 60 && s < 120 ? 199 : 300)];
    // From 60 to 61 s and from 119 to 120 s one end is not at speed.
    expect(credited(stage(0, 'react'), every(0, 180, 1, stops))).toBeCloseTo(2, 9);
  });

  test('without a speed channel are none, unless a person has stated that it mixes', () => {
    const only = every(0, 600, 1, (s) => liquid(s, 55));
    expect(credited(stage(0, 'react'), only)).toBe(0);
    expect(
      play(vesselLine({ ...plan, mixingStated: true }), stage(0, 'react'), only).summaries.r1!
        .creditedReactionMinutes,
    ).toBeCloseTo(10, 9);
    // A channel that says otherwise is believed.
    expect(
      play(
        vesselLine({ ...plan, mixingStated: true }),
        stage(0, 'react'),
        every(0, 600, 1, (s) => [liquid(s, 55), speed(s, 0)]),
      ).summaries.r1!.creditedReactionMinutes,
    ).toBe(0);
  });

  test('by a pump', () => {
    const pumped = (channel: string, value: number, rest: object) =>
      play(
        vesselLine({ ...plan, ...rest }),
        stage(0, 'react'),
        every(0, 600, 1, (s) => [liquid(s, 55), reading(s, channel, value)]),
      ).summaries.r1!.creditedReactionMinutes;
    expect(pumped('pump', 1, {})).toBeCloseTo(10, 9);
    expect(pumped('pump', 0, {})).toBe(0);
    expect(pumped('pump-flow', 10, { lowestPumpFlow: 10 })).toBeCloseTo(10, 9);
    expect(pumped('pump-flow', 9.9, { lowestPumpFlow: 10 })).toBe(0);
  });

  test('while boiling are none', () => {
    const boils = (s: number) => [liquid(s, s > 60 && s < 120 ? BOILING_C + 0.01 : 64), speed(s, 300)];
    expect(credited(stage(0, 'react'), every(0, 180, 1, boils))).toBeCloseTo(2, 9);
  });

  test('over a gap of more than 3 intervals of either channel are none', () => {
    const from = (seconds: number) => [
      ...every(0, 60, 1, at55),
      ...every(60 + seconds, 120 + seconds, 1, at55),
    ];
    expect(credited(stage(0, 'react'), from(3))).toBeCloseTo(123 / 60, 9);
    expect(credited(stage(0, 'react'), from(4))).toBeCloseTo(2, 9);
    const temperatureGap = every(0, 124, 1, (s) => (s > 60 && s < 64 ? [speed(s, 300)] : at55(s)));
    expect(credited(stage(0, 'react'), temperatureGap)).toBeCloseTo(2, 9);
    const speedGap = every(0, 124, 1, (s) => (s > 60 && s < 64 ? [liquid(s, 55)] : at55(s)));
    expect(credited(stage(0, 'react'), speedGap)).toBeCloseTo(2, 9);
  });

  test('go by the channel’s own interval where it is longer than the plan’s', () => {
    const slow = every(0, 600, 20, at55);
    expect(credited(stage(0, 'react'), slow)).toBeCloseTo(10, 9);
    const gap = [...every(0, 600, 20, at55), ...every(661, 1261, 20, at55)];
    expect(credited(stage(0, 'react'), gap)).toBeCloseTo(20, 9);
    const shorter = [...every(0, 600, 20, at55), ...every(660, 1260, 20, at55)];
    expect(credited(stage(0, 'react'), shorter)).toBeCloseTo(21, 9);
  });

  test('are those in react, with the readings before its start to begin from', () => {
    expect(
      credited(
        stage(0, 'warm'),
        every(0, 100, 10, at55),
        stage(105, 'react'),
        every(110, 160, 10, at55),
        stage(165, 'settle'),
      ),
    ).toBeCloseTo(55 / 60, 9);
  });

  test('start anew with each dose', () => {
    expect(
      credited(
        stage(0, 'react'),
        every(0, 600, 1, at55),
        stage(601, 'settle'),
        stage(602, 'drain'),
        stage(603, 'dose'),
        every(603, 620, 1, at55),
        stage(620, 'react'),
        every(621, 740, 1, at55),
      ),
    ).toBeCloseTo(2, 9);
  });

  test('but a second react without a dose adds up, whatever came between', () => {
    expect(
      credited(
        stage(0, 'react'),
        every(0, 60, 1, at55),
        stage(60, 'settle'),
        stage(5000, 'warm'),
        every(5000, 5060, 1, at55),
        stage(5060, 'react'),
        every(5061, 5120, 1, at55),
      ),
    ).toBeCloseTo(2, 9);
  });

  test('go by the plan that held when they were earned', () => {
    const colder = vesselLine({ ...plan, reactionTemperatureC: 65 });
    // At 55 °C against 65 °C: e^(6614.99 · (1/338.15 − 1/328.15)) = e^(−0.596145) = 0.55093.
    expect(
      credited(stage(0, 'react'), every(0, 600, 1, at55), colder, every(601, 1200, 1, at55)),
    ).toBeCloseTo(10 + 10 * 0.55093, 2);
  });

  test('are not more for an unconfirmed jump that comes twice', () => {
    const lines = [
      liquid(0, 20),
      stage(1, 'react'),
      liquid(2, 50),
      speed(2, 300),
      liquid(3, 50),
      speed(3, 300),
    ];
    expect(credited(lines)).toBe(0);
    expect(credited(lines.flatMap((line) => [line, line]))).toBe(0);
  });

  test('go by the first probe that is not silent', () => {
    const second = (s: number) => [reading(s, 'liquid-temperature-2', 45), speed(s, 300)];
    const both = (s: number) => [liquid(s, 55), ...second(s)];
    expect(credited(stage(0, 'react'), every(0, 600, 1, both))).toBeCloseTo(10, 9);
    expect(credited(stage(0, 'react'), every(0, 600, 1, second))).toBeCloseTo(10 * 0.53067, 2);
  });
});

describe('credited settling hours', () => {
  const plan = { requiredSettleHours: 1, lowestStirrerSpeed: 200 };
  const credited = (...lines: (Line | Line[])[]) =>
    play(vesselLine(plan), ...lines).summaries.r1!.creditedSettleHours;
  const at = (from: number, to: number, value: number, step = 1) =>
    every(from, to, step, (s) => speed(s, value));

  test('run in settle and the drain after it, with no speed channel as well', () => {
    expect(credited(stage(0, 'settle'), end(5400))).toBeCloseTo(1.5, 9);
    expect(credited(stage(0, 'settle'), stage(1800, 'drain'), end(5400))).toBeCloseTo(1.5, 9);
    expect(credited(stage(0, 'settle'), stage(1800, 'wash'), end(5400))).toBeCloseTo(0.5, 9);
    expect(credited(stage(0, 'drain'), end(5400))).toBe(0);
  });

  test('start from zero after a disturbance of 10 s above a tenth of the lowest speed', () => {
    const disturbed = (seconds: number, value: number) =>
      credited(
        stage(0, 'settle'),
        at(0, 1790, 0, 10),
        at(1800, 1800 + seconds, value),
        at(1801 + seconds, 1810 + seconds, 0),
        end(5400),
      );
    expect(disturbed(10, 20)).toBeCloseTo(1.5, 9);
    expect(disturbed(9, 21)).toBeCloseTo(1.5, 9);
    expect(disturbed(10, 21)).toBeCloseTo((5400 - 1811) / 3600, 9);
  });

  test('are none while it is being disturbed', () => {
    expect(credited(stage(0, 'settle'), at(0, 1800, 0, 10), at(1801, 1900, 100))).toBe(0);
  });

  test('a stirrer may run out in the first 2 minutes where it was not at rest yet', () => {
    const start = [stage(0, 'settle')];
    expect(credited(...start, at(0, 110, 100, 10), at(120, 130, 0, 10), end(3600))).toBeCloseTo(1, 9);
    expect(credited(...start, at(0, 140, 100, 10), at(150, 160, 0, 10), end(3600))).toBeCloseTo(
      3450 / 3600,
      9,
    );
    // Once at rest it has run out.
    expect(
      credited(...start, at(0, 20, 0, 10), at(30, 50, 100, 10), at(60, 70, 0, 10), end(3600)),
    ).toBeCloseTo(3540 / 3600, 9);
  });

  test('a disturbance makes the settling short', () => {
    const run = play(
      vesselLine(plan),
      stage(0, 'settle'),
      at(0, 1790, 0, 10),
      at(1800, 1820, 100),
      at(1821, 1830, 0),
      stage(3700, 'wash'),
    );
    expect(ofAlarm(run, 'settling-short')).toEqual(['3700 raised medium']);
  });

  test('are kept until the next dose', () => {
    const settled = [stage(0, 'settle'), stage(3600, 'drain'), stage(7200, 'warm')];
    expect(credited(settled, end(9000))).toBeCloseTo(2, 9);
    expect(credited(settled, stage(8000, 'dose'), end(9000))).toBe(0);
    expect(credited(settled, stage(8000, 'settle'), end(9800))).toBeCloseTo(2.5, 9);
  });

  test('start from zero in another vessel: the liquid was moved', () => {
    const run = play(
      vesselLine(plan),
      vesselLine(plan, { vessel: 's1' }),
      stage(0, 'settle'),
      stage(3600, 'settle', 's1'),
      end(5400),
    );
    expect(run.summaries.s1?.creditedSettleHours).toBeCloseTo(0.5, 9);
  });

  test('a speed reading that comes late disturbs what it belongs to', () => {
    const late = every(1800, 1820, 1, (s) => speed(s, 100, { arrived: '2026-03-02T11:30:00.000Z' }));
    expect(credited(stage(0, 'settle'), at(0, 1790, 0, 10), at(1830, 5400, 0, 10), late)).toBeCloseTo(
      (5400 - 1830) / 3600,
      9,
    );
  });
});
