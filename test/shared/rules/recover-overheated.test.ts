import { expect, test } from 'vitest';
import { liquid, ofAlarm, play, reading, stage, vesselLine } from '../run.ts';

const over = (values: number[], plan: object = {}, name: Parameters<typeof stage>[1] = 'recover') =>
  ofAlarm(
    play(
      vesselLine(plan),
      stage(0, name),
      values.map((c, i) => liquid(10 * i, c)),
    ),
    'recover-overheated',
  );

test('recover-overheated is raised over 120 °C in recover alone, and cleared 5 °C below', () => {
  expect(over([120])).toEqual([]);
  expect(over([119, 120.01, 115.01, 121])).toEqual(['10 raised high']);
  expect(over([119, 120.01, 115])).toEqual(['10 raised high', '20 cleared high']);
  for (const name of ['dry-oil', 'dry-fuel', 'wash', 'settle'] as const)
    expect(over([125], {}, name)).toEqual([]);
});

test('it goes by the plan’s limit and the hottest probe, and ends with the stage', () => {
  expect(over([99, 100.1, 95], { limits: { recoverHighestC: 100 } })).toEqual([
    '10 raised high',
    '20 cleared high',
  ]);
  const run = play(
    vesselLine(),
    stage(0, 'recover'),
    liquid(1, 110),
    reading(2, 'liquid-temperature-2', 121),
    stage(3, 'wash'),
  );
  expect(ofAlarm(run, 'recover-overheated')).toEqual(['2 raised high', '3 cleared high']);
  // One wild value is no liquid's.
  expect(over([110, 140, 110])).toEqual([]);
});
