import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import type { Stage } from '../../../shared/wire/names.ts';
import { every, type Line, liquid, ofAlarm, play, reading, speed, stage, vesselLine } from '../run.ts';
import { todos } from './todo.ts';

const rising = (name: Stage, lines: Line[], plan: object = {}) =>
  ofAlarm(play(vesselLine(plan), stage(0, name), ...lines), 'rising-fast');
/** Steady for 240 s, then rising, a reading so often. */
const surge = (fromC: number, perMinute: number, forSeconds: number, everySeconds = 1): Line[] =>
  every(0, 240 + forSeconds, everySeconds, (s) => liquid(s, fromC + (perMinute * Math.max(0, s - 240)) / 60));
/** Steadily so from the start, for 5 min. */
const slope = (fromC: number, perMinute: number): Line[] =>
  every(0, 300, 1, (s) => liquid(s, fromC + (perMinute * s) / 60));

describe('rising-fast is raised', () => {
  test('over 3 °C/min in dose, react and esterify alone', () => {
    for (const name of ['dose', 'react', 'esterify'] as const) {
      expect(rising(name, slope(30, 2.99))).toEqual([]);
      expect(rising(name, slope(30, 3.01))).toEqual([expect.stringContaining('raised high')]);
    }
    for (const name of ['warm', 'prewash', 'settle', 'wash', 'recover'] as const) {
      expect(rising(name, slope(30, 6), { requiredSettleHours: 0 })).toEqual([]);
    }
  });

  test('by the plan’s own limit', () => {
    const plan = { limits: { risingCPerMin: 5 } };
    expect(rising('react', slope(30, 4.99), plan)).toEqual([]);
    expect(rising('react', slope(30, 5.01), plan)).toHaveLength(1);
  });

  test('not by a rise of 10 s that does not go on', () => {
    const short = surge(45, 5, 60).map((line) => ({ ...line, value: Math.min(Number(line.value), 45.8) }));
    expect(rising('react', short)).toEqual([]);
  });

  test('with readings every 0.2, 1, 10, 30 and 60 s', () => {
    for (const [everySeconds, within] of [
      [0.2, 40],
      [1, 40],
      [10, 50],
      [30, 90],
      [60, 180],
    ] as const) {
      const [raised] = rising('react', surge(30, 5, 240, everySeconds), {
        readingEverySeconds: everySeconds,
      });
      expect(Number.parseFloat(raised ?? '') - 240).toBeGreaterThan(0);
      expect(Number.parseFloat(raised ?? '') - 240).toBeLessThanOrEqual(within);
    }
  });

  test('only with 30 s of readings and some before them', () => {
    const lines = (to: number) => every(0, to, 1, (s) => liquid(s, 30 + s / 10));
    expect(rising('react', lines(30))).toEqual([]);
    expect(rising('react', lines(31))).toEqual(['31 raised high']);
  });

  test('only above the highest of the 3 min before: a cold charge warmed up again is no surge', () => {
    // Down by 6 °C with the cold dose, up again within a minute.
    const dose = (risesTo: number) =>
      every(0, 200, 1, (s) =>
        liquid(s, s < 60 ? 50 : s < 72 ? 50 - (s - 60) / 2 : Math.min(risesTo, 44 + (s - 72) / 10)),
      );
    expect(rising('dose', dose(49.9))).toEqual([]);
    expect(rising('dose', dose(52))[0]).toBe('133 raised high');
    // What is more than 3 min back counts no longer: 211 s after it was at 50 °C, on its way up to 49 °C.
    const later = every(0, 260, 1, (s) =>
      liquid(s, s < 20 ? 50 : s < 32 ? 50 - (s - 20) / 2 : s < 200 ? 44 : 44 + (s - 200) / 10),
    );
    expect(rising('dose', later)).toHaveLength(1);
    expect(Number.parseFloat(rising('dose', later)[0] ?? '')).toBeLessThan(260);
  });

  test('in methoxide under 25 °C of headroom, if boiling is within 5 min', () => {
    // Boiling at 64.549 °C: 39.549 °C is 25 °C below.
    const at5 = (to: number) => every(0, to, 1, (s) => liquid(s, 25 + (5 * s) / 60));
    expect(rising('methoxide', at5(174))).toEqual([]);
    expect(rising('methoxide', at5(175))).toEqual(['175 raised high']);
    // At 3.2 °C/min boiling is within 5 min under 16 °C of headroom, from 48.549 °C on.
    const at32 = (to: number) => every(0, to, 1, (s) => liquid(s, 40 + (3.2 * s) / 60));
    expect(rising('methoxide', at32(160))).toEqual([]);
    expect(rising('methoxide', at32(161))).toEqual(['161 raised high']);
    expect(rising('methoxide', slope(50, 2.9))).toEqual([]);
    expect(rising('methoxide', at5(240), { limits: { methoxideAheadMarginC: 20 } })).toEqual([
      '235 raised high',
    ]);
  });
});

describe('rising-fast clears', () => {
  const then = (perMinute: number) => [
    ...surge(45, 5, 60),
    ...every(301, 420, 1, (s) => liquid(s, 50 + (perMinute * (s - 300)) / 60)),
  ];

  test('slower than 1.5 °C/min', () => {
    expect(rising('react', then(1.6))).toHaveLength(1);
    expect(rising('react', then(1.4))).toEqual([
      expect.stringContaining('raised high'),
      expect.stringContaining('cleared high'),
    ]);
  });

  test('with the stages it is for, and goes on from one to the next', () => {
    const lines = (next: Stage) => [...surge(45, 5, 60), stage(300.5, next), liquid(301, 50.1)];
    expect(rising('dose', lines('react'))).toHaveLength(1);
    expect(rising('dose', lines('settle'))).toEqual([expect.anything(), '300.5 cleared high']);
  });

  test('and not by a gap', () => {
    expect(rising('react', [...surge(45, 5, 60), liquid(500, 50)])).toHaveLength(1);
  });
});

test('rising-fast goes by the hottest probe, and by readings in order', () => {
  const two = every(0, 300, 1, (s) => [
    liquid(s, 40),
    reading(s, 'liquid-temperature-2', 45 + Math.max(0, s - 240) / 12),
  ]);
  expect(rising('react', two)).toHaveLength(1);
  const lines = surge(45, 5, 60);
  const once = rising('react', lines);
  expect(
    rising(
      'react',
      lines.flatMap((line) => [line, line]),
    ),
  ).toEqual(once);
  expect(
    rising(
      'react',
      lines.flatMap((line, s) => (s > 100 ? [line, liquid(s - 40.5, 70)] : [line])),
    ),
  ).toEqual(once);
});

test('noise and steps of 0.0625 °C are no surge', () => {
  fc.assert(
    fc.property(
      fc.array(fc.double({ min: -0.2, max: 0.2, noNaN: true }), { minLength: 300, maxLength: 300 }),
      (noise) => {
        const lines = noise.map((c, s) => liquid(s, Math.round((50 + s / 60 + c) * 16) / 16));
        return rising('react', lines).length === 0;
      },
    ),
    { numRuns: 50 },
  );
});

test('what to do about rising-fast goes by the stage and by the stirrer', () => {
  const todo = (name: Stage, ...lines: Line[]) =>
    todos('rising-fast', vesselLine(), stage(0, name), ...lines);
  expect(todo('dose', ...surge(45, 5, 60))).toEqual(['Add nothing more. Turn the heat off. Keep stirring.']);
  expect(todo('methoxide', ...slope(30, 6))[0]).toContain('no more lye');
  const still = every(0, 300, 1, (s) => speed(s, s < 20 ? 300 : 0));
  const stopped = surge(45, 5, 60).flatMap((line, i) => [still[i]!, line]);
  expect(todo('react', ...stopped)).toEqual([
    'Add nothing more. Turn the heat off. Do not start the stirring again.',
  ]);
});
