import { expect, test } from 'vitest';
import type { Stage } from '../../../shared/wire/names.ts';
import { every, heater, type Line, liquid, ofAlarm, play, reading, stage, vesselLine } from '../run.ts';

const cold = (name: Stage, lines: Line[], plan: object = {}) =>
  ofAlarm(play(vesselLine(plan), stage(0, name), ...lines), 'reaction-cold');
const at1 = (fromC: number, perMinute: number, from: number, to: number, everySeconds = 1): Line[] =>
  every(from, to, everySeconds, (s) => liquid(s, fromC + (perMinute * (s - from)) / 60));

test('reaction-cold is raised more than 8 °C under plan for 5 min, in react alone', () => {
  expect(cold('react', at1(46.9, 0, 0, 299))).toEqual([]);
  expect(cold('react', at1(46.9, 0, 0, 300))).toEqual(['300 raised medium']);
  expect(cold('react', at1(47, 0, 0, 600))).toEqual([]);
  for (const name of ['warm', 'dose', 'esterify', 'settle', 'recover'] as const) {
    expect(cold(name, at1(40, 0, 0, 600), { requiredSettleHours: 0 })).toEqual([]);
  }
  // Cold before is not cold in react.
  expect(cold('dose', [...at1(40, 0, 0, 400), stage(400.5, 'react'), ...at1(40, 0, 401, 700)])).toEqual([]);
});

test('it goes by the plan’s temperature and limit, and clears less than 6 °C under it', () => {
  expect(cold('react', at1(51.9, 0, 0, 300), { reactionTemperatureC: 60 })).toEqual(['300 raised medium']);
  expect(cold('react', at1(51.9, 0, 0, 300), { limits: { coldByC: 3 } })).toEqual(['300 raised medium']);
  const then = (c: number) => [...at1(46, 0, 0, 300), liquid(301, c)];
  expect(cold('react', then(49))).toEqual(['300 raised medium']);
  expect(cold('react', then(49.01))).toEqual(['300 raised medium', '301 cleared medium']);
  expect(cold('react', [...at1(46, 0, 0, 300), stage(301, 'settle')])).toEqual([
    '300 raised medium',
    '301 cleared medium',
  ]);
});

test('not while it gets warmer by 0.5 °C in these 5 min', () => {
  expect(cold('react', at1(40, 0.11, 0, 900))).toEqual([]);
  expect(cold('react', at1(40, 0.09, 0, 300))).toEqual(['300 raised medium']);
  // The cold dose brought it down as the stage began: since then it has got warmer.
  const dosed = [...at1(50, -60, 0, 8), ...at1(42, 0.12, 9, 400)];
  expect(cold('react', dosed)).toEqual([]);
});

test('five minutes count anew when it was warm between', () => {
  const lines = (to: number) => [...at1(46, 0, 0, 200), liquid(201, 47.1), ...at1(46, 0, 202, to)];
  expect(cold('react', lines(501))).toEqual([]);
  expect(cold('react', lines(502))).toEqual(['502 raised medium']);
});

test('it is raised with readings every 0.2, 10 and 30 s, by the hottest probe, and once for what comes twice', () => {
  for (const everySeconds of [0.2, 10, 30]) {
    const plan = { readingEverySeconds: everySeconds };
    expect(cold('react', at1(46, 0, 0, 330, everySeconds), plan)).toEqual(['300 raised medium']);
  }
  const two = every(0, 400, 1, (s) => [liquid(s, 40), reading(s, 'liquid-temperature-2', 48)]);
  expect(cold('react', two)).toEqual([]);
  expect(
    cold(
      'react',
      at1(46, 0, 0, 330).flatMap((line) => [line, line]),
    ),
  ).toEqual(['300 raised medium']);
});

test('it is kept and not told where heat not seen or a stopped mixer says why', () => {
  const run = play(
    vesselLine({ limits: { heatSeenMinutes: 5 } }),
    stage(0, 'react'),
    heater(0, 1),
    at1(46, 0, 0, 301),
  );
  expect(run.alarmLines.find(({ alarm }) => alarm === 'reaction-cold')).toMatchObject({
    explainedBy: 'heat-not-seen',
  });
});
