import { describe, expect, test } from 'vitest';
import {
  at,
  end,
  every,
  type Line,
  liquid,
  ofAlarm,
  play,
  reading,
  speed,
  stage,
  vesselLine,
} from './run.ts';

/** The same readings as they come when the link was down from one second to another: an array a channel. */
function offline(lines: Line[], from: number, to: number, order: readonly string[]): Line[] {
  const timeOf = (line: Line) => (Date.parse(line.at as string) - Date.parse(at(0))) / 1000;
  const isKept = (line: Line) => line.type === 'reading' && timeOf(line) >= from && timeOf(line) < to;
  const back = order.flatMap((channel, i) =>
    lines
      .filter((line) => isKept(line) && line.channel === channel)
      .map((line) => ({ ...line, arrived: at(to + 0.1 * (i + 1)) })),
  );
  const others = lines.filter((line) => !isKept(line));
  const index = others.findIndex((line) => line.type !== 'vessel' && timeOf(line) >= to);
  return index === -1 ? [...others, ...back] : [...others.slice(0, index), ...back, ...others.slice(index)];
}

/** A reaction whose coupling lets go from 400 s to 700 s. */
const lines = [
  vesselLine(),
  stage(0, 'react'),
  ...every(1, 1000, 1, (s) => [
    liquid(s, 55),
    speed(s, 250),
    reading(s, 'stirrer-current', s > 400 && s <= 700 ? 0.4 : 1),
  ]),
  end(1000),
];
const inOrder = play(lines);

describe('what was kept while the link was down', () => {
  test.each([
    [['liquid-temperature', 'stirrer-speed', 'stirrer-current']],
    [['stirrer-current', 'stirrer-speed', 'liquid-temperature']],
    [['stirrer-speed', 'liquid-temperature', 'stirrer-current']],
  ])('is judged in the order of its times, whichever channel comes first: %s', (order) => {
    const run = play(offline(lines, 350, 800, order));
    expect(ofAlarm(inOrder, 'coupling-lost')).toEqual(['411 raised high', '701 cleared high']);
    expect(ofAlarm(run, 'coupling-lost')).toEqual(['411 raised high', '701 cleared high']);
    expect(run.alarmLines.filter(({ alarm }) => alarm === 'coupling-lost').map(({ late }) => late)).toEqual([
      true,
      true,
    ]);
    expect(run.summaries.r1?.creditedReactionMinutes).toBeCloseTo(
      inOrder.summaries.r1!.creditedReactionMinutes,
      9,
    );
  });

  test('earns in its own stage, though the next has begun', () => {
    const cut = [
      ...lines.slice(0, -1),
      stage(1001, 'settle'),
      ...every(1002, 1010, 1, (s) => liquid(s, 55)),
      end(1010),
    ];
    const order = ['stirrer-speed', 'stirrer-current', 'liquid-temperature'];
    const kept = offline(cut.slice(0, -11), 350, 1001, order);
    const settled = { ...stage(1000.5, 'settle'), at: at(1001), arrived: at(1001) };
    const late = kept.map((line) => (line.arrived === undefined ? line : { ...line, arrived: at(1005) }));
    const isBack = (line: Line) => line.arrived !== undefined;
    const run = play([...late.filter((line) => !isBack(line)), settled, ...late.filter(isBack), end(1010)]);
    expect(run.summaries.r1?.creditedReactionMinutes).toBeCloseTo(
      play(cut).summaries.r1!.creditedReactionMinutes,
      9,
    );
  });

  test('counts as mixed methoxide', () => {
    const methoxide = [
      vesselLine(),
      vesselLine({}, { vessel: 'm1' }),
      stage(0, 'methoxide', 'm1'),
      ...every(1, 720, 1, (s) => ({ ...speed(s, 250), vessel: 'm1' })),
      stage(721, 'dose'),
    ];
    expect(ofAlarm(play(methoxide), 'methoxide-short')).toEqual([]);
    expect(ofAlarm(play(offline(methoxide, 100, 650, ['stirrer-speed'])), 'methoxide-short')).toEqual([]);
  });

  test('is judged before what people do, and at the end of a run', () => {
    const boils = [
      vesselLine(),
      stage(0, 'react'),
      liquid(1, 50),
      ...[64, 64.4, 60].map((value, i) => liquid(100 + 10 * i, value, { arrived: at(300) })),
    ];
    const raised = ['100 raised high', '120 cleared high'];
    expect(ofAlarm(play(boils), 'boiling-near')).toEqual(raised);
    expect(ofAlarm(play(boils, { ...stage(300, 'settle'), arrived: at(300.1) }), 'boiling-near')).toEqual(
      raised,
    );
  });
});

test('a device whose clock is behind holds nothing up', () => {
  const behind = every(1, 20, 1, (s) => liquid(s, s < 10 ? 55 : 63, { arrived: at(s + 3600) }));
  const { alarmLines } = play(vesselLine(), { ...stage(0, 'react'), arrived: at(3600) }, behind, end(3620));
  expect(alarmLines.map(({ alarm, at: when }) => [alarm, when])).toContainEqual(['probe-jump', at(10)]);
  expect(alarmLines.map(({ alarm, at: when }) => [alarm, when])).toContainEqual(['boiling-near', at(11)]);
});
