import { expect, test } from 'vitest';
import { BOILING_C, type Line, liquid, play, reading, stage, vesselLine } from '../run.ts';

const charge = (vessel = 'm1') => vesselLine({}, { vessel, role: 'methoxide' });
const inCharge = (line: Line, vessel = 'm1'): Line => ({ ...line, vessel });
const warm = (plan: object, ...lines: Line[]) =>
  play(vesselLine(plan), charge(), ...lines).alarms.filter((line) => line.includes('methoxide-warm-to-dose'));
const dosedAt = (headroomC: number, plan: object = {}) =>
  warm(
    plan,
    stage(0, 'warm'),
    liquid(0, 45),
    stage(0, 'methoxide', 'm1'),
    inCharge(liquid(1, BOILING_C - headroomC)),
    stage(2, 'dose'),
  );

test('methoxide-warm-to-dose is raised on the dosing vessel under 25 °C of headroom of the charge', () => {
  expect(dosedAt(25.01)).toEqual([]);
  expect(dosedAt(24.99)).toEqual(['2 r1 methoxide-warm-to-dose raised medium']);
  expect(dosedAt(29.9, { limits: { methoxideDoseMarginC: 30 } })).toHaveLength(1);
});

test('it goes by the last reading, of the hottest probe and charge', () => {
  const lines = (...more: Line[]) =>
    warm(
      {},
      charge('m2'),
      stage(0, 'methoxide', 'm1'),
      stage(0, 'methoxide', 'm2'),
      inCharge(liquid(1, 47)),
      inCharge(liquid(600, 31)),
      ...more,
      stage(700, 'dose'),
    );
  expect(lines()).toEqual([]);
  expect(lines(inCharge(reading(600, 'liquid-temperature-2', 45)))).toHaveLength(1);
  expect(lines(inCharge(liquid(600, 45), 'm2'))).toHaveLength(1);
});

test('it is silent where the charge has no probe or no vessel, and stays until the stage ends', () => {
  expect(warm({}, stage(0, 'methoxide', 'm1'), stage(1, 'dose'))).toEqual([]);
  expect(warm({}, inCharge(liquid(1, 50)), stage(2, 'dose'))).toEqual([]);
  const run = warm(
    {},
    stage(0, 'methoxide', 'm1'),
    inCharge(liquid(1, 50)),
    stage(2, 'dose'),
    liquid(3, 20),
    stage(60, 'react'),
  );
  expect(run).toEqual([
    '2 r1 methoxide-warm-to-dose raised medium',
    '60 r1 methoxide-warm-to-dose cleared medium',
  ]);
});
