import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import type { Stage } from '../../../shared/wire/names.ts';
import {
  BOILING_C,
  every,
  type Line,
  liquid,
  ofAlarm,
  play,
  reading,
  speed,
  stage,
  vesselLine,
} from '../run.ts';
import { todos } from './todo.ts';

/** A rise from so far below boiling, so steep, from second 0 on, a reading so often. */
const rise = (belowC: number, perMinute: number, toSeconds: number, everySeconds = 1): Line[] =>
  every(0, toSeconds, everySeconds, (s) => liquid(s, BOILING_C - belowC + (perMinute * s) / 60));
const inStage = (name: Stage, lines: Line[], plan: object = {}) => [
  vesselLine(plan),
  stage(0, name),
  ...lines,
];
const ahead = (name: Stage, lines: Line[], plan: object = {}) =>
  ofAlarm(play(inStage(name, lines, plan)), 'boiling-ahead');

describe('boiling-ahead is raised', () => {
  test('when the trend reaches boiling within 5 min', () => {
    // 1 °C/min: 5 °C below boiling is 5 min ahead, 300.3 s after the start.
    expect(ahead('prewash', rise(10.005, 1, 300))).toEqual([]);
    expect(ahead('prewash', rise(10.005, 1, 301))).toEqual(['301 raised high']);
    const [line] = play(inStage('prewash', rise(10.005, 1, 301))).alarmLines;
    expect(line).toMatchObject({ value: expect.closeTo(5, 1), limit: 5, late: false });
    expect(line?.because).toContain('about 5 min');
  });

  test('by the plan’s own limit, and cleared by half as much again', () => {
    const plan = { limits: { aheadMinutes: 2 } };
    expect(ahead('prewash', rise(10.005, 1, 480), plan)).toEqual([]);
    expect(ahead('prewash', rise(10.005, 1, 481), plan)).toEqual(['481 raised high']);
  });

  test('from a trend of 0.12 °C/min on', () => {
    const plan = { limits: { aheadMinutes: 50 } };
    expect(ahead('prewash', rise(5.5, 0.119, 300), plan)).toEqual([]);
    expect(ahead('prewash', rise(5.5, 0.121, 300), plan)).toEqual(['45 raised high']);
  });

  test('only with a trend: 3 readings over 45 s', () => {
    expect(ahead('prewash', rise(4, 1, 44))).toEqual([]);
    expect(ahead('prewash', rise(4, 1, 45))).toEqual(['45 raised high']);
    expect(ahead('prewash', rise(4, 1, 40, 40))).toEqual([]);
    // Two runs of readings with a gap of 200 s between them: the second needs its own 45 s.
    const gap = [...rise(8, 1, 20), ...every(221, 264, 1, (s) => liquid(s, BOILING_C - 8 + s / 60))];
    expect(ahead('prewash', gap)).toEqual([]);
    expect(
      ahead('prewash', [...gap, ...every(265, 266, 1, (s) => liquid(s, BOILING_C - 8 + s / 60))]),
    ).toEqual(['266 raised high']);
  });

  test('within half a minute, however often readings come', () => {
    for (const [everySeconds, latest] of [
      [0.2, 301],
      [1, 301],
      [10, 310],
      [30, 330],
    ] as const) {
      const [raised] = ahead('prewash', rise(10.005, 1, 400, everySeconds), {
        readingEverySeconds: everySeconds,
      });
      expect(Number.parseFloat(raised ?? '')).toBeGreaterThanOrEqual(300);
      expect(Number.parseFloat(raised ?? '')).toBeLessThanOrEqual(latest);
    }
  });
});

describe('boiling-ahead looks', () => {
  test('in dose and react only above plan + 1.5 °C', () => {
    for (const name of ['dose', 'react'] as const) {
      // 2 °C/min from 50 °C: 56.5 °C after 195 s, within 5 min of boiling long before.
      const from50 = (to: number) => every(0, to, 1, (s) => liquid(s, 50 + (2 * s) / 60));
      expect(ahead(name, from50(195))).toEqual([]);
      expect(ahead(name, from50(196))).toEqual(['196 raised high']);
      // With a plan near boiling, 3 °C below it: 61.549 °C after 346.5 s.
      expect(ahead(name, from50(346), { reactionTemperatureC: 62 })).toEqual([]);
      expect(ahead(name, from50(347), { reactionTemperatureC: 62 })).toEqual(['347 raised high']);
    }
    expect(ahead('esterify', rise(14, 2, 180))).not.toEqual([]);
  });

  test('below that too while it rises fast', () => {
    const steady = every(0, 200, 1, (s) => liquid(s, 45));
    const rising = (perMinute: number) =>
      every(201, 300, 1, (s) => liquid(s, 45 + (perMinute * (s - 200)) / 60));
    // After 100 s at 4 °C/min it is at 51.7 °C, 3.2 min ahead.
    const fast = play(inStage('react', [...steady, ...rising(4)]));
    expect(ofAlarm(fast, 'rising-fast')).toHaveLength(1);
    expect(ofAlarm(fast, 'boiling-ahead')).toHaveLength(1);
    expect(ahead('react', [...steady, ...rising(2.9)])).toEqual([]);
  });

  test('in methoxide only with less than 25 °C of headroom, by the plan’s limit', () => {
    const lines = (to: number) => every(0, to, 1, (s) => liquid(s, 30 + (6 * s) / 60));
    expect(ahead('methoxide', lines(95))).toEqual([]);
    expect(ahead('methoxide', lines(96))).toEqual(['96 raised high']);
    const plan = { limits: { methoxideAheadMarginC: 15 } };
    expect(ahead('methoxide', lines(195), plan)).toEqual([]);
    expect(ahead('methoxide', lines(196), plan)).toEqual(['196 raised high']);
  });

  test('wherever methanol is, but not in recover', () => {
    expect(ahead('warm', rise(5, 1, 200))).toEqual([]);
    expect(ahead('warm', rise(5, 1, 100), { methanolInFeed: true })).toEqual(['45 raised high']);
    expect(ahead('recover', rise(5, 1, 200), { methanolInFeed: true })).toEqual([]);
    for (const name of ['settle', 'drain', 'wash', 'dry-fuel'] as const) {
      expect(ahead(name, rise(5, 1, 100), { methanolInFeed: true, requiredSettleHours: 0 })).toEqual([
        '45 raised high',
      ]);
    }
  });

  test('at the vessel’s own boiling point under vacuum', () => {
    // 500 hPa: methanol boils at 47.6 °C (computed).
    const lines = every(0, 60, 1, (s) => liquid(s, 43 + s / 60));
    expect(ahead('prewash', lines)).toEqual([]);
    expect(ahead('prewash', [reading(0, 'vessel-pressure', 500), ...lines])).toEqual(['45 raised high']);
  });

  test('at the hottest probe', () => {
    const lines = every(0, 60, 1, (s) => [liquid(s, 50), reading(s, 'liquid-temperature-2', 60 + s / 60)]);
    expect(ahead('prewash', lines)).toEqual(['45 raised high']);
    const cold = every(0, 60, 1, (s) => [liquid(s, 40 + s / 60), reading(s, 'liquid-temperature-2', 60)]);
    expect(ahead('prewash', cold)).toEqual([]);
  });
});

describe('boiling-ahead clears', () => {
  /** Up by 1 °C/min for 301 s, to 4.99 °C below boiling, then on at another rate for two minutes. */
  const then = (perMinute: number, seconds = 120) => [
    ...rise(10.005, 1, 301),
    ...every(302, 301 + seconds, 1, (s) =>
      liquid(s, BOILING_C - 10.005 + 301 / 60 + (perMinute * (s - 301)) / 60),
    ),
  ];

  test('when boiling is more than 7.5 min ahead', () => {
    expect(ahead('prewash', then(0))).toEqual(['301 raised high', expect.stringContaining('cleared high')]);
    // At 0.75 °C/min boiling is 4.99 ÷ 0.75 = 6.7 min ahead, and nears.
    expect(ahead('prewash', then(0.75))).toEqual(['301 raised high']);
    // At 0.55 °C/min it is still 7.1 min ahead after 2 min, but was over 7.5 before.
    expect(ahead('prewash', then(0.55))).toEqual([
      '301 raised high',
      expect.stringContaining('cleared high'),
    ]);
  });

  test('where boiling is reached, and may come back when that is over', () => {
    const run = play(inStage('prewash', rise(6, 1, 331)));
    expect(ofAlarm(run, 'boiling-ahead')).toEqual(['61 raised high', '331 cleared high']);
    expect(ofAlarm(run, 'boiling-reached')).toEqual(['331 raised critical']);
  });

  test('with the methanol', () => {
    expect(ahead('prewash', [...rise(5, 1, 60), stage(61, 'recover')])).toEqual([
      '45 raised high',
      '61 cleared high',
    ]);
  });

  test('and a gap alone clears nothing', () => {
    expect(ahead('prewash', [...rise(5, 1, 60), liquid(600, 55)])).toEqual(['45 raised high']);
  });
});

test('boiling-ahead is kept and not told where boiling-near stands', () => {
  const alarm = (lines: Line[]) =>
    play(inStage('prewash', lines)).alarmLines.find((line) => line.alarm === 'boiling-ahead');
  expect(alarm(rise(2.9, 1, 50))).toMatchObject({ explainedBy: 'boiling-near' });
  expect(alarm(rise(4, 1, 50))).toMatchObject({ explainedBy: null });
});

test('what comes twice or late changes nothing of boiling-ahead', () => {
  const lines = rise(10.005, 1, 301);
  expect(
    ahead(
      'prewash',
      lines.flatMap((line) => [line, line]),
    ),
  ).toEqual(['301 raised high']);
  const old = lines.flatMap((line, s) => (s > 100 ? [line, liquid(s - 50, 30)] : [line]));
  expect(ahead('prewash', old)).toEqual(['301 raised high']);
});

test('noise and steps of the probe are no rise', () => {
  fc.assert(
    fc.property(
      fc.array(fc.double({ min: -0.15, max: 0.15, noNaN: true }), { minLength: 300, maxLength: 300 }),
      (noise) => {
        const lines = noise.map((c, s) => liquid(s, Math.round((BOILING_C - 5 + c) * 16) / 16));
        return ahead('prewash', lines).length === 0;
      },
    ),
    { numRuns: 50 },
  );
});

test('what to do goes by the stage', () => {
  const todo = (name: Stage, ...more: Line[]) =>
    todos('boiling-ahead', inStage(name, [...rise(5, 1, 60), ...more], { methanolInFeed: true }));
  expect(todo('prewash')).toEqual(['Turn the heat off now. Keep stirring.']);
  expect(todo('methoxide')).toEqual(['Turn the heat off now. Keep stirring. Add no more lye.']);
  expect(todo('settle')).toEqual(['Turn the heat off now.']);
  expect(todo('prewash', stage(61, 'settle'))).toEqual([
    'Turn the heat off now. Keep stirring.',
    'Turn the heat off now.',
  ]);
});

test('what to do about boiling near and reached goes by the stage too', () => {
  const todo = (alarm: string, c: number, ...more: Line[]) =>
    todos(alarm, vesselLine(), stage(0, 'react'), liquid(1, 62), liquid(2, c), ...more);
  expect(todo('boiling-near', 62, stage(3, 'settle'))).toEqual([
    'Turn the heat off. Keep stirring. Add no methoxide.',
    'Turn the heat off.',
  ]);
  const [reacting, settling] = todo('boiling-reached', 64.4, stage(3, 'settle'));
  expect(reacting).toMatch(/^Turn the heat off. Keep stirring. Add no methoxide. Keep flames/);
  expect(settling).toMatch(/^Turn the heat off. Keep flames/);
  // Stopped for over 2 min, and so not to be started again.
  const still = every(3, 200, 1, (s) => [speed(s, s < 10 ? 300 : 0), liquid(s, s < 150 ? 62 : 64.4)]);
  expect(todos('boiling-reached', vesselLine(), stage(0, 'react'), still)).toEqual([
    expect.stringContaining('Do not start the stirring again.'),
  ]);
});

test('and never tells to stir what has stood still over methoxide', () => {
  const lines = every(0, 330, 1, (s) => [
    speed(s, s < 20 ? 300 : 0),
    liquid(s, 50 + Math.max(0, s - 150) / 20),
  ]);
  expect(todos('boiling-ahead', inStage('react', lines))).toEqual([
    'Turn the heat off now. Do not start the stirring again. Add no methoxide.',
  ]);
});
