import { expect, test } from 'vitest';
import { BOILING_C, liquid, ofAlarm, play, reading, stage, vesselLine } from '../run.ts';

const below = (headroomC: number): number => BOILING_C - headroomC;
const hot = (values: number[], plan: object = {}, name: Parameters<typeof stage>[1] = 'methoxide') =>
  ofAlarm(
    play(
      vesselLine(plan),
      stage(0, name),
      values.map((c, s) => liquid(s, c)),
    ),
    'methoxide-hot',
  );

test('methoxide-hot is raised under 10 °C of headroom in methoxide alone, and cleared over 12 °C', () => {
  expect(hot([below(10.01)])).toEqual([]);
  expect(hot([below(10.01), below(9.99)])).toEqual(['1 raised high']);
  expect(hot([below(9.99), below(11.99), below(9)])).toEqual(['0 raised high']);
  expect(hot([below(9.99), below(12.01)])).toEqual(['0 raised high', '1 cleared high']);
  for (const name of ['dose', 'react', 'esterify', 'warm', 'settle'] as const) {
    expect(hot([below(5)], { methanolInFeed: true }, name)).toEqual([]);
  }
});

test('it goes by the plan’s limit, the vessel’s pressure and the hottest probe', () => {
  expect(hot([below(14.9)], { limits: { methoxideMarginC: 15 } })).toEqual(['0 raised high']);
  expect(hot([below(14.9), below(17.1)], { limits: { methoxideMarginC: 15 } })).toHaveLength(2);
  // 500 hPa: methanol boils at 47.6 °C (computed).
  const vacuum = play(vesselLine(), stage(0, 'methoxide'), reading(0, 'vessel-pressure', 500), liquid(1, 40));
  expect(ofAlarm(vacuum, 'methoxide-hot')).toEqual(['1 raised high']);
  const two = play(
    vesselLine(),
    stage(0, 'methoxide'),
    liquid(1, 30),
    reading(2, 'liquid-temperature-2', 56),
    liquid(3, 30),
  );
  expect(ofAlarm(two, 'methoxide-hot')).toEqual(['2 raised high']);
});

test('it ends with the stage, and is not told where boiling-near stands', () => {
  const run = play(vesselLine(), stage(0, 'methoxide'), liquid(1, below(2)), stage(2, 'idle'));
  expect(ofAlarm(run, 'methoxide-hot')).toEqual(['1 raised high', '2 cleared high']);
  expect(run.alarmLines.find(({ alarm }) => alarm === 'methoxide-hot')).toMatchObject({
    explainedBy: 'boiling-near',
  });
});
