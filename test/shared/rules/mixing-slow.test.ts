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

test('it is counted from the stage’s start, and has 60 s again once the required time is credited', () => {
  const warm = (lines: Line[]) => ofAlarm(play(vesselLine(), stage(0, 'warm'), ...lines), 'mixing-slow');
  expect(warm(speeds(1, 200, 150))).toEqual([]);
  expect(warm([...speeds(1, 200, 150), stage(200.5, 'dose'), ...speeds(201, 300, 150)])).toEqual([
    '261 raised medium',
  ]);
  const credited = [...every(1, 90, 1, (s) => [reading(s, 'stirrer-speed', 300), liquid(s, 55)])];
  const after = [...credited, ...speeds(91, 160, 150)];
  expect(slow(after, { requiredReactionMinutes: 1 })).toEqual(['151 raised medium']);
  expect(slow(after, { requiredReactionMinutes: 5 })).toEqual(['121 raised medium']);
});

test.each(['prewash', 'esterify', 'methoxide', 'dose', 'react'] as const)('it works in %s', (inStage) => {
  const run = [...speeds(1, 10, 300), ...speeds(11, 41, 150)];
  expect(ofAlarm(play(vesselLine(), stage(0, inStage), ...run), 'mixing-slow')).toEqual(['41 raised medium']);
});

test.each(['settle', 'drain', 'recover', 'wash', 'dry-fuel'] as const)('it does not in %s', (inStage) => {
  const run = [...speeds(1, 10, 300), ...speeds(11, 100, 150)];
  expect(ofAlarm(play(vesselLine(), stage(0, inStage), ...run), 'mixing-slow')).toEqual([]);
});

test('a stop, or one moment at speed, begins the 30 s anew; 5 s at speed have to be running', () => {
  const begun = [...speeds(1, 10, 300), ...speeds(11, 30, 150)];
  expect(slow([...begun, ...speeds(31, 31, 300), ...speeds(32, 61, 150)])).toEqual([]);
  expect(slow([...begun, ...speeds(31, 31, 300), ...speeds(32, 62, 150)])).toEqual(['62 raised medium']);
  expect(slow([...begun, ...speeds(31, 35, 0), ...speeds(36, 65, 150)])).toEqual([]);
  const standing = [...speeds(1, 10, 300), ...speeds(11, 41, 150)];
  const flickers = every(42, 200, 1, (s) => reading(s, 'stirrer-speed', s % 5 === 0 ? 150 : 300));
  expect(slow([...standing, ...flickers])).toEqual(['41 raised medium']);
});

test('slow after a stop is kept and not told: the stop that stands says it', () => {
  const run = [...speeds(1, 10, 300), ...speeds(11, 25, 0), ...speeds(26, 60, 150), ...speeds(61, 70, 300)];
  const { alarmLines } = play(vesselLine(), stage(0, 'react'), liquid(0, 50), ...run);
  const said = alarmLines.filter(({ alarm }) => alarm.startsWith('mixing'));
  expect(said.map(({ alarm, event, explainedBy }) => [alarm, event, explainedBy])).toEqual([
    ['mixing-stopped', 'raised', null],
    ['mixing-slow', 'raised', 'mixing-stopped'],
    ['mixing-stopped', 'cleared', null],
    ['mixing-slow', 'cleared', 'mixing-stopped'],
  ]);
});

test.each([0.2, 10, 30])('with a reading every %s s', (everySeconds) => {
  const at = (from: number, to: number, value: number) =>
    every(from, to, everySeconds, (s) => reading(s, 'stirrer-speed', value));
  const from = 60 + everySeconds;
  const run = [...at(0, 60, 300), ...at(from, from + 60, 150)];
  const told = slow(run, { readingEverySeconds: everySeconds });
  expect(told).toHaveLength(1);
  expect(Number(told[0]!.split(' ')[0])).toBeCloseTo(from + 30, 6);
});

test('a pump that only says that it runs is never slow', () => {
  expect(slow([...every(1, 20, 1, (s) => reading(s, 'pump', 1))])).toEqual([]);
});
