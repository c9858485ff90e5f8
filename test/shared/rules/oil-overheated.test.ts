import { describe, expect, test } from 'vitest';
import type { Stage } from '../../../shared/wire/names.ts';
import { every, type Line, liquid, ofAlarm, play, reading, stage, vesselLine } from '../run.ts';
import { todos } from './todo.ts';

const over = (name: Stage, lines: Line[], plan: object = {}) =>
  ofAlarm(play(vesselLine({ requiredSettleHours: 0, ...plan }), stage(0, name), ...lines), 'oil-overheated');
const at1Hz = (...values: number[]) => values.map((c, s) => liquid(s, c));

describe('oil-overheated', () => {
  test('has a limit of its own in each of its stages, and clears 2 °C below it', () => {
    for (const [name, limit] of [
      ['warm', 75],
      ['dry-oil', 130],
      ['dry-fuel', 115],
    ] as const) {
      expect(over(name, at1Hz(limit - 0.1, limit))).toEqual([]);
      expect(over(name, at1Hz(limit - 0.1, limit + 0.01, limit - 1.99))).toEqual(['1 raised high']);
      expect(over(name, at1Hz(limit - 0.1, limit + 0.01, limit - 2))).toEqual([
        '1 raised high',
        '2 cleared high',
      ]);
    }
    for (const name of ['react', 'settle', 'wash', 'recover', 'filter'] as const) {
      expect(over(name, at1Hz(140, 140))).toEqual([]);
    }
  });

  test('goes by the plan’s own limits', () => {
    expect(over('warm', at1Hz(66), { limits: { warmHighestC: 65 } })).toEqual(['0 raised high']);
    expect(over('dry-oil', at1Hz(111), { limits: { dryHighestC: 110 } })).toEqual(['0 raised high']);
    expect(over('dry-fuel', at1Hz(101), { limits: { dryFuelHighestC: 100 } })).toEqual(['0 raised high']);
  });

  test('goes by the hottest probe', () => {
    expect(over('warm', [liquid(0, 60), reading(1, 'liquid-temperature-2', 76)])).toEqual(['1 raised high']);
  });

  const changing = (fromSeconds: number, toSeconds: number, perMinute: number, fromC = 110) =>
    every(fromSeconds, toSeconds, 1, (s) => liquid(s, fromC + (perMinute * (s - fromSeconds)) / 60));

  test('leaves oil alone that cools by 0.1 °C/min in warm, once that is known', () => {
    // Hot from the start: nothing tells that it cools.
    expect(over('warm', changing(0, 100, -1))).toEqual(['0 raised high']);
    // Known to cool since before it was over the limit, in a stage that has none.
    const cools = (perMinute: number) => [
      stage(1, 'dry-oil'),
      ...changing(2, 100, perMinute),
      stage(100.5, 'wash'),
      stage(101, 'warm'),
      ...changing(101, 300, perMinute, 110 + (99 * perMinute) / 60),
    ];
    expect(over('warm', cools(-0.12))).toEqual([]);
    expect(over('warm', cools(-0.08))).toEqual(['101 raised high']);
  });

  test('gives oil that was dewatered 5 min to begin to cool', () => {
    const dewatered = (perMinute: number, to: number) => [
      ...changing(0, 60, 0),
      stage(60.5, 'warm'),
      ...changing(61, to, perMinute),
    ];
    expect(over('dry-oil', dewatered(0, 360))).toEqual([]);
    expect(over('dry-oil', dewatered(0, 361))).toEqual(['361 raised high']);
    expect(over('dry-oil', dewatered(-0.5, 600))).toEqual([]);
  });

  test('does not excuse falling in dry-oil and dry-fuel', () => {
    expect(over('dry-oil', changing(0, 100, -1, 135))).toEqual(['0 raised high']);
    expect(over('dry-fuel', changing(0, 100, -1, 120))).toEqual(['0 raised high']);
  });

  test('of dewatering is over by the limit of dewatering, though the oil is now left to cool', () => {
    const lines = [...changing(0, 10, 0, 131), stage(11, 'warm'), ...changing(12, 240, -1, 131)];
    // 128 °C after 3 min.
    expect(over('dry-oil', lines)).toEqual(['0 raised high', '192 cleared high']);
  });

  test('says what the heat can do', () => {
    const todo = (name: Stage, c: number, plan: object = {}) =>
      todos('oil-overheated', vesselLine(plan), stage(0, name), liquid(0, c))[0];
    expect(todo('warm', 76)).toContain('before methoxide');
    expect(todo('dry-oil', 131)).toContain('water below hot oil erupts');
    expect(todo('warm', 76, { methanolInFeed: true })).toContain('methanol');
    // 131 °F are 55 °C.
    expect(todo('warm', 131)).toContain('°F');
    expect(todo('warm', 76)).not.toContain('°F');
  });
});
