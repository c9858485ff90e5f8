import { expect, test } from 'vitest';
import {
  at,
  BOILING_C,
  end,
  every,
  heater,
  type Line,
  liquid,
  ofAlarm,
  play,
  reading,
  speed,
  stage,
  vesselLine,
} from './run.ts';

/** A vessel that was heard of long before its batch, by these readings a day earlier. */
const heardBefore = (...before: Line[]): Line[] => [
  { ...vesselLine({}, { batch: null }), at: at(-86_400) },
  ...before.map((line) => ({ ...line, at: at(-86_000) })),
  { ...vesselLine(), at: at(0) },
];

test('a vacuum of an earlier batch does not say where methanol boils in this one', () => {
  const old = heardBefore(reading(0, 'vessel-pressure', 300));
  const run = play(
    old,
    stage(0, 'dose'),
    every(1, 30, 1, (s) => liquid(s, 50)),
  );
  expect(run.alarms).toEqual([]);
  expect(run.summaries.r1?.smallestHeadroomC).toBeCloseTo(BOILING_C - 50, 2);
});

test('a stirrer of an earlier batch does not stand for the pump of this one', () => {
  const old = heardBefore(speed(0, 250));
  const pumped = (flow: number) => (s: number) => [liquid(s, 50), reading(s, 'pump-flow', flow)];
  const run = play(old, stage(0, 'dose'), every(1, 60, 1, pumped(30)), every(61, 80, 1, pumped(0)));
  expect(ofAlarm(run, 'mixing-stopped')).toEqual(['71 raised high']);
});

test('nor does it keep a person’s word from counting, that it is mixed', () => {
  const old = heardBefore(speed(0, 250));
  const stated = { ...vesselLine({ mixingStated: true }), at: at(0) };
  const run = play(
    old.slice(0, -1),
    stated,
    stage(0, 'react'),
    every(1, 601, 1, (s) => liquid(s, 55)),
  );
  expect(run.summaries.r1?.creditedReactionMinutes).toBeCloseTo(10, 1);
});

test('a heater that was on a day ago is not known to be on', () => {
  const drained = (...before: Line[]) =>
    ofAlarm(play(heardBefore(...before), stage(0, 'drain'), end(60)), 'heater-on-draining');
  expect(drained(heater(0, 1))).toEqual([]);
  const now = play(vesselLine({}, { batch: null }), heater(0, 1), vesselLine(), stage(1, 'drain'), end(60));
  expect(ofAlarm(now, 'heater-on-draining')).toEqual(['6 raised critical']);
});

test('an hour in two vessels at once is an hour', () => {
  const both = every(1, 601, 1, (s) =>
    ['r1', 'r2'].flatMap((vessel) => [
      { ...liquid(s, 55), vessel },
      { ...speed(s, 250), vessel },
    ]),
  );
  const run = play(
    vesselLine(),
    vesselLine({}, { vessel: 'r2' }),
    stage(0, 'react'),
    stage(0, 'react', 'r2'),
    both,
  );
  expect(run.summaries.r1?.creditedReactionMinutes).toBeCloseTo(10, 1);
});
