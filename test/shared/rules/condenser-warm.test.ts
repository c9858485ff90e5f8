import { describe, expect, test } from 'vitest';
import { emptySiteState } from '../../../shared/engine/state.ts';
import { step } from '../../../shared/engine/step.ts';
import { resolveWatchPlan } from '../../../shared/plan/watch-plan.ts';
import {
  at,
  end,
  every,
  heater,
  type Line,
  ofAlarm,
  play,
  reading,
  START_MS,
  stage,
  vesselLine,
} from '../run.ts';
import { todos } from './todo.ts';

const condensate = (seconds: number, c: number, rest: object = {}): Line =>
  reading(seconds, 'condensate-temperature', c, rest);
const cool = (from: number, to: number, everySeconds = 1) =>
  every(from, to, everySeconds, (s) => condensate(s, 20));
const lines = (plan: object, more: (Line | Line[])[]) => [
  vesselLine(plan),
  stage(0, 'recover'),
  ...more.flat(),
];
const warm = (...more: (Line | Line[])[]) => ofAlarm(play(lines({}, more)), 'condenser-warm');

describe('condenser-warm: the condensate', () => {
  test('over 40 °C is critical in recover alone, and over 5 °C below', () => {
    expect(warm(condensate(1, 40))).toEqual([]);
    expect(warm(condensate(1, 39), condensate(2, 40.1), condensate(10, 35.1), condensate(30, 41))).toEqual([
      '2 raised critical',
    ]);
    expect(warm(condensate(1, 39), condensate(2, 40.1), condensate(10, 35))).toEqual([
      '2 raised critical',
      '10 cleared critical',
    ]);
    expect(warm(condensate(1, 41), stage(2, 'wash'))).toEqual(['1 raised critical', '2 cleared critical']);
    for (const name of ['dry-fuel', 'react', 'settle'] as const) {
      expect(
        ofAlarm(play(vesselLine(), stage(0, name), condensate(1, 60), end(90)), 'condenser-warm'),
      ).toEqual([]);
    }
  });

  test('by the plan’s own limit', () => {
    const run = play(lines({ limits: { condensateHighestC: 30 } }, [condensate(1, 30.1), condensate(9, 25)]));
    expect(ofAlarm(run, 'condenser-warm')).toEqual(['1 raised critical', '9 cleared critical']);
  });
});

describe('condenser-warm: no condensate reading', () => {
  test('for 60 s while heating, once seen, is critical', () => {
    expect(warm(heater(0, 1), cool(1, 10), end(69.9))).toEqual([]);
    expect(warm(heater(0, 1), cool(1, 10), end(70))).toEqual(['70 raised critical']);
    expect(warm(heater(0, 1), cool(1, 10), condensate(100, 20))).toEqual([
      '70 raised critical',
      '100 cleared critical',
    ]);
    // What is not sound is no reading.
    expect(warm(heater(0, 1), cool(1, 10), condensate(40, -127), end(70))).toEqual(['70 raised critical']);
  });

  test('is none without heat, and counts the time that heat is asked for', () => {
    expect(warm(heater(0, 0), cool(1, 10), end(900))).toEqual([]);
    expect(warm(heater(0, 0), cool(1, 10), heater(300, 1), end(359.9))).toEqual([]);
    expect(warm(heater(0, 0), cool(1, 10), heater(300, 1), end(360))).toEqual(['360 raised critical']);
    // A thermostat that asks for 20 s in a minute: 10 to 20, 60 to 80, 120 to 140, 180 to 190.
    const cycles = [60, 120, 180].flatMap((s) => [heater(s, 1), heater(s + 5, 1), heater(s + 20, 0)]);
    expect(warm(heater(0, 1), cool(1, 10), heater(20, 0), ...cycles)).toEqual(['190 raised critical']);
  });

  test('where no channel shows the heat, the stage means it', () => {
    expect(warm(cool(1, 10), end(69.9))).toEqual([]);
    expect(warm(cool(1, 10), end(70))).toEqual(['70 raised critical']);
  });

  test('is medium, once, where it was never seen in this stage', () => {
    expect(warm(heater(0, 1), end(59.9))).toEqual([]);
    expect(warm(heater(0, 1), end(900))).toEqual(['60 raised medium']);
    const before = [
      vesselLine(),
      stage(0, 'settle'),
      condensate(1, 20),
      stage(2, 'recover'),
      heater(3, 1),
      end(500),
    ];
    expect(ofAlarm(play(before), 'condenser-warm')).toEqual(['63 raised medium']);
  });

  test('is raised again as critical where it came to be seen and fell silent, or is warm', () => {
    expect(warm(heater(0, 1), end(60), condensate(100, 38), end(160))).toEqual([
      '60 raised medium',
      '160 raised critical',
    ]);
    expect(warm(heater(0, 1), end(60), condensate(100, 41))).toEqual([
      '60 raised medium',
      '100 raised critical',
    ]);
    expect(warm(heater(0, 1), end(60), condensate(100, 20), end(150))).toEqual([
      '60 raised medium',
      '100 cleared medium',
    ]);
  });

  test('is no silence where a person types the condensate in', () => {
    expect(warm(heater(0, 1), condensate(1, 20, { typed: true }), end(900))).toEqual(['61 raised medium']);
    expect(warm(heater(0, 1), condensate(1, 41, { typed: true }))).toEqual(['1 raised critical']);
  });

  test('is judged by arrival, with readings every 10 and 30 s', () => {
    expect(warm(heater(0, 1), cool(1, 300, 10), end(340))).toEqual([]);
    expect(warm(heater(0, 1), cool(1, 301, 30), end(340))).toEqual([]);
    const held = condensate(50, 20, { arrived: at(61) });
    expect(warm(heater(0, 1), condensate(1, 20), held, end(120.9))).toEqual([
      '61 raised critical',
      '61 cleared critical',
    ]);
  });
});

test('what to do about the condenser goes by what is known of it', () => {
  const todo = (...more: Line[]) => todos('condenser-warm', ...lines({}, more));
  expect(todo(heater(0, 1), end(60))).toEqual([expect.stringContaining('See for yourself')]);
  expect(todo(heater(0, 1), condensate(1, 30), end(61), condensate(70, 45))).toEqual([
    expect.stringContaining('cooling and its probe'),
    expect.stringContaining('restore the cooling'),
  ]);
});

test('a step of the clock is no silence of the condenser, whoever stamps the readings', () => {
  for (const stamped of [true, false]) {
    const state = emptySiteState();
    const raised: number[] = [];
    const put = (input: Parameters<typeof step>[1]) => {
      for (const output of step(state, input)[1]) {
        if (output.type === 'alarm' && output.alarm === 'condenser-warm') raised.push(output.atMs - START_MS);
      }
    };
    const batch = { id: 'b', plan: resolveWatchPlan(), site: null };
    put({ type: 'vessel', arrivedMs: START_MS, vessel: 'r1', role: 'reactor', batch });
    put({ type: 'stage', arrivedMs: START_MS, atMs: START_MS, vessel: 'r1', stage: 'recover', batch: 'b' });
    for (const [seconds, channel, value] of [
      [1, 'heater', 1],
      [2, 'condensate-temperature', 20],
    ] as const) {
      const ms = START_MS + seconds * 1000;
      put({ type: 'reading', arrivedMs: ms, atMs: ms, vessel: 'r1', channel, value, typed: false, stamped });
    }
    put({ type: 'clock-step', arrivedMs: START_MS + 3_603_000, stepMs: 3_600_000 });
    put({ type: 'tick', arrivedMs: START_MS + 3_661_999 });
    expect(raised).toEqual([]);
    put({ type: 'tick', arrivedMs: START_MS + 3_662_000 });
    expect(raised).toEqual([3_662_000]);
  }
});
