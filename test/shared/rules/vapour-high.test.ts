import { expect, test } from 'vitest';
import { every, type Line, ofAlarm, play, reading, stage, vesselLine } from '../run.ts';

const MINUTE = 60;
const ppm = (fromMinute: number, toMinute: number, value: number): Line[] =>
  every(fromMinute * MINUTE, toMinute * MINUTE, 30, (s) => reading(s, 'room-vapour', value));
const vapour = (lines: Line[], plan: object = {}) =>
  ofAlarm(play(vesselLine(plan), stage(0, 'warm'), ...lines), 'vapour-high');
const priorities = (told: string[]) => told.map((line) => line.split(' ').slice(1).join(' '));

test('vapour-high is medium when the mean of at least 5 min is over 200 ppm', () => {
  expect(vapour(ppm(0, 30, 200))).toEqual([]);
  expect(vapour(ppm(0, 3, 900))).toEqual([]);
  expect(priorities(vapour(ppm(0, 10, 201)))).toEqual(['raised medium']);
});

test('it is high over 1,000 ppm as a mean, and from 3,000 in two readings running', () => {
  expect(priorities(vapour(ppm(0, 10, 1001)))).toEqual(['raised high']);
  const spikes = [ppm(0, 1, 50), [reading(61, 'room-vapour', 3000)]].flat();
  expect(vapour(spikes)).toEqual([]);
  expect(vapour([...spikes, reading(62, 'room-vapour', 2999)])).toEqual([]);
  expect(vapour([...spikes, reading(62, 'room-vapour', 3000)])).toEqual(['62 raised high']);
});

test('it is critical from 6,000 in two readings running, also where it stood as less', () => {
  const high = [reading(1, 'room-vapour', 3000), reading(2, 'room-vapour', 3000)];
  expect(vapour([...high, reading(3, 'room-vapour', 6000), reading(4, 'room-vapour', 6000)])).toEqual([
    '2 raised high',
    '4 raised critical',
  ]);
});

test('it clears a fifth under all of them', () => {
  const high = [reading(1, 'room-vapour', 3000), reading(2, 'room-vapour', 3000)];
  expect(vapour([...high, reading(3, 'room-vapour', 2401)])).toEqual(['2 raised high']);
  expect(vapour([...high, reading(3, 'room-vapour', 2399)])).toEqual(['2 raised high', '3 cleared high']);
});

test('it goes by the plan’s limits, and says to get out and touch no switch', () => {
  expect(
    vapour([reading(1, 'room-vapour', 500), reading(2, 'room-vapour', 500)], {
      limits: { vapourDangerPpm: 500 },
    }),
  ).toEqual(['2 raised critical']);
});
