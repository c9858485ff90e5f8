import { describe, expect, test } from 'vitest';
import { emptySiteState } from '../../../shared/engine/state.ts';
import { step } from '../../../shared/engine/step.ts';
import { resolveWatchPlan } from '../../../shared/plan/watch-plan.ts';
import { every, type Line, liquid, play, reading, START_MS, speed, stage, vesselLine } from '../run.ts';

const charge = (vessel = 'm1') => vesselLine({}, { vessel, role: 'methoxide' });
const mixed = (from: number, to: number, value = 300, everySeconds = 1, vessel = 'm1'): Line[] =>
  every(from, to, everySeconds, (s) => ({ ...speed(s, value), vessel }));
const short = (plan: object, ...lines: (Line | Line[])[]) =>
  play(vesselLine(plan), charge(), lines.flat()).alarms.filter((line) => line.includes('methoxide-short'));
const RAISED = expect.stringContaining('r1 methoxide-short raised medium');

describe('methoxide-short', () => {
  test('is raised on the dosing vessel when the charge was mixed for less than 10 min', () => {
    expect(short({}, stage(0, 'methoxide', 'm1'), mixed(0, 599), stage(600, 'dose'))).toEqual([
      '600 r1 methoxide-short raised medium',
    ]);
    expect(short({}, stage(0, 'methoxide', 'm1'), mixed(0, 600), stage(601, 'dose'))).toEqual([]);
  });

  test('goes by the plan’s own time', () => {
    const plan = { limits: { methoxideMinutes: 3 } };
    expect(short(plan, stage(0, 'methoxide', 'm1'), mixed(0, 179), stage(200, 'dose'))).toEqual([RAISED]);
    expect(short(plan, stage(0, 'methoxide', 'm1'), mixed(0, 180), stage(200, 'dose'))).toEqual([]);
  });

  test('counts mixing at speed in the stage alone, no gap and no slow turning', () => {
    const begin = stage(100, 'methoxide', 'm1');
    expect(short({}, mixed(0, 99), begin, mixed(101, 690), stage(700, 'dose'))).toEqual([RAISED]);
    expect(short({}, begin, mixed(100, 400), mixed(410, 705), stage(720, 'dose'))).toEqual([RAISED]);
    expect(
      short({}, begin, mixed(100, 400), mixed(401, 600, 199), mixed(601, 890), stage(900, 'dose')),
    ).toEqual([RAISED]);
    expect(
      short({}, begin, mixed(100, 400), mixed(401, 600, 199), mixed(601, 910), stage(920, 'dose')),
    ).toEqual([]);
  });

  test('with readings every 0.2, 10 and 30 s, of a stirrer or a pump', () => {
    for (const everySeconds of [0.2, 10, 30]) {
      const lines = (to: number) => [stage(0, 'methoxide', 'm1'), ...mixed(0, to, 300, everySeconds)];
      expect(short({}, lines(600), stage(631, 'dose'))).toEqual([]);
      expect(short({}, lines(600 - everySeconds), stage(631, 'dose'))).toEqual([RAISED]);
    }
    const pumped = every(0, 300, 1, (s) => ({ ...reading(s, 'pump', 1), vessel: 'm1' }));
    expect(short({}, stage(0, 'methoxide', 'm1'), pumped, stage(301, 'dose'))).toEqual([RAISED]);
  });

  test('is only where a charge was made in a vessel that shows its mixing', () => {
    expect(short({}, stage(0, 'dose'))).toEqual([]);
    expect(short({}, mixed(0, 60), stage(61, 'dose'))).toEqual([]);
    const unseen = { ...liquid(1, 20), vessel: 'm1' };
    expect(short({}, stage(0, 'methoxide', 'm1'), unseen, stage(60, 'dose'))).toEqual([]);
  });

  test('goes by the less mixed of two charges, and by one that has left its vessel before', () => {
    const two = [charge('m2'), stage(0, 'methoxide', 'm1'), stage(0, 'methoxide', 'm2')];
    const both = (first: number, second: number) =>
      every(0, 700, 1, (s) => [
        ...(s <= first ? mixed(s, s) : []),
        ...(s <= second ? mixed(s, s, 300, 1, 'm2') : []),
      ]);
    expect(short({}, two, both(650, 300), stage(701, 'dose'))).toEqual([RAISED]);
    expect(short({}, two, both(300, 650), stage(701, 'dose'))).toEqual([RAISED]);
    expect(short({}, two, both(650, 650), stage(701, 'dose'))).toEqual([]);
    const emptied = (to: number) => [
      stage(0, 'methoxide', 'm1'),
      ...mixed(0, to),
      stage(to + 1, 'idle', 'm1'),
    ];
    expect(short({}, emptied(300), stage(900, 'dose'))).toEqual([RAISED]);
    expect(short({}, emptied(600), stage(900, 'dose'))).toEqual([]);
  });

  test('is of one dose: the next goes by its own charge', () => {
    const first = [stage(0, 'methoxide', 'm1'), ...mixed(0, 600), stage(601, 'dose')];
    expect(short({}, first, stage(700, 'methoxide', 'm1'), mixed(700, 900), stage(901, 'dose'))).toEqual([
      RAISED,
    ]);
    expect(short({}, first, stage(700, 'dose'))).toEqual([]);
  });

  test('stands through the stages until it is acknowledged', () => {
    const site = { pressureHPa: 1013.25 };
    const state = emptySiteState();
    const told: string[] = [];
    const put = (input: Parameters<typeof step>[1]) => {
      for (const output of step(state, input)[1]) {
        if (output.type === 'alarm' && output.alarm === 'methoxide-short') told.push(output.event);
      }
    };
    for (const vessel of ['r1', 'm1']) {
      const batch = { id: 'b', plan: resolveWatchPlan(), site };
      put({ type: 'vessel', arrivedMs: START_MS, vessel, role: 'reactor', batch });
    }
    const enter = (vessel: string, name: Parameters<typeof stage>[1], atMs: number) =>
      put({ type: 'stage', arrivedMs: atMs, atMs, vessel, stage: name, batch: 'b' });
    enter('m1', 'methoxide', START_MS);
    const read = { type: 'reading', vessel: 'm1', channel: 'stirrer-speed', value: 300 } as const;
    put({ ...read, arrivedMs: START_MS + 1000, atMs: START_MS + 1000, typed: false, stamped: false });
    enter('r1', 'dose', START_MS + 2000);
    enter('r1', 'react', START_MS + 3000);
    enter('r1', 'settle', START_MS + 4000);
    expect(told).toEqual(['raised']);
    put({ type: 'acknowledge', arrivedMs: START_MS + 5000, vessel: 'r1', alarm: 1, by: 'Ana', reason: null });
    expect(told).toEqual(['raised', 'acknowledged', 'cleared']);
  });
});
