import { expect, test } from 'vitest';
import { every, type Line, ofAlarm, play, reading, stage, vesselLine } from '../run.ts';

const speeds = (from: number, to: number, value: number): Line[] =>
  every(from, to, 1, (s) => reading(s, 'stirrer-speed', value));
const disturbed = (lines: Line[]) =>
  ofAlarm(
    play(vesselLine({ requiredReactionMinutes: 0 }), stage(0, 'settle'), ...lines),
    'settling-disturbed',
  );

test('settling-disturbed is raised once it was at rest and moves for 10 s', () => {
  expect(disturbed([...speeds(1, 5, 0), ...speeds(6, 15, 300)])).toEqual([]);
  expect(disturbed([...speeds(1, 5, 0), ...speeds(6, 16, 300)])).toEqual(['16 raised medium']);
  expect(disturbed([...speeds(1, 5, 0), ...speeds(6, 60, 20)])).toEqual([]);
});

test('a stirrer may run out for 2 min', () => {
  expect(disturbed(speeds(1, 129, 300))).toEqual([]);
  expect(disturbed(speeds(1, 130, 300))).toEqual(['130 raised medium']);
});

test('it clears at rest, and in another stage', () => {
  const begun = [...speeds(1, 5, 0), ...speeds(6, 16, 300)];
  expect(disturbed([...begun, ...speeds(17, 17, 0)])).toEqual(['16 raised medium', '17 cleared medium']);
  expect(disturbed([...begun, stage(17, 'drain')])).toEqual(['16 raised medium', '17 cleared medium']);
});

test.each(['warm', 'react', 'drain', 'recover', 'wash'] as const)('it is not for %s', (inStage) => {
  const run = [...speeds(1, 5, 0), ...speeds(6, 300, 300)];
  const plan = { requiredReactionMinutes: 0, requiredSettleHours: 0 };
  expect(ofAlarm(play(vesselLine(plan), stage(0, inStage), ...run), 'settling-disturbed')).toEqual([]);
});

test('the pump counts alike, and what it moved starts the settling anew', () => {
  const pump = (from: number, to: number, value: number) =>
    every(from, to, 1, (s) => reading(s, 'pump', value));
  expect(disturbed([...pump(1, 5, 0), ...pump(6, 20, 1), ...pump(21, 30, 0)])).toEqual([
    '16 raised medium',
    '21 cleared medium',
  ]);
  const flow = every(1, 20, 1, (s) => reading(s, 'pump-flow', s <= 5 ? 0 : 2));
  const plan = (lowestPumpFlow: number | null) =>
    ofAlarm(play(vesselLine({ lowestPumpFlow }), stage(0, 'settle'), ...flow), 'settling-disturbed');
  expect(plan(null)).toEqual(['16 raised medium']);
  expect(plan(20)).toEqual([]);
  expect(plan(19)).toEqual(['16 raised medium']);
  const run = play(
    vesselLine(),
    stage(0, 'settle'),
    ...speeds(1, 3600, 0),
    ...speeds(3601, 3620, 300),
    ...speeds(3621, 5420, 0),
  );
  expect(run.summaries.r1!.creditedSettleHours).toBeCloseTo(0.5, 2);
});

test('less than 10 s do not disturb', () => {
  const run = play(
    vesselLine(),
    stage(0, 'settle'),
    ...speeds(1, 1800, 0),
    ...speeds(1801, 1810, 300),
    ...speeds(1811, 3600, 0),
  );
  expect(ofAlarm(run, 'settling-disturbed')).toEqual([]);
  expect(run.summaries.r1!.creditedSettleHours).toBeCloseTo(1, 2);
});

test.each([0.2, 10, 30])('with a reading every %s s', (everySeconds) => {
  const at = (from: number, to: number, value: number) =>
    every(from, to, everySeconds, (s) => reading(s, 'stirrer-speed', value));
  const from = 30 + everySeconds;
  const told = disturbed([...at(0, 30, 0), ...at(from, from + 60, 300)]);
  expect(told).toHaveLength(1);
  const expected = from + Math.ceil(10 / everySeconds) * everySeconds;
  expect(Number(told[0]!.split(' ')[0])).toBeCloseTo(expected, 6);
});
