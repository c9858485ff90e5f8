import { describe, expect, test } from 'vitest';
import { every, type Line, liquid, ofAlarm, play, reading, stage, vesselLine } from '../run.ts';

/** Speed and current of the drive, once a second. */
const drive = (from: number, to: number, speed: number, amperes: number): Line[] =>
  every(from, to, 1, (s) => [
    reading(s, 'stirrer-speed', speed),
    reading(s, 'stirrer-current', amperes),
    liquid(s, 55),
  ]);
const played = (lines: Line[]) => play(vesselLine(), stage(0, 'react'), ...lines);

describe('coupling-lost', () => {
  const lost = (lines: Line[]) => ofAlarm(played(lines), 'coupling-lost');
  const settled = drive(1, 60, 300, 2);

  test('is raised when it turns at over 40 % less than the settled current for 10 s', () => {
    expect(lost([...settled, ...drive(61, 70, 300, 1.19)])).toEqual([]);
    expect(lost([...settled, ...drive(61, 71, 300, 1.19)])).toEqual(['71 raised high']);
    expect(lost([...settled, ...drive(61, 90, 300, 1.21)])).toEqual([]);
  });

  test('needs 30 s to know what is settled, and a drive at speed', () => {
    expect(lost([...drive(1, 10, 300, 2), ...drive(11, 60, 300, 1)])).toEqual([]);
    expect(lost([...settled, ...drive(61, 90, 100, 1)])).toEqual([]);
  });

  test('clears when the current is back within a fifth, and where mixing ends', () => {
    const begun = [...settled, ...drive(61, 71, 300, 1)];
    expect(lost([...begun, ...drive(72, 72, 300, 1.59)])).toEqual(['71 raised high']);
    expect(lost([...begun, ...drive(72, 72, 300, 1.61)])).toEqual(['71 raised high', '72 cleared high']);
    expect(lost([...begun, stage(72, 'settle')])).toEqual(['71 raised high', '72 cleared high']);
  });

  test('takes the lost time out of what is counted, from its beginning', () => {
    const whole = played(drive(1, 301, 300, 2)).summaries.r1!.creditedReactionMinutes;
    const part = played([...settled, ...drive(61, 180, 300, 1), ...drive(181, 301, 300, 2)]);
    expect(whole).toBeCloseTo(5, 1);
    // Two minutes of five: one reading's interval at each end is in doubt.
    expect(part.summaries.r1!.creditedReactionMinutes).toBeCloseTo(3, 1);
  });
});

describe('motor-stalled', () => {
  const stalled = (lines: Line[]) => ofAlarm(played(lines), 'motor-stalled');
  const settled = drive(1, 60, 300, 2);

  test('is raised over 1.5 times the settled current with the speed under a tenth of the lowest for 2 s', () => {
    expect(stalled([...settled, ...drive(61, 62, 0, 3.1)])).toEqual([]);
    expect(stalled([...settled, ...drive(61, 63, 0, 3.1)])).toEqual(['63 raised high']);
    expect(stalled([...settled, ...drive(61, 70, 0, 2.9)])).toEqual([]);
    expect(stalled([...settled, ...drive(61, 70, 21, 3.1)])).toEqual([]);
  });

  test('stands in any stage, and clears when either ends', () => {
    const begun = [...settled, stage(60.5, 'settle'), ...drive(61, 64, 0, 3.1)];
    expect(stalled(begun)).toEqual(['63 raised high']);
    expect(stalled([...begun, ...drive(65, 65, 0, 0)])).toEqual(['63 raised high', '65 cleared high']);
    expect(stalled([...begun, ...drive(65, 65, 300, 3.1)])).toEqual(['63 raised high', '65 cleared high']);
  });
});
