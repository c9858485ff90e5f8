import { describe, expect, test } from 'vitest';
import { at, end, heater, type Line, ofAlarm, play, reading, stage, vesselLine } from '../run.ts';
import { todos } from './todo.ts';

const on = (...lines: Line[]) =>
  ofAlarm(play(vesselLine({ requiredSettleHours: 0 }), ...lines), 'heater-on-draining');
const HOUR = 3600;

describe('heater-on-draining', () => {
  test('is raised when heat is asked for 5 s in drain, by readings or by the clock', () => {
    expect(on(stage(0, 'drain'), heater(1, 1), heater(5.9, 1))).toEqual([]);
    expect(on(stage(0, 'drain'), heater(1, 1), heater(6, 1))).toEqual(['6 raised critical']);
    expect(on(stage(0, 'drain'), heater(1, 1), end(5.9))).toEqual([]);
    expect(on(stage(0, 'drain'), heater(1, 1), end(60))).toEqual(['6 raised critical']);
  });

  test('counts from the stage’s start where heat was asked for before', () => {
    expect(on(stage(0, 'settle'), heater(1, 1), stage(100, 'drain'), end(104.9))).toEqual([]);
    expect(on(stage(0, 'settle'), heater(1, 1), stage(100, 'drain'), end(105))).toEqual([
      '105 raised critical',
    ]);
  });

  test('is not raised by a slip, and clears when heat is no longer asked for', () => {
    expect(on(stage(0, 'drain'), heater(1, 1), heater(5, 0), heater(6, 1), heater(10, 0), end(60))).toEqual(
      [],
    );
    expect(on(stage(0, 'drain'), heater(1, 1), heater(8, 1), heater(9, 0), end(60))).toEqual([
      '6 raised critical',
      '9 cleared critical',
    ]);
  });

  test('is for drain and for an emptied vessel alone', () => {
    for (const name of ['warm', 'react', 'settle', 'recover', 'wash'] as const) {
      expect(on(stage(0, name), heater(1, 1), end(60))).toEqual([]);
    }
    // No batch was in it yet.
    expect(on(heater(1, 1), end(60))).toEqual([]);
  });

  test('is for 12 h after a batch, however it ended', () => {
    for (const name of ['finished', 'rejected', 'void'] as const) {
      expect(on(stage(0, 'test'), stage(10, name), heater(20, 1), end(60))).toEqual(['25 raised critical']);
    }
    const late = (seconds: number) =>
      on(stage(0, 'test'), stage(10, 'finished'), heater(10 + seconds, 1), end(13 * HOUR));
    expect(late(12 * HOUR - 5.1)).toHaveLength(1);
    expect(late(12 * HOUR - 4.9)).toEqual([]);
  });

  test('is for a reactor too whose batch has gone on into another vessel', () => {
    const settling = vesselLine({}, { vessel: 's1', role: 'settling' });
    expect(on(settling, stage(0, 'react'), stage(100, 'settle', 's1'), heater(200, 1), end(300))).toEqual([
      '205 raised critical',
    ]);
  });

  test('goes on from the drain through the end of the batch', () => {
    expect(on(stage(0, 'drain'), heater(1, 1), stage(100, 'rejected'), end(200))).toEqual([
      '6 raised critical',
    ]);
    expect(on(stage(0, 'drain'), heater(1, 1), stage(100, 'wash'), end(200))).toEqual([
      '6 raised critical',
      '100 cleared critical',
    ]);
  });

  test('what came in one message from offline is judged by the times of its readings', () => {
    const sent = (seconds: number, value: number) => reading(seconds, 'heater', value, { arrived: at(500) });
    const lines = [stage(0, 'drain'), sent(100, 1), sent(104, 1), sent(110, 1), sent(120, 0)];
    const run = play(vesselLine(), ...lines);
    expect(ofAlarm(run, 'heater-on-draining')).toEqual(['110 raised critical', '120 cleared critical']);
    expect(run.alarmLines[0]?.late).toBe(true);
    expect(on(stage(0, 'drain'), sent(100, 1), sent(104, 1), sent(104.5, 0), end(600))).toEqual([]);
  });

  test('says where the element is bare', () => {
    const drain = todos('heater-on-draining', vesselLine(), stage(0, 'drain'), heater(1, 1), end(10));
    expect(drain).toEqual([expect.stringMatching(/^Turn the heat off at once/)]);
  });
});
