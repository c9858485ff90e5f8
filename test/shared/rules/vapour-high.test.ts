import { expect, test } from 'vitest';
import { every, type Line, liquid, ofAlarm, play, reading, stage, vesselLine } from '../run.ts';
import { todos } from './todo.ts';

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

test.each([1, 10, 30])('the mean is of 5 min at least, with a reading every %s s', (everySeconds) => {
  const run = every(7, 7 + 300, everySeconds, (s) => reading(s, 'room-vapour', 201));
  expect(vapour(run)).toEqual(['307 raised medium']);
  expect(vapour(run.slice(0, -1))).toEqual([]);
});

test('the mean is of 15 min: what was before has gone', () => {
  // 100 ppm, then 250: over 200 once two thirds of it are of the new air.
  const [line] = vapour([...ppm(0, 60, 100), ...ppm(60.5, 90, 250)]);
  expect(Number(line!.split(' ')[0]) / MINUTE).toBeCloseTo(70.25, 0);
  // A single wild reading a second long moves no mean of a quarter of an hour.
  const wild = every(0, 1200, 1, (s) => reading(s, 'room-vapour', s === 1000 ? 2900 : 150));
  expect(vapour(wild)).toEqual([]);
});

test('a gap counts for nothing, and long intervals are no gap', () => {
  const gap = [...ppm(0, 4, 900), ...ppm(10, 10.5, 900)];
  expect(vapour(gap)).toEqual([]);
  expect(vapour([...gap, ...ppm(11, 11, 900)])).toEqual(['660 raised medium']);
  const rare = every(0, 1800, 300, (s) => reading(s, 'room-vapour', 900));
  expect(vapour(rare, { readingEverySeconds: 300 })).toEqual(['300 raised medium']);
});

test('what to do is that of the gravest air until it clears', () => {
  const at = (s: number, value: number) => reading(s, 'room-vapour', value);
  const run = [at(1, 6000), at(2, 6000), at(3, 4000), at(4, 4000), at(5, 2500)];
  const told = todos('vapour-high', vesselLine(), stage(0, 'recover'), run);
  expect(told).toEqual(['Get out. Touch no switch in the room. Cut the power from outside.']);
  expect(vapour(run)).toEqual(['2 raised critical']);
  expect(vapour([...run, at(6, 2400)])).toEqual(['2 raised critical', '6 cleared critical']);
  expect(todos('vapour-high', vesselLine(), stage(0, 'recover'), [at(1, 3000), at(2, 3000)])[0]).toContain(
    'touch no switch',
  );
});

test('it is watched in any stage, and in a vessel without a batch', () => {
  const run = [reading(1, 'room-vapour', 3000), reading(2, 'room-vapour', 3000)];
  for (const inStage of ['idle', 'react', 'settle', 'filter'] as const) {
    expect(ofAlarm(play(vesselLine(), stage(0, inStage), ...run), 'vapour-high')).toEqual(['2 raised high']);
  }
});

test('the same reading again is no second one, and a late one is none', () => {
  expect(vapour([reading(1, 'room-vapour', 6000), reading(1, 'room-vapour', 6000)])).toEqual([]);
  expect(vapour([reading(2, 'room-vapour', 6000), reading(1, 'room-vapour', 6000)])).toEqual([]);
});

test('who has to leave is told nothing else to do, until the air is good again', () => {
  const vapourOf = (s: number, value: number) => reading(s, 'room-vapour', value);
  const near = [vesselLine(), stage(0, 'react'), liquid(1, 62), liquid(2, 62.2)];
  const told = todos('boiling-near', near, vapourOf(3, 3000), vapourOf(4, 3000), vapourOf(5, 100));
  expect(told).toHaveLength(3);
  expect(told[0]).toContain('Turn the heat off');
  expect(told[1]).toMatch(/^Get out .*touch no switch/);
  expect(told[2]).toBe(told[0]);
  const after = todos(
    'boiling-near',
    near[0]!,
    near[1]!,
    vapourOf(1, 6000),
    vapourOf(2, 6000),
    liquid(3, 62),
  );
  expect(after).toEqual([told[1]]);
});
