import { describe, expect, test } from 'vitest';
import { every, heater, type Line, liquid, ofAlarm, play, reading, stage, vesselLine } from '../run.ts';

describe('probe-frozen', () => {
  const frozen = (lines: Line[], plan: object = {}, name: 'warm' | 'react' | 'settle' = 'warm') =>
    ofAlarm(
      play(vesselLine({ requiredReactionMinutes: 0, ...plan }), stage(0, name), ...lines),
      'probe-frozen',
    );
  const same = (to: number, everySeconds = 1) => every(0, to, everySeconds, (s) => liquid(s, 40));

  test('is raised after 10 min of exactly one value while heat is asked for, far under plan', () => {
    expect(frozen([heater(0, 1), ...same(599)])).toEqual([]);
    expect(frozen([heater(0, 1), ...same(600)])).toEqual(['600 raised medium']);
    expect(frozen([...same(900)])).toEqual([]);
    expect(frozen([heater(0, 1), ...same(900)], { reactionTemperatureC: 42 })).toEqual([]);
    expect(frozen([heater(0, 1), ...same(900)], {}, 'settle')).toEqual([]);
  });

  test('of at least 20 readings', () => {
    expect(frozen([heater(0, 1), ...same(1000, 60)], { readingEverySeconds: 60 })).toEqual([]);
    expect(frozen([heater(0, 1), ...same(1140, 60)], { readingEverySeconds: 60 })).toEqual([
      '1140 raised medium',
    ]);
  });

  test('or while another probe moved by more than 1 °C', () => {
    const beside = (perMinute: number) =>
      every(0, 600, 1, (s) => [liquid(s, 40), reading(s, 'liquid-temperature-2', 40 + (perMinute * s) / 60)]);
    expect(frozen(beside(0.09))).toEqual([]);
    expect(frozen(beside(0.12))).toEqual(['600 raised medium']);
  });

  test('clears when it moves', () => {
    expect(frozen([heater(0, 1), ...same(600), liquid(601, 40.0625)])).toEqual([
      '600 raised medium',
      '601 cleared medium',
    ]);
  });
});

describe('probes-disagree', () => {
  const two = (from: number, to: number, a: number, b: number, speed = 300): Line[] =>
    every(from, to, 1, (s) => [
      reading(s, 'stirrer-speed', speed),
      liquid(s, a),
      reading(s, 'liquid-temperature-2', b),
    ]);
  const apart = (lines: Line[]) =>
    ofAlarm(play(vesselLine(), stage(0, 'react'), ...lines), 'probes-disagree');

  test('is raised more than 3 °C apart for 60 s while mixed', () => {
    expect(apart(two(1, 60, 50, 53.1))).toEqual([]);
    expect(apart(two(1, 61, 50, 53.1))).toEqual(['61 raised medium']);
    expect(apart(two(1, 120, 50, 53))).toEqual([]);
    expect(apart(two(1, 120, 50, 55, 0))).toEqual([]);
  });

  test('clears less than 2 °C apart', () => {
    const begun = two(1, 61, 50, 53.1);
    expect(apart([...begun, liquid(62, 51)])).toEqual(['61 raised medium']);
    expect(apart([...begun, liquid(62, 51.2)])).toEqual(['61 raised medium', '62 cleared medium']);
  });
});
