import { describe, expect, test } from 'vitest';
import type { Stage } from '../../../shared/wire/names.ts';
import { every, heater, type Line, liquid, ofAlarm, play, reading, stage, vesselLine } from '../run.ts';
import { todos } from './todo.ts';

const run = (name: Stage, lines: Line[], plan: object = {}) => [vesselLine(plan), stage(0, name), ...lines];
const unseen = (name: Stage, lines: Line[], plan: object = {}) =>
  ofAlarm(play(run(name, lines, plan)), 'heat-not-seen');
/** A liquid at so much, changing, over a time, a reading so often. */
const at1 = (fromC: number, perMinute: number, from: number, to: number, everySeconds = 1): Line[] =>
  every(from, to, everySeconds, (s) => liquid(s, fromC + (perMinute * (s - from)) / 60));

describe('heat-not-seen: heat asked for throughout 10 min, and the liquid no warmer', () => {
  test('in warm and react alone', () => {
    for (const name of ['warm', 'react'] as const) {
      expect(unseen(name, [heater(0, 1), ...at1(30, 0, 0, 599)])).toEqual([]);
      expect(unseen(name, [heater(0, 1), ...at1(30, 0, 0, 600)])).toEqual(['600 raised high']);
    }
    for (const name of ['dry-oil', 'dose', 'prewash', 'settle', 'recover', 'wash'] as const) {
      expect(unseen(name, [heater(0, 1), ...at1(30, 0, 0, 700)], { requiredSettleHours: 0 })).toEqual([]);
    }
  });

  test('by the plan’s own time', () => {
    const plan = { limits: { heatSeenMinutes: 5 } };
    expect(unseen('warm', [heater(0, 1), ...at1(30, 0, 0, 299)], plan)).toEqual([]);
    expect(unseen('warm', [heater(0, 1), ...at1(30, 0, 0, 300)], plan)).toEqual(['300 raised high']);
  });

  test('more than 2 °C under plan', () => {
    expect(unseen('warm', [heater(0, 1), ...at1(53, 0, 0, 700)])).toEqual([]);
    expect(unseen('warm', [heater(0, 1), ...at1(52.99, 0, 0, 700)])).toEqual(['600 raised high']);
  });

  test('risen by less than 0.5 °C', () => {
    expect(unseen('warm', [heater(0, 1), ...at1(30, 0.051, 0, 900)])).toEqual([]);
    expect(unseen('warm', [heater(0, 1), ...at1(30, 0.048, 0, 600)])).toEqual(['600 raised high']);
  });

  test('only where heat is asked for, without a pause, and a channel shows it', () => {
    expect(unseen('warm', at1(30, 0, 0, 900))).toEqual([]);
    expect(unseen('warm', [heater(0, 0), ...at1(30, 0, 0, 900)])).toEqual([]);
    const paused = (to: number) => [
      heater(0, 1),
      ...at1(30, 0, 0, 300),
      heater(300.2, 0),
      heater(300.4, 1),
      ...at1(30, 0, 301, to),
    ];
    expect(unseen('warm', paused(900))).toEqual([]);
    expect(unseen('warm', paused(901))).toEqual(['901 raised high']);
  });

  test('these ten minutes wholly in the stage', () => {
    const lines = (to: number) => [
      stage(0, 'dose'),
      heater(0, 1),
      ...at1(30, 0, 0, 499),
      stage(499.5, 'react'),
      ...at1(30, 0, 500, to),
    ];
    expect(unseen('warm', lines(1099))).toEqual([]);
    expect(unseen('warm', lines(1100))).toEqual(['1100 raised high']);
  });

  test('only by readings that show these ten minutes', () => {
    // Nothing is known of ten minutes ago, and before that it was hotter.
    const gap = [heater(0, 1), ...at1(40, 0, 0, 60), ...at1(30, 0.5, 700, 900)];
    expect(unseen('warm', gap)).toEqual([]);
  });

  test('with readings every 0.2, 10 and 30 s', () => {
    for (const everySeconds of [0.2, 10, 30]) {
      const lines = [heater(0, 1), ...at1(30, 0, 0, 700, everySeconds)];
      expect(unseen('warm', lines, { readingEverySeconds: everySeconds })).toEqual(['600 raised high']);
    }
  });

  test('is critical where methanol is present and the reading falls', () => {
    const falls = [heater(0, 1), ...at1(40, -0.1, 0, 600)];
    expect(unseen('warm', falls)).toEqual(['600 raised high']);
    expect(unseen('react', falls)).toEqual(['600 raised critical']);
    expect(unseen('warm', falls, { methanolInFeed: true })).toEqual(['600 raised critical']);
    expect(unseen('react', [heater(0, 1), ...at1(40, -0.04, 0, 600)])).toEqual(['600 raised high']);
    // Raised again as graver when it comes to fall.
    const later = [heater(0, 1), ...at1(40, 0, 0, 600), ...at1(40, -0.2, 601, 800)];
    expect(unseen('react', later)).toEqual(['600 raised high', expect.stringContaining('raised critical')]);
  });

  test('clears when it rises by 0.5 °C, or heat is no longer asked for, and does not chatter', () => {
    const base = [heater(0, 1), ...at1(30, 0, 0, 600)];
    expect(unseen('warm', [...base, liquid(601, 30.49)])).toEqual(['600 raised high']);
    expect(unseen('warm', [...base, liquid(601, 30.5)])).toEqual(['600 raised high', '601 cleared high']);
    expect(unseen('warm', [...base, heater(601, 0)])).toEqual(['600 raised high', '601 cleared high']);
    // Down by 2 °C, then up again: by 0.5 °C from its lowest it is over, though it is under what it was.
    const dip = [heater(0, 1), ...at1(32, -0.2, 0, 600), ...at1(30, 0.25, 601, 1500)];
    expect(unseen('warm', dip)).toEqual(['600 raised high', '721 cleared high']);
  });

  test('goes on from warm to react, and is over with both', () => {
    const base = [heater(0, 1), ...at1(30, 0, 0, 600)];
    expect(unseen('warm', [...base, stage(601, 'react'), ...at1(30, 0, 602, 620)])).toEqual([
      '600 raised high',
    ]);
    expect(unseen('warm', [...base, stage(601, 'dose')])).toEqual(['600 raised high', '601 cleared high']);
  });
});

describe('heat-not-seen: falling faster than 3 °C/min in react, heat asked for', () => {
  const fall = (perMinute: number, from: number) => [
    heater(0, 1),
    ...at1(55, 0, 0, from),
    ...at1(55, -perMinute, from + 1, from + 60),
  ];

  test('is critical, after the first 5 min', () => {
    expect(unseen('react', fall(2.9, 400))).toEqual([]);
    expect(unseen('react', fall(4, 400))).toEqual([expect.stringContaining('raised critical')]);
    expect(unseen('react', fall(4, 200))).toEqual([]);
    expect(unseen('warm', fall(4, 400))).toEqual([]);
  });

  test('only while heat is asked for', () => {
    expect(unseen('react', [...fall(4, 400).slice(1)])).toEqual([]);
    expect(unseen('react', [...fall(4, 400), heater(461, 0)])).toEqual([
      expect.stringContaining('raised critical'),
      '461 cleared critical',
    ]);
  });

  test('by 30 s of readings, also rare ones', () => {
    const rare = [heater(0, 1), ...at1(55, 0, 0, 390, 30), ...at1(55, -6, 390, 510, 30).slice(1)];
    const [raised] = unseen('react', rare, { readingEverySeconds: 30 });
    expect(Number.parseFloat(raised ?? '')).toBeLessThanOrEqual(480);
  });

  test('stands though the reading comes to rest: in the air it says nothing', () => {
    expect(unseen('react', [...fall(6, 400), ...at1(49, 0, 461, 900)])).toHaveLength(1);
  });

  test('a probe that still stands in the liquid speaks for it', () => {
    const two = every(0, 460, 1, (s) => [
      liquid(s, 55 - Math.max(0, s - 400) / 10),
      reading(s, 'liquid-temperature-2', 54.9),
    ]);
    expect(unseen('react', [heater(0, 1), ...two])).toEqual([]);
  });
});

test('what to do about heat not seen begins with the heat where the reading falls', () => {
  const todo = (lines: Line[]) => todos('heat-not-seen', run('react', lines))[0];
  expect(todo([heater(0, 1), ...at1(30, 0, 0, 600)])).toMatch(/^Look whether the probe is in the liquid/);
  expect(todo([heater(0, 1), ...at1(40, -0.1, 0, 600)])).toMatch(/^Turn the heat off first/);
  expect(todo([heater(0, 1), ...at1(55, 0, 0, 400), ...at1(55, -4, 401, 460)])).toMatch(
    /^Turn the heat off first/,
  );
});
