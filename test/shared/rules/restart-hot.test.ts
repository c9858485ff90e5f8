import { describe, expect, test } from 'vitest';
import type { Stage } from '../../../shared/wire/names.ts';
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
} from '../run.ts';
import { todos } from './todo.ts';

const HOT_C = BOILING_C - 11;
/** At one temperature and speed. */
const turning = (from: number, to: number, value = 300, c = HOT_C): Line[] =>
  every(from, to, 1, (s) => [liquid(s, c), speed(s, value)]);
const still = (from: number, to: number, c = HOT_C) => turning(from, to, 0, c);
const restarts = (lines: Line[], { plan = {}, name = 'dose' as Stage } = {}) =>
  ofAlarm(play(vesselLine(plan), stage(0, name), ...lines), 'restart-hot');

describe('restart-hot is raised', () => {
  test('when it moves again after 2 min at rest', () => {
    expect(restarts([...turning(1, 40), ...still(41, 159), ...turning(160, 165)])).toEqual([]);
    expect(restarts([...turning(1, 40), ...still(41, 160), ...turning(161, 165)])).toEqual([
      '161 raised critical',
    ]);
    for (const name of ['dose', 'react'] as const) {
      expect(restarts([...still(1, 121), ...turning(122, 125)], { name })).toHaveLength(1);
    }
    for (const name of ['warm', 'esterify', 'methoxide', 'prewash', 'settle'] as const) {
      expect(restarts([...still(1, 200), ...turning(201, 205)], { name })).toEqual([]);
    }
  });

  test('at a tenth of the lowest speed already', () => {
    const plan = { lowestStirrerSpeed: 200 };
    expect(restarts([...still(1, 130), ...turning(131, 140, 19.9)], { plan })).toEqual([]);
    expect(restarts([...still(1, 130), ...turning(131, 140, 20)], { plan })).toEqual(['131 raised critical']);
  });

  test('under 12 °C of headroom, by the plan’s limit', () => {
    const at = (headroomC: number, plan = {}) => {
      const c = BOILING_C - headroomC;
      return restarts([...still(1, 130, c), ...turning(131, 140, 300, c)], { plan });
    };
    expect(at(12.01)).toEqual([]);
    expect(at(11.99)).toEqual(['131 raised critical']);
    expect(at(19.9, { limits: { restartMarginC: 20 } })).toHaveLength(1);
  });

  test('only by a rest in these stages: what stood still before held no methoxide', () => {
    const dosedAt = (dose: number) => [
      ...still(1, 300),
      stage(300.5, 'dose'),
      ...still(301, dose),
      ...turning(dose + 1, dose + 5),
    ];
    expect(restarts(dosedAt(419), { name: 'warm' })).toEqual([]);
    expect(restarts(dosedAt(420), { name: 'warm' })).toEqual(['421 raised critical']);
    // From the dose to the reaction it goes on.
    const through = [...still(1, 60), stage(60.5, 'react'), ...still(61, 125), ...turning(126, 130)];
    expect(restarts(through)).toEqual(['126 raised critical']);
  });

  test('also where bursts of under 30 s came between, but not after a longer run', () => {
    // Too cold for the alarm until the last restart.
    const cold = BOILING_C - 13;
    const burst = (seconds: number) => [
      ...still(1, 130, cold),
      ...turning(131, 130 + seconds, 300, cold),
      ...still(131 + seconds, 200),
      ...turning(201, 205),
    ];
    expect(restarts(burst(29))).toEqual(['201 raised critical']);
    expect(restarts(burst(31))).toEqual([]);
    // One reading that it moved, and a gap: nobody saw it move on.
    const gap = [
      ...still(1, 130, cold),
      ...turning(131, 131, 300, cold),
      ...still(170, 200),
      ...turning(201, 205),
    ];
    expect(restarts(gap)).toEqual(['201 raised critical']);
    const seenTwice = [
      ...still(1, 130, cold),
      ...turning(131, 131, 300, cold),
      ...turning(170, 171, 300, cold),
      ...still(172, 200),
      ...turning(201, 205),
    ];
    expect(restarts(seenTwice)).toEqual(['201 raised critical']);
  });

  test('as speed readings show it: a gap while it turned is no rest', () => {
    expect(restarts([...turning(1, 40), ...turning(300, 310)])).toEqual([]);
    expect(restarts(every(1, 400, 1, (s) => liquid(s, HOT_C)))).toEqual([]);
  });

  test('medium once 10 min are credited since the last dose', () => {
    // A restart adds nothing itself. At the planned temperature the credit is the time.
    const plan = { reactionTemperatureC: HOT_C, requiredReactionMinutes: 60 };
    const reacted = (seconds: number, ...between: Line[]) => [
      ...turning(0, seconds),
      ...between,
      ...still(seconds + 1, seconds + 140),
      ...turning(seconds + 141, seconds + 145),
    ];
    expect(restarts(reacted(599), { plan, name: 'react' })).toEqual(['740 raised critical']);
    expect(restarts(reacted(600), { plan, name: 'react' })).toEqual(['741 raised medium']);
    const dosed = [stage(600.2, 'dose'), stage(600.4, 'react')];
    expect(restarts(reacted(600, ...dosed), { plan, name: 'react' })).toEqual(['741 raised critical']);
  });

  test('for a pump alike, and with readings every 10 and 30 s', () => {
    const pumped = every(1, 140, 1, (s) => [liquid(s, HOT_C), reading(s, 'pump', s > 130 ? 1 : 0)]);
    expect(restarts(pumped)).toEqual(['131 raised critical']);
    const flow = every(1, 140, 1, (s) => [liquid(s, HOT_C), reading(s, 'pump-flow', s > 130 ? 10 : 0)]);
    expect(restarts(flow, { plan: { lowestPumpFlow: 10 } })).toEqual(['131 raised critical']);
    for (const everySeconds of [0.2, 10, 30]) {
      const rare = every(0, 240, everySeconds, (s) => [liquid(s, HOT_C), speed(s, s >= 150 ? 300 : 0)]);
      expect(restarts(rare, { plan: { readingEverySeconds: everySeconds } })[0]).toMatch(
        /^150 raised critical/,
      );
    }
  });

  test('by what the probe said last, if it was within 10 min: it starts but once', () => {
    const silent = (restart: number) => [
      ...still(1, 100),
      ...every(101, restart + 10, 1, (s) => speed(s, s >= restart ? 300 : 0)),
    ];
    expect(restarts(silent(151))).toEqual(['151 raised critical']);
    expect(restarts(silent(701))).toEqual([]);
  });

  test('once, whatever comes twice', () => {
    const lines = [...still(1, 130), ...turning(131, 140)];
    expect(restarts(lines.flatMap((line) => [line, line]))).toEqual(['131 raised critical']);
  });
});

describe('restart-hot clears', () => {
  const raised = [...still(1, 130), ...turning(131, 140)];
  const on = (perMinute: number, from: number, to: number) =>
    every(from, to, 1, (s) => [liquid(s, HOT_C + (perMinute * (s - from)) / 60), speed(s, 300)]);

  test('after 2 min of mixing with a trend under 0.3 °C/min', () => {
    expect(restarts([...raised, ...on(0.29, 141, 250)])).toHaveLength(1);
    expect(restarts([...raised, ...on(0.29, 141, 251)])).toEqual([
      '131 raised critical',
      '251 cleared critical',
    ]);
    expect(restarts([...raised, ...on(0.35, 141, 400)])).toEqual(['131 raised critical']);
  });

  test('not by bursts, not at rest, not by a gap, and not while no trend is known', () => {
    const bursts = [...still(141, 200), ...turning(201, 220), ...still(221, 300), ...turning(301, 320)];
    expect(restarts([...raised, ...bursts])).toEqual(['131 raised critical']);
    expect(restarts([...raised, ...still(141, 600)])).toEqual(['131 raised critical']);
    expect(restarts([...raised, ...turning(270, 300)])).toEqual(['131 raised critical']);
    expect(restarts([...raised, ...every(141, 400, 1, (s) => speed(s, 300))])).toEqual([
      '131 raised critical',
    ]);
  });

  test('with the stages that hold methoxide, not from one to the other', () => {
    expect(restarts([...raised, stage(141, 'react'), end(142)])).toEqual(['131 raised critical']);
    expect(restarts([...raised, stage(141, 'settle')])).toEqual([
      '131 raised critical',
      '141 cleared critical',
    ]);
  });
});

test('what to do is to stop it, but to watch it where most has reacted', () => {
  const run = (reacted: number) => [
    vesselLine({ reactionTemperatureC: HOT_C }),
    stage(0, 'react'),
    ...turning(0, reacted),
    ...still(reacted + 1, reacted + 140),
    ...turning(reacted + 141, reacted + 145),
  ];
  expect(todos('restart-hot', run(60))).toEqual([expect.stringMatching(/^Stop it again/)]);
  expect(todos('restart-hot', run(700))).toEqual([expect.stringMatching(/^Heat off, and watch/)]);
});

test('a rise that it sets off is kept and told by it alone', () => {
  const lines = [
    ...still(1, 300),
    ...every(301, 400, 1, (s) => [liquid(s, HOT_C + (s - 300) / 12), speed(s, 300)]),
  ];
  const rise = play(vesselLine(), stage(0, 'react'), lines).alarmLines.find(
    ({ alarm }) => alarm === 'rising-fast',
  );
  expect(rise).toMatchObject({ explainedBy: 'restart-hot' });
});
