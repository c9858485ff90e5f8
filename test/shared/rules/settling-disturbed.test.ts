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
