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

describe('probe-frozen, where it may be another thing', () => {
  const frozen = (inStage: 'warm' | 'dose' | 'react' | 'esterify' | 'dry-oil', ...lines: Line[]) =>
    ofAlarm(play(vesselLine(), stage(0, inStage), ...lines), 'probe-frozen');
  const same = (from: number, to: number) => every(from, to, 1, (s) => liquid(s, 40));

  test.each(['warm', 'dose', 'react'] as const)('it works in %s', (inStage) => {
    expect(frozen(inStage, heater(0, 1), ...same(1, 601))).toEqual(['601 raised medium']);
  });

  test.each(['esterify', 'dry-oil'] as const)('it does not in %s', (inStage) => {
    expect(frozen(inStage, heater(0, 1), ...same(1, 900))).toEqual([]);
  });

  test('heat has to be asked for throughout', () => {
    expect(
      frozen('warm', heater(0, 1), ...same(1, 300), heater(300, 0), heater(301, 1), ...same(301, 900)),
    ).toEqual([]);
    expect(
      frozen('warm', heater(0, 1), ...same(1, 300), heater(300, 0), heater(301, 1), ...same(301, 901)),
    ).toEqual(['901 raised medium']);
  });

  test('a liquid within 2 °C of its plan may well stand still', () => {
    const at = (celsius: number) =>
      frozen('warm', heater(0, 1), ...every(1, 900, 1, (s) => liquid(s, celsius)));
    expect(at(53)).toEqual([]);
    expect(at(52.9)).toEqual(['601 raised medium']);
  });

  test('a step of its last digit is a move', () => {
    const steps = every(1, 900, 1, (s) => liquid(s, s === 300 ? 40.0625 : 40));
    expect(frozen('warm', heater(0, 1), ...steps)).toEqual([]);
  });

  test('goes by the plan’s own limit', () => {
    const run = play(
      vesselLine({ limits: { frozenMinutes: 2 } }),
      stage(0, 'warm'),
      heater(0, 1),
      ...same(1, 121),
    );
    expect(ofAlarm(run, 'probe-frozen')).toEqual(['121 raised medium']);
  });

  test.each([0.2, 10, 30])('with a reading every %s s', (everySeconds) => {
    const run = every(0, 660, everySeconds, (s) => liquid(s, 40));
    const [line, ...more] = ofAlarm(
      play(vesselLine({ readingEverySeconds: everySeconds }), stage(0, 'warm'), heater(0, 1), ...run),
      'probe-frozen',
    );
    expect(more).toEqual([]);
    expect(Number(line!.split(' ')[0])).toBeCloseTo(600, 6);
  });
});

describe('probes-disagree, where it may be another thing', () => {
  const two = (from: number, to: number, speed: number | null, b = 55): Line[] =>
    every(from, to, 1, (s) => [
      ...(speed === null ? [] : [reading(s, 'stirrer-speed', speed)]),
      liquid(s, 50),
      reading(s, 'liquid-temperature-2', b),
    ]);
  const apart = (plan: object, ...lines: Line[]) =>
    ofAlarm(play(vesselLine(plan), stage(0, 'react'), ...lines), 'probes-disagree');

  test('unmixed it may lie in layers: the 60 s begin with the mixing, and what stands goes on', () => {
    expect(apart({}, ...two(1, 100, 0), ...two(101, 160, 300))).toEqual([]);
    expect(apart({}, ...two(1, 100, 0), ...two(101, 161, 300))).toEqual(['161 raised medium']);
    const standing = [...two(1, 61, 300), ...two(62, 100, 0)];
    expect(apart({}, ...standing)).toEqual(['61 raised medium']);
    expect(apart({}, ...standing, ...two(101, 101, 0, 51.9))).toEqual([
      '61 raised medium',
      '101 cleared medium',
    ]);
  });

  test('a speed that nobody hears of, or a coupling that is lost, is no mixing', () => {
    expect(apart({}, ...two(1, 40, 300), ...two(41, 200, null))).toEqual([]);
    const currents = every(1, 300, 1, (s) => [
      reading(s, 'stirrer-current', s <= 40 ? 2 : 1),
      ...two(s, s, 300, s <= 40 ? 50 : 55),
    ]);
    expect(apart({}, ...currents)).toEqual([]);
  });

  test('without a speed channel it is mixed where a person has stated it', () => {
    expect(apart({}, ...two(1, 100, null))).toEqual([]);
    expect(apart({ mixingStated: true }, ...two(1, 100, null))).toEqual(['61 raised medium']);
  });

  test('a probe that falls silent is no agreement: they are found less than 2 °C apart, or the vessel is empty', () => {
    const begun = two(1, 61, 300);
    const silent = every(62, 180, 1, (s) => liquid(s, 50));
    expect(apart({}, ...begun, ...silent)).toEqual(['61 raised medium']);
    expect(apart({}, ...begun, ...silent, stage(181, 'idle'))).toEqual([
      '61 raised medium',
      '181 cleared medium',
    ]);
  });
});

test('what a person types of another probe does not stand for one that has fallen silent', () => {
  const run = play(
    vesselLine(),
    stage(0, 'react'),
    every(1, 60, 1, (s) => liquid(s, 55)),
    reading(65, 'liquid-temperature-2', 54, { typed: true }),
    stage(300, 'settle'),
  );
  expect(ofAlarm(run, 'reading-late')).toContain('75 raised high');
});

test('where there are several, an alarm says which it goes by', () => {
  const hot = (...lines: Line[]) =>
    play(vesselLine(), stage(0, 'react'), ...lines).alarmLines.find(({ alarm }) => alarm === 'boiling-near')
      ?.because;
  expect(hot(liquid(0.4, 61), reading(0.5, 'liquid-temperature-2', 62.5))).toContain('(probe 2)');
  expect(hot(reading(0.4, 'liquid-temperature-2', 61), liquid(0.5, 62.5))).toContain('(probe 1)');
  expect(hot(liquid(1, 62))).not.toContain('probe');
});
