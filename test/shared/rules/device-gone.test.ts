import { expect, test } from 'vitest';
import { at, end, heater, type Line, liquid, ofAlarm, play, stage, vesselLine } from '../run.ts';

const device = (seconds: number, presence: 'here' | 'gone'): Line => ({
  type: 'device',
  at: at(seconds),
  vessel: 'r1',
  presence,
});
const gone = (...lines: Line[]) =>
  ofAlarm(play(vesselLine({ requiredReactionMinutes: 0 }), ...lines), 'device-gone');

test('device-gone is raised 10 s after it went, high with methanol, and clears when it is here', () => {
  expect(gone(stage(0, 'react'), device(5, 'gone'), end(14.9))).toEqual([]);
  expect(gone(stage(0, 'react'), device(5, 'gone'), end(15))).toEqual(['15 raised high']);
  expect(gone(stage(0, 'react'), device(5, 'gone'), device(14, 'here'), end(60))).toEqual([]);
  expect(gone(stage(0, 'react'), device(5, 'gone'), device(20, 'here'))).toEqual([
    '15 raised high',
    '20 cleared high',
  ]);
});

test('it is low without methanol, and where it settles cool with the heater off', () => {
  expect(gone(stage(0, 'warm'), device(5, 'gone'), end(60))).toEqual(['15 raised low']);
  expect(gone(stage(0, 'react'), stage(1, 'settle'), liquid(2, 40), device(5, 'gone'), end(60))).toEqual([
    '15 raised low',
  ]);
  expect(gone(stage(0, 'react'), stage(1, 'settle'), liquid(2, 50), device(5, 'gone'), end(60))).toEqual([
    '15 raised high',
  ]);
  expect(
    gone(stage(0, 'react'), heater(0, 1), stage(1, 'settle'), liquid(2, 40), device(5, 'gone'), end(60)),
  ).toEqual(['15 raised high']);
});

test('it explains the late readings that follow: they are kept, and point to it', () => {
  const { alarmLines } = play(vesselLine(), stage(0, 'react'), liquid(1, 50), device(2, 'gone'), end(60));
  const said = alarmLines as unknown as { alarm: string; explainedBy: string | null }[];
  expect(said.map(({ alarm, explainedBy }) => [alarm, explainedBy])).toEqual([
    ['device-gone', null],
    ['reading-late', 'device-gone'],
  ]);
});
