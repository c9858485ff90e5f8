import { expect, test } from 'vitest';
import type { Stage } from '../../../shared/wire/names.ts';
import { every, heater, type Line, liquid, ofAlarm, play, reading, stage, vesselLine } from '../run.ts';

const stuck = (name: Stage, lines: Line[], plan: object = {}) =>
  ofAlarm(play(vesselLine(plan), stage(0, name), ...lines), 'heater-stuck');
const rising = (perMinute: number, from: number, to: number, everySeconds = 1, fromC = 30): Line[] =>
  every(from, to, everySeconds, (s) => liquid(s, fromC + (perMinute * (s - from)) / 60));

test('heater-stuck is raised when it rises by 0.5 °C/min for 3 min with the heater off for 5', () => {
  for (const name of ['warm', 'dry-oil', 'settle'] as const) {
    expect(stuck(name, [heater(0, 0), ...rising(0.51, 0, 299)])).toEqual([]);
    expect(stuck(name, [heater(0, 0), ...rising(0.51, 0, 300)])).toEqual(['300 raised high']);
    expect(stuck(name, [heater(0, 0), ...rising(0.49, 0, 600)])).toEqual([]);
  }
  for (const name of ['react', 'dose', 'drain', 'recover', 'wash', 'dry-fuel'] as const) {
    expect(stuck(name, [heater(0, 0), ...rising(0.6, 0, 600)], { requiredSettleHours: 0 })).toEqual([]);
  }
});

test('the 3 min count from when the trend is known to be so steep', () => {
  // Flat for 10 min with the heater off; from 45 s of readings on the trend is known.
  const late = (to: number) => [heater(0, 0), ...rising(2, 400, to)];
  expect(stuck('warm', late(624))).toEqual([]);
  expect(stuck('warm', late(625))).toEqual(['625 raised high']);
});

test('only a heater channel that shows 0 says that it is off, and each time anew', () => {
  expect(stuck('warm', rising(0.6, 0, 600))).toEqual([]);
  expect(stuck('warm', [heater(0, 1), ...rising(0.6, 0, 600)])).toEqual([]);
  const again = (to: number) => [
    heater(0, 0),
    ...rising(0.6, 0, 200),
    heater(200.2, 1),
    heater(200.4, 0),
    ...rising(0.6, 201, to, 1, 32),
  ];
  expect(stuck('warm', again(500))).toEqual([]);
  expect(stuck('warm', again(501))).toEqual(['501 raised high']);
});

test('it clears under 0.2 °C/min, and with the stages', () => {
  const base = [heater(0, 0), ...rising(0.6, 0, 300)];
  expect(stuck('warm', [...base, ...rising(0.25, 301, 500, 1, 33)])).toEqual(['300 raised high']);
  expect(stuck('warm', [...base, ...rising(0.15, 301, 500, 1, 33)])).toEqual([
    '300 raised high',
    expect.stringContaining('cleared high'),
  ]);
  expect(stuck('warm', [...base, stage(301, 'dry-oil'), ...rising(0.6, 302, 310, 1, 33)])).toEqual([
    '300 raised high',
  ]);
  expect(stuck('warm', [...base, stage(301, 'dose')])).toEqual(['300 raised high', '301 cleared high']);
  // A gap neither clears it nor is one that it rises through.
  expect(stuck('warm', [...base, liquid(900, 34)])).toEqual(['300 raised high']);
  expect(stuck('warm', [heater(0, 0), ...rising(0.6, 0, 100), ...rising(0.6, 400, 460, 1, 34)])).toEqual([]);
});

test('it is raised with readings every 0.2, 10 and 30 s, and by the hottest probe', () => {
  for (const [everySeconds, latest] of [
    [0.2, 301],
    [10, 310],
    [30, 330],
  ] as const) {
    const plan = { readingEverySeconds: everySeconds };
    const [raised] = stuck('warm', [heater(0, 0), ...rising(0.6, 0, 400, everySeconds)], plan);
    expect(Number.parseFloat(raised ?? '')).toBeGreaterThanOrEqual(300);
    expect(Number.parseFloat(raised ?? '')).toBeLessThanOrEqual(latest);
  }
  const two = every(0, 300, 1, (s) => [liquid(s, 20), reading(s, 'liquid-temperature-2', 30 + s / 100)]);
  expect(stuck('warm', [heater(0, 0), ...two])).toEqual(['300 raised high']);
});
