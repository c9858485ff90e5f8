import { describe, expect, test } from 'vitest';
import { at, every, type Line, liquid, ofAlarm, play, reading, stage, vesselLine } from '../run.ts';
import { todos } from './todo.ts';

interface Drive {
  mixing?: 'stirrer-speed' | 'pump-flow' | 'pump';
  everySeconds?: number;
  /** The current comes so long after the speed, s; before it where negative. */
  currentAfter?: number;
}

const drive = (from: number, to: number, turns: number, amperes: number, how: Drive = {}): Line[] => {
  const { mixing = 'stirrer-speed', everySeconds = 1, currentAfter = 0 } = how;
  const current = mixing === 'stirrer-speed' ? 'stirrer-current' : 'pump-current';
  return every(from, to, everySeconds, (s) => {
    const speedLine = reading(s, mixing, turns);
    const currentLine = reading(s + currentAfter, current, amperes);
    return currentAfter < 0 ? [currentLine, speedLine] : [speedLine, currentLine];
  });
};
const told = (
  name: string,
  lines: Line[],
  plan: object = {},
  inStage: 'react' | 'warm' | 'settle' = 'react',
) => ofAlarm(play(vesselLine(plan), stage(0, inStage), ...lines), name);
const lost = (lines: Line[], plan?: object, inStage?: 'react' | 'warm' | 'settle') =>
  told('coupling-lost', lines, plan, inStage);

describe('coupling-lost', () => {
  test('is not for a drive that somebody slowed down, whichever reading says so first', () => {
    for (const currentAfter of [-0.4, 0, 0.4]) {
      const how = { currentAfter };
      expect(lost([...drive(1, 60, 300, 2, how), ...drive(61, 200, 210, 1, how)])).toEqual([]);
      // And from then on by what is usual at that speed.
      const again = [
        ...drive(1, 60, 300, 2, how),
        ...drive(61, 120, 210, 1, how),
        ...drive(121, 140, 210, 0.5, how),
      ];
      expect(lost(again)).toEqual([`${131 + currentAfter} raised high`]);
    }
  });

  test('is for one that goes faster without its load, and its standard stays while it is in doubt', () => {
    expect(lost([...drive(1, 60, 300, 2), ...drive(61, 75, 360, 1)])).toEqual(['71 raised high']);
    // Changed in the midst of the doubt: 5 s on.
    expect(lost([...drive(1, 60, 300, 2), ...drive(61, 65, 300, 1), ...drive(66, 75, 250, 1)])).toEqual([
      '71 raised high',
    ]);
    const long = [...drive(1, 60, 300, 2), ...drive(61, 600, 360, 1)];
    expect(lost([...long, ...drive(601, 601, 360, 1.6)])).toEqual(['71 raised high', '601 cleared high']);
  });

  test('knows the last 5 min only', () => {
    const rested = (seconds: number) => [
      ...drive(1, 60, 300, 2),
      ...drive(61, 60 + seconds, 0, 0),
      ...drive(61 + seconds, 90 + seconds, 300, 1),
    ];
    expect(lost(rested(60))).toEqual(['131 raised high']);
    expect(lost(rested(400))).toEqual([]);
  });

  test('one reading in between of a good current begins the 10 s anew', () => {
    const doubt = [...drive(1, 60, 300, 2), ...drive(61, 69, 300, 1)];
    expect(lost([...doubt, ...drive(70, 70, 300, 2), ...drive(71, 80, 300, 1)])).toEqual([]);
    expect(lost([...doubt, ...drive(70, 70, 300, 2), ...drive(71, 81, 300, 1)])).toEqual(['81 raised high']);
  });

  test('is not told of a drive whose speed nobody knows', () => {
    const silent = every(61, 120, 1, (s) => reading(s, 'stirrer-current', 0));
    expect(lost([...drive(1, 60, 300, 2), ...silent])).toEqual([]);
    const doubt = every(61, 62, 1, (s) => reading(s, 'stirrer-speed', 300));
    const byTime = [...doubt, ...silent].sort((a, b) => String(a.at).localeCompare(String(b.at)));
    expect(lost([...drive(1, 60, 300, 2), ...byTime])).toEqual([]);
  });

  test('is the same with a pump, and with a pump that only says that it runs', () => {
    const flow = { mixing: 'pump-flow' } as const;
    expect(
      lost([...drive(1, 60, 20, 4, flow), ...drive(61, 71, 20, 2, flow)], { lowestPumpFlow: 10 }),
    ).toEqual(['71 raised high']);
    const pump = { mixing: 'pump' } as const;
    expect(lost([...drive(1, 60, 1, 4, pump), ...drive(61, 71, 1, 2, pump)])).toEqual(['71 raised high']);
  });

  test.each([0.2, 5, 10, 30])('with a reading every %s s', (everySeconds) => {
    const how = { everySeconds };
    const plan = { readingEverySeconds: everySeconds };
    const from = 60 + everySeconds;
    const [line, ...more] = lost(
      [...drive(0, 60, 300, 2, how), ...drive(from, from + 90, 300, 1, how)],
      plan,
    );
    expect(more).toEqual([]);
    // After 10 s, at the first reading then.
    expect(Number(line!.split(' ')[0])).toBeCloseTo(from + Math.ceil(10 / everySeconds) * everySeconds, 6);
  });

  test('is for the mixing stages', () => {
    const run = [...drive(1, 60, 300, 2), ...drive(61, 90, 300, 1)];
    for (const inStage of ['warm', 'settle'] as const) expect(lost(run, {}, inStage)).toEqual([]);
    // Lost before the stage began, it is told at its first reading.
    expect(lost([...run, stage(90.5, 'dose'), ...drive(91, 92, 300, 1)], {}, 'warm')).toEqual([
      '91 raised high',
    ]);
  });

  test('says to leave it stopped after 2 min over methoxide', () => {
    const run = [...drive(1, 60, 300, 2), ...drive(61, 181, 300, 1)];
    const [first, second, ...more] = todos('coupling-lost', vesselLine(), stage(0, 'react'), run);
    expect(more).toEqual([]);
    expect(first).toContain('coupling catches');
    expect(second).toContain('Switch it off before it catches again');
    expect(todos('coupling-lost', vesselLine(), stage(0, 'esterify'), run)).toHaveLength(1);
  });

  test('earns nothing, a late speed reading of that time neither', () => {
    const oil = (from: number, to: number) => every(from, to, 1, (s) => liquid(s, 55));
    const without = (s: number) => s >= 120 && s <= 150;
    const speeds = every(1, 300, 1, (s) => (without(s) ? [] : reading(s, 'stirrer-speed', 300)));
    const currents = every(1, 300, 1, (s) => reading(s, 'stirrer-current', s > 60 && s <= 240 ? 1 : 2));
    const late = every(120, 150, 1, (s) => reading(s, 'stirrer-speed', 300, { arrived: at(310) }));
    const byTime = [...oil(1, 300), ...speeds, ...currents].sort((a, b) =>
      String(a.at).localeCompare(String(b.at)),
    );
    const credit = (lines: Line[]) =>
      play(vesselLine({ requiredReactionMinutes: 5 }), stage(0, 'react'), ...lines).summaries.r1!
        .creditedReactionMinutes;
    expect(credit([...byTime, ...late])).toBeCloseTo(credit(byTime), 9);
    expect(credit(byTime)).toBeCloseTo(2, 1);
  });
});

describe('motor-stalled', () => {
  test('needs a reading of each from the time in question', () => {
    // Running hard, then switched off; its current is read every 30 s.
    const hard = [...drive(1, 60, 300, 2), reading(60.5, 'stirrer-current', 3.5)];
    const off = every(61, 89, 1, (s) => reading(s, 'stirrer-speed', 0));
    expect(told('motor-stalled', [...hard, ...off])).toEqual([]);
    expect(told('motor-stalled', [...hard, ...off, reading(90, 'stirrer-current', 0)])).toEqual([]);
    expect(told('motor-stalled', [...hard, ...off, reading(89.5, 'stirrer-current', 3.5)])).toEqual([
      '89.5 raised high',
    ]);
  });

  test('knows the last settled current, however long ago', () => {
    const run = [...drive(1, 60, 300, 2), ...drive(61, 1000, 0, 0), ...drive(1001, 1003, 0, 3.1)];
    expect(told('motor-stalled', run)).toEqual(['1003 raised high']);
    expect(told('motor-stalled', drive(1, 60, 0, 9))).toEqual([]);
  });

  test('explains the stopped mixing, but not where that is graver', () => {
    const run = [...drive(1, 60, 300, 2), ...drive(61, 80, 0, 4)];
    const stopped = (lines: Line[]) =>
      play(vesselLine(), stage(0, 'react'), ...lines).alarmLines.find(
        ({ alarm }) => alarm === 'mixing-stopped',
      );
    expect(stopped(run)).toMatchObject({ priority: 'high', explainedBy: 'motor-stalled' });
    expect(stopped([reading(1, 'heater', 1), ...run])).toMatchObject({
      priority: 'critical',
      explainedBy: null,
    });
  });

  test('says not to start it again after 2 min over methoxide', () => {
    const run = [...drive(1, 60, 300, 2), ...drive(61, 200, 0, 4)];
    const [first, second, ...more] = todos('motor-stalled', vesselLine(), stage(0, 'react'), run);
    expect(more).toEqual([]);
    expect(first).toContain('within 2 minutes');
    expect(second).toContain('Do not start it again');
    expect(todos('motor-stalled', vesselLine(), stage(0, 'warm'), run)).toEqual([
      expect.stringContaining('Free it before you start it again'),
    ]);
  });
});
