import { expect, test } from 'vitest';
import { every, type Line, liquid, ofAlarm, play, reading, stage, vesselLine } from '../run.ts';

const speeds = (from: number, to: number, value: number): Line[] =>
  every(from, to, 1, (s) => reading(s, 'stirrer-speed', value));
const slow = (lines: Line[], plan: object = {}) =>
  ofAlarm(play(vesselLine(plan), stage(0, 'react'), liquid(0, 50), ...lines), 'mixing-slow');

test('mixing-slow is raised from a tenth of the lowest speed up to it for 30 s, once it was at speed', () => {
  expect(slow([...speeds(1, 10, 300), ...speeds(11, 40, 199)])).toEqual([]);
  expect(slow([...speeds(1, 10, 300), ...speeds(11, 41, 199)])).toEqual(['41 raised medium']);
  expect(slow([...speeds(1, 10, 300), ...speeds(11, 60, 200)])).toEqual([]);
  expect(slow([...speeds(1, 10, 300), ...speeds(11, 41, 20)])).toEqual(['41 raised medium']);
  expect(slow([...speeds(1, 10, 300), ...speeds(11, 60, 19)])).toEqual([]);
});

test('before it was at speed it has 60 s', () => {
  expect(slow(speeds(1, 59, 150))).toEqual([]);
  expect(slow(speeds(1, 61, 150))).toEqual(['61 raised medium']);
});

test('it clears after 5 s at speed, or when the mixing stages end', () => {
  const begun = [...speeds(1, 10, 300), ...speeds(11, 41, 150)];
  expect(slow([...begun, ...speeds(42, 46, 300)])).toEqual(['41 raised medium']);
  expect(slow([...begun, ...speeds(42, 47, 300)])).toEqual(['41 raised medium', '47 cleared medium']);
  expect(slow([...begun, stage(42, 'settle')])).toEqual(['41 raised medium', '42 cleared medium']);
});

test('it goes by the plan’s speed and limit, and by a pump’s flow', () => {
  const plan = { lowestStirrerSpeed: 100, limits: { slowSeconds: 5 } };
  expect(slow([...speeds(1, 10, 300), ...speeds(11, 16, 99)], plan)).toEqual(['16 raised medium']);
  const flows = (from: number, to: number, value: number) =>
    every(from, to, 1, (s) => reading(s, 'pump-flow', value));
  expect(slow([...flows(1, 10, 20), ...flows(11, 41, 9)], { lowestPumpFlow: 10 })).toEqual([
    '41 raised medium',
  ]);
});
