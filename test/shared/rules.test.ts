import { describe, expect, test } from 'vitest';
import { describeAlarm } from '../../shared/rules/describe.ts';
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

/** A run at one temperature a second, from second 1 on, in a stage that began at 0. */
const temperatures = (inStage: Parameters<typeof stage>[1], values: number[], plan: object = {}): Line[] => [
  vesselLine(plan),
  stage(0, inStage),
  ...values.map((value, i) => liquid(i + 1, value)),
];
/** So far below boiling. */
const below = (headroomC: number): number => BOILING_C - headroomC;

describe('boiling-near', () => {
  const near = (values: number[], plan?: object) =>
    ofAlarm(play(temperatures('react', values, plan)), 'boiling-near');

  test('is raised under 3 °C of headroom, and cleared over 4 °C', () => {
    expect(near([below(3.1), below(3.01)])).toEqual([]);
    expect(near([below(3.1), below(2.99)])).toEqual(['2 raised high']);
    expect(near([below(2.9), below(3.5), below(3.99)])).toEqual(['1 raised high']);
    expect(near([below(2.9), below(4.01)])).toEqual(['1 raised high', '2 cleared high']);
    expect(near([below(2.9), below(4.01), below(2.9)])).toEqual([
      '1 raised high',
      '2 cleared high',
      '3 raised high',
    ]);
  });

  test('goes by the plan’s own limit', () => {
    expect(near([below(4.9)], { limits: { nearMarginC: 5 } })).toEqual(['1 raised high']);
    expect(near([below(4.9), below(5.9), below(6.1)], { limits: { nearMarginC: 5 } })).toEqual([
      '1 raised high',
      '3 cleared high',
    ]);
  });

  test('says how near it is and what the limit was', () => {
    const [line] = play(temperatures('react', [below(2)])).alarmLines;
    expect(line).toMatchObject({ at: at(1), value: expect.closeTo(2, 2), limit: 3, late: false });
    expect(line?.because).toContain('2.0 °C');
  });

  test('works only where methanol is', () => {
    expect(ofAlarm(play(temperatures('warm', [63, 63])), 'boiling-near')).toEqual([]);
    expect(ofAlarm(play(temperatures('warm', [63, 63], { methanolInFeed: true })), 'boiling-near')).toEqual([
      '1 raised high',
    ]);
    for (const inStage of ['prewash', 'esterify', 'methoxide', 'dose', 'react'] as const) {
      expect(ofAlarm(play(temperatures(inStage, [63])), 'boiling-near')).toEqual(['1 raised high']);
    }
  });

  test('and no longer from the end of the first wash on', () => {
    const washed = play(
      vesselLine(),
      stage(0, 'react'),
      liquid(1, 50),
      stage(2, 'settle'),
      stage(3, 'wash'),
      liquid(40, 63),
      liquid(80, 50),
      stage(90, 'filter'),
      liquid(120, 63),
      liquid(121, 63),
    );
    expect(ofAlarm(washed, 'boiling-near')).toEqual(['40 raised high', '80 cleared high']);
  });

  test('goes by the hottest of several probes, a silent one left out', () => {
    const second = (seconds: number, value: number) => reading(seconds, 'liquid-temperature-2', value);
    expect(
      ofAlarm(
        play(
          vesselLine(),
          stage(0, 'react'),
          liquid(1, 50),
          second(2, 62),
          liquid(3, 50),
          liquid(10, 50),
          liquid(18, 50),
        ),
        'boiling-near',
      ),
    ).toEqual(['2 raised high', '18 cleared high']);
  });

  test('sleeps in recover, where boiling is meant, and wakes after it', () => {
    const run = play(
      vesselLine({ requiredSettleHours: 0 }),
      stage(0, 'react'),
      liquid(1, 63),
      stage(2, 'recover'),
      liquid(3, 66),
      liquid(4, 66.5),
    );
    expect(ofAlarm(run, 'boiling-near')).toEqual(['1 raised high', '2 cleared high']);
    expect(ofAlarm(run, 'boiling-reached')).toEqual([]);
    expect(run.summaries.r1?.smallestHeadroomC).toBeCloseTo(BOILING_C - 66.5, 2);
  });
});

describe('boiling-reached', () => {
  const reached = (values: number[], plan?: object) =>
    ofAlarm(play(temperatures('react', values, plan)), 'boiling-reached');

  test('needs two readings running, or one after a near one', () => {
    expect(reached([below(3.8), below(0.4)])).toEqual([]);
    expect(reached([below(3.8), below(0.4), below(3.8)])).toEqual([]);
    expect(reached([below(3.8), below(0.4), below(0.3)])).toEqual(['3 raised critical']);
    expect(reached([below(2.9), below(0.4)])).toEqual(['2 raised critical']);
    expect(reached([below(3.05), below(0.4)])).toEqual([]);
  });

  test('is raised at 0.5 °C and below, cleared over 1.5 °C', () => {
    expect(reached([below(2), below(0.51), below(0.51)])).toEqual([]);
    expect(reached([below(2), below(0.49)])).toEqual(['2 raised critical']);
    expect(reached([below(2), below(0.49), below(1.49)])).toEqual(['2 raised critical']);
    expect(reached([below(2), below(0.49), below(1.51)])).toEqual([
      '2 raised critical',
      '3 cleared critical',
    ]);
    expect(reached([below(2), below(1)], { limits: { reachedMarginC: 1.01 } })).toEqual([
      '2 raised critical',
    ]);
  });

  test('counts the readings of each probe on its own', () => {
    const run = play(
      vesselLine(),
      stage(0, 'react'),
      liquid(1, below(5)),
      reading(1, 'liquid-temperature-2', below(3.1)),
      liquid(2, below(5)),
      reading(2, 'liquid-temperature-2', below(0.3)),
      liquid(3, below(5)),
    );
    expect(ofAlarm(run, 'boiling-reached')).toEqual([]);
  });
});

describe('the boiling point', () => {
  const first = (...lines: Line[]) => ofAlarm(play(...lines), 'boiling-near');
  const site = (stated: object) => vesselLine({}, { site: stated });

  test('is that of the altitude where one is stated: 60 °C is over it at 1,609 m', () => {
    const run = play(site({ altitudeM: 1609.344 }), stage(0, 'react'), liquid(1, 58), liquid(2, 60));
    expect(ofAlarm(run, 'boiling-reached')).toEqual(['2 raised critical']);
    // 59.689 °C there by the constants of Ambrose & Sprake and the standard atmosphere (computed).
    expect(run.summaries.r1?.smallestHeadroomC).toBeCloseTo(59.689 - 60, 2);
  });

  test('is a barometer’s within 40 hPa of the site’s own pressure, for an hour', () => {
    const ambient = (hPa: number) => reading(1, 'ambient-pressure', hPa);
    // 980 hPa: 63.70 °C; 1013.25 hPa: 64.55 °C.
    expect(first(site({ pressureHPa: 1013.25 }), stage(0, 'react'), ambient(980), liquid(2, 61))).toEqual([
      '2 raised high',
    ]);
    expect(first(site({ pressureHPa: 1013.25 }), stage(0, 'react'), ambient(973.2), liquid(2, 61))).toEqual(
      [],
    );
    expect(first(site({ pressureHPa: 1013.25 }), stage(0, 'react'), ambient(980), liquid(3601, 61))).toEqual([
      '3601 raised high',
    ]);
    expect(first(site({ pressureHPa: 1013.25 }), stage(0, 'react'), ambient(980), liquid(3602, 61))).toEqual(
      [],
    );
  });

  test('is a barometer’s of another vessel, too', () => {
    expect(
      first(
        site({ pressureHPa: 1013.25 }),
        vesselLine({}, { vessel: 'shed' }),
        reading(1, 'ambient-pressure', 980, { vessel: 'shed' }),
        stage(1, 'react'),
        liquid(2, 61),
      ),
    ).toEqual(['2 raised high']);
  });

  test('is the vessel’s own pressure’s for 60 s, and under vacuum until another comes', () => {
    const own = (seconds: number, hPa: number) => reading(seconds, 'vessel-pressure', hPa);
    const at1013 = site({ pressureHPa: 1013.25 });
    // 950 hPa: 62.92 °C; 500 hPa: 47.6 °C.
    expect(first(at1013, stage(0, 'react'), own(1, 950), liquid(61, 60.5))).toEqual(['61 raised high']);
    expect(first(at1013, stage(0, 'react'), own(1, 950), liquid(62, 60.5))).toEqual([]);
    expect(first(at1013, stage(0, 'react'), own(1, 500), liquid(600, 46))).toEqual(['600 raised high']);
    // Out of its range of 20 to 1,100 hPa it is not sound.
    expect(first(at1013, stage(0, 'react'), own(1, 19), liquid(2, 46))).toEqual([]);
  });

  test('is sea level’s where nobody stated anything', () => {
    const run = play({ type: 'vessel', vessel: 'r1' }, stage(0, 'react'), liquid(1, 62));
    expect(run.alarmLines[0]?.value).toBeCloseTo(BOILING_C - 62, 2);
  });
});

describe('too-hot-to-dose', () => {
  const dosing = (...lines: Line[]) =>
    ofAlarm(play(vesselLine(), stage(0, 'warm'), ...lines), 'too-hot-to-dose');

  test('is raised under 5 °C of headroom at the stage’s own start', () => {
    expect(dosing(liquid(1, below(4.9)), stage(2, 'dose'))).toEqual(['2 raised critical']);
    expect(dosing(liquid(1, below(5.01)), stage(2, 'dose'))).toEqual([]);
  });

  test('is raised in the stage, and cleared over 6 °C or with the stage', () => {
    expect(
      dosing(stage(1, 'dose'), liquid(2, below(5.1)), liquid(3, below(4.9)), liquid(4, below(5.9))),
    ).toEqual(['3 raised critical']);
    expect(dosing(stage(1, 'dose'), liquid(2, below(4.9)), liquid(3, below(6.1)))).toEqual([
      '2 raised critical',
      '3 cleared critical',
    ]);
    expect(dosing(stage(1, 'dose'), liquid(2, below(4.9)), stage(3, 'react'))).toEqual([
      '2 raised critical',
      '3 cleared critical',
    ]);
  });

  test('is for the dose alone', () => {
    expect(dosing(liquid(1, below(4)), stage(2, 'react'), liquid(3, below(4)))).toEqual([]);
  });
});

describe('mixing-stopped', () => {
  const plan = { lowestStirrerSpeed: 200 };
  const mixing = (lines: Line[], withPlan: object = plan) =>
    ofAlarm(play(vesselLine(withPlan), ...lines), 'mixing-stopped');
  const turning = (from: number, to: number) => every(from, to, 1, (s) => speed(s, 300));
  const still = (from: number, to: number, value = 0) => every(from, to, 1, (s) => speed(s, value));

  test('is raised after 10 s under a tenth of the lowest speed, cleared at the lowest', () => {
    expect(mixing([stage(0, 'react'), ...turning(1, 5), ...still(6, 15)])).toEqual([]);
    expect(mixing([stage(0, 'react'), ...turning(1, 5), ...still(6, 16)])).toEqual(['16 raised high']);
    expect(mixing([stage(0, 'react'), ...turning(1, 5), ...still(6, 60, 19.9)])).toEqual(['16 raised high']);
    expect(mixing([stage(0, 'react'), ...turning(1, 5), ...still(6, 60, 20)])).toEqual([]);
    expect(
      mixing([stage(0, 'react'), ...turning(1, 5), ...still(6, 16), speed(17, 199), speed(18, 200)]),
    ).toEqual(['16 raised high', '18 cleared high']);
  });

  test('starts over when it moved in between', () => {
    expect(
      mixing([stage(0, 'react'), ...turning(1, 5), ...still(6, 14), speed(15, 20), ...still(16, 25)]),
    ).toEqual([]);
    expect(
      mixing([stage(0, 'react'), ...turning(1, 5), ...still(6, 14), speed(15, 20), ...still(16, 26)]),
    ).toEqual(['26 raised high']);
  });

  test('has 60 s of grace until mixing was first seen at speed, counted from the stage’s start', () => {
    expect(mixing([stage(0, 'dose'), ...still(1, 60)])).toEqual([]);
    expect(mixing([stage(0, 'dose'), ...still(1, 61)])).toEqual(['61 raised high']);
    expect(mixing([stage(0, 'warm'), ...still(1, 20), stage(20.5, 'dose'), ...still(21, 80)])).toEqual([]);
    expect(mixing([stage(0, 'warm'), ...still(1, 20), stage(20.5, 'dose'), ...still(21, 81)])).toEqual([
      '81 raised high',
    ]);
    // At speed before the mixing stages began is not at speed since.
    expect(mixing([stage(0, 'warm'), ...turning(1, 20), stage(20.5, 'dose'), ...still(21, 80)])).toEqual([]);
    // From one mixing stage to the next there is no new grace.
    expect(mixing([stage(0, 'dose'), ...turning(1, 20), stage(20.5, 'react'), ...still(21, 31)])).toEqual([
      '31 raised high',
    ]);
  });

  test('has 60 s again once the required time is credited', () => {
    const short = { ...plan, requiredReactionMinutes: 1, reactionTemperatureC: 55 };
    const reacting = (to: number) => every(1, to, 1, (s) => [liquid(s, 55), speed(s, 300)]);
    const stopped = (from: number, to: number) => every(from, to, 1, (s) => [liquid(s, 55), speed(s, 0)]);
    expect(mixing([stage(0, 'react'), ...reacting(61), ...stopped(62, 121)], short)).toEqual([]);
    expect(mixing([stage(0, 'react'), ...reacting(61), ...stopped(62, 122)], short)).toEqual([
      '122 raised high',
    ]);
    expect(mixing([stage(0, 'react'), ...reacting(50), ...stopped(51, 62)], short)).toEqual([
      '61 raised high',
    ]);
  });

  test('in methoxide the required time is methoxideMinutes', () => {
    const short = { ...plan, limits: { methoxideMinutes: 1 } };
    expect(mixing([stage(0, 'methoxide'), ...turning(1, 61), ...still(62, 121)], short)).toEqual([]);
    expect(mixing([stage(0, 'methoxide'), ...turning(1, 61), ...still(62, 122)], short)).toEqual([
      '122 raised high',
    ]);
    expect(mixing([stage(0, 'methoxide'), ...turning(1, 50), ...still(51, 61)], short)).toEqual([
      '61 raised high',
    ]);
  });

  test('is critical while heat is asked for where methanol is, and raised again when it comes to be', () => {
    expect(mixing([stage(0, 'react'), heater(0, 1), ...turning(1, 5), ...still(6, 16)])).toEqual([
      '16 raised critical',
    ]);
    expect(
      mixing([
        stage(0, 'react'),
        ...turning(1, 5),
        ...still(6, 16),
        heater(17, 1),
        heater(18, 0),
        heater(19, 1),
        speed(20, 250),
      ]),
    ).toEqual(['16 raised high', '17 raised critical', '20 cleared critical']);
  });

  test('ends with the mixing stages, and stands through a stage line between them', () => {
    expect(
      mixing([stage(0, 'dose'), ...turning(1, 5), ...still(6, 16), stage(17, 'react'), stage(18, 'settle')]),
    ).toEqual(['16 raised high', '18 cleared high']);
  });

  test('is not for the stages in which nothing must move', () => {
    expect(mixing([stage(0, 'warm'), ...turning(1, 5), ...still(6, 90)])).toEqual([]);
    expect(mixing([stage(0, 'settle'), ...turning(1, 5), ...still(6, 90)])).toEqual([]);
  });

  test('goes by the limits of the plan', () => {
    const limits = { stoppedSeconds: 3, mixingGraceSeconds: 6 };
    expect(mixing([stage(0, 'react'), ...still(1, 7)], { ...plan, limits })).toEqual(['7 raised high']);
    expect(mixing([stage(0, 'react'), ...turning(1, 2), ...still(3, 6)], { ...plan, limits })).toEqual([
      '6 raised high',
    ]);
  });

  test('goes by a pump’s flow, or by a pump alone', () => {
    const flow = (from: number, to: number, value: number) =>
      every(from, to, 1, (s) => reading(s, 'pump-flow', value));
    const pump = (from: number, to: number, value: number) =>
      every(from, to, 1, (s) => reading(s, 'pump', value));
    const pumped = { lowestPumpFlow: 10 };
    expect(mixing([stage(0, 'react'), ...flow(1, 5, 10), ...flow(6, 16, 0.9)], pumped)).toEqual([
      '16 raised high',
    ]);
    expect(mixing([stage(0, 'react'), ...flow(1, 5, 10), ...flow(6, 90, 1)], pumped)).toEqual([]);
    // Without a lowest flow any flow is mixing.
    expect(mixing([stage(0, 'react'), ...flow(1, 90, 0.1)], {})).toEqual([]);
    expect(mixing([stage(0, 'react'), ...flow(1, 5, 0.1), ...flow(6, 16, 0)], {})).toEqual([
      '16 raised high',
    ]);
    expect(mixing([stage(0, 'react'), ...pump(1, 5, 1), ...pump(6, 16, 0), ...pump(17, 17, 1)], {})).toEqual([
      '16 raised high',
      '17 cleared high',
    ]);
  });
});

describe('reading-late', () => {
  const late = (...lines: (Line | Line[])[]) => ofAlarm(play(vesselLine(), ...lines), 'reading-late');
  const usual = (from: number, to: number) => every(from, to, 1, (s) => liquid(s, 50));

  test('is raised 15 s after the last sound reading, with that time, and cleared by the next', () => {
    expect(late(stage(0, 'react'), usual(1, 10), end(24.999))).toEqual([]);
    expect(late(stage(0, 'react'), usual(1, 10), end(25))).toEqual(['25 raised high']);
    expect(late(stage(0, 'react'), usual(1, 10), end(400))).toEqual(['25 raised high']);
    expect(late(stage(0, 'react'), usual(1, 10), liquid(40, 50))).toEqual([
      '25 raised high',
      '40 cleared high',
    ]);
  });

  test('is counted from the stage’s start where nothing came at all', () => {
    expect(late(stage(100, 'warm'), end(115))).toEqual(['115 raised medium']);
  });

  test('waits for 5 intervals of the plan, or of the channel where it is slower', () => {
    const slow = (from: number, to: number) => every(from, to, 10, (s) => liquid(s, 50));
    expect(late(stage(0, 'react'), slow(10, 50), end(99.9))).toEqual([]);
    expect(late(stage(0, 'react'), slow(10, 50), end(100))).toEqual(['100 raised high']);
    expect(
      ofAlarm(
        play(vesselLine({ readingEverySeconds: 4 }), stage(0, 'react'), liquid(1, 50), end(60)),
        'reading-late',
      ),
    ).toEqual(['21 raised high']);
    expect(
      ofAlarm(
        play(
          vesselLine({ readingEverySeconds: 4, limits: { lateIntervals: 10 } }),
          stage(0, 'react'),
          liquid(1, 50),
          end(60),
        ),
        'reading-late',
      ),
    ).toEqual(['41 raised high']);
  });

  test('is medium without methanol, high with it, critical with heat as well', () => {
    expect(late(stage(0, 'warm'), liquid(1, 50), end(30))).toEqual(['16 raised medium']);
    expect(late(stage(0, 'dose'), liquid(1, 50), end(30))).toEqual(['16 raised high']);
    expect(late(stage(0, 'react'), heater(0, 1), liquid(1, 50), end(30))).toEqual(['16 raised critical']);
    expect(late(stage(0, 'warm'), heater(0, 1), liquid(1, 50), end(30))).toEqual(['16 raised medium']);
  });

  test('is raised again as graver when heat is asked for', () => {
    expect(late(stage(0, 'react'), liquid(1, 50), heater(20, 1), heater(21, 0), liquid(22, 50))).toEqual([
      '16 raised high',
      '20 raised critical',
      '22 cleared critical',
    ]);
  });

  test('goes on through a stage line, and takes its new priority there', () => {
    expect(
      late(stage(0, 'warm'), liquid(1, 50), stage(20, 'dose'), stage(24, 'react'), liquid(30, 50)),
    ).toEqual(['16 raised medium', '20 raised high', '30 cleared high']);
  });

  test('is low in settle and drain, heater off, if the liquid was over 20 °C below boiling', () => {
    const settling = (c: number, ...before: Line[]) =>
      late(...before, stage(0, 'settle'), liquid(1, c), end(30));
    expect(settling(44)).toEqual(['16 raised low']);
    expect(settling(45)).toEqual(['16 raised medium']);
    expect(late(stage(0, 'react'), liquid(1, 44), stage(2, 'settle'), liquid(3, 44), end(30))).toEqual([
      '18 raised low',
    ]);
    expect(late(stage(0, 'react'), liquid(1, 45), stage(2, 'settle'), liquid(3, 45), end(30))).toEqual([
      '18 raised high',
    ]);
    expect(
      late(stage(0, 'react'), heater(0, 1), liquid(1, 44), stage(2, 'settle'), liquid(3, 44), end(30)),
    ).toEqual(['18 raised critical']);
  });

  test('is from settle on only for a channel seen in that stage', () => {
    expect(late(stage(0, 'react'), liquid(1, 44), stage(2, 'settle'), end(90_000))).toEqual([]);
    expect(late(stage(0, 'react'), liquid(1, 44), end(17), stage(20, 'settle'), end(90))).toEqual([
      '16 raised high',
      '20 cleared high',
    ]);
  });

  test('is in methoxide only for a channel seen in the batch', () => {
    expect(late(stage(0, 'methoxide'), end(90))).toEqual([]);
    expect(late(stage(0, 'methoxide'), liquid(1, 20), end(90))).toEqual(['16 raised high']);
  });

  test('is for the speed channel in the mixing stages, once seen', () => {
    const both = (from: number, to: number) => every(from, to, 1, (s) => [liquid(s, 50), speed(s, 300)]);
    expect(late(stage(0, 'react'), both(1, 10), usual(11, 60), speed(60.5, 300))).toEqual([
      '25 raised high',
      '60.5 cleared high',
    ]);
    expect(late(stage(0, 'react'), usual(1, 60))).toEqual([]);
    expect(late(stage(0, 'warm'), both(1, 10), usual(11, 60))).toEqual([]);
    expect(late(stage(0, 'react'), both(1, 10), usual(11, 30), stage(30.5, 'settle'), usual(31, 40))).toEqual(
      ['25 raised high', '30.5 cleared high'],
    );
  });

  test('is not for what a person types in', () => {
    expect(late(stage(0, 'react'), liquid(1, 50, { typed: true }), end(900))).toEqual([]);
  });

  test('is not where there is no stage', () => {
    expect(late(liquid(1, 50), end(900))).toEqual([]);
    expect(late(stage(0, 'warm'), liquid(1, 50), stage(2, 'idle'), end(900))).toEqual([]);
  });

  test('is not ended by a reading that is not sound', () => {
    expect(late(stage(0, 'react'), liquid(1, 50), liquid(20, -127), liquid(21, 85), liquid(22, 50))).toEqual([
      '16 raised high',
      '22 cleared high',
    ]);
  });

  test('is judged by arrival where a line carries it', () => {
    const sent = (seconds: number, arrived: number) => liquid(seconds, 50, { arrived: at(arrived) });
    expect(late(stage(0, 'react'), sent(1, 1), sent(10, 20), end(21))).toEqual([
      '16 raised high',
      '16 cleared high',
    ]);
    expect(late(stage(0, 'react'), sent(1, 1), sent(2, 14), end(28))).toEqual([]);
  });

  test('is high for the vessel’s own pressure under vacuum, whatever else', () => {
    const own = (seconds: number, hPa: number) => reading(seconds, 'vessel-pressure', hPa);
    const sparse = (from: number, to: number) => every(from, to, 10, (s) => liquid(s, 40));
    expect(late(stage(0, 'warm'), own(1, 500), sparse(2, 92), own(95, 500))).toEqual([
      '61 raised high',
      '95 cleared high',
    ]);
    expect(late(stage(0, 'warm'), own(1, 950), sparse(2, 92))).toEqual([]);
    expect(late(stage(0, 'recover'), own(1, 950), sparse(2, 92))).toEqual(['61 raised high']);
  });
});

describe('reaction-short', () => {
  // At the planned temperature credit is the time itself: n + 1 readings a second apart are n seconds.
  const reacted = (seconds: number, plan: object = {}) => [
    vesselLine({ requiredReactionMinutes: 10, ...plan }),
    stage(0, 'react'),
    ...every(0, seconds, 1, (s) => [liquid(s, 55), speed(s, 300)]),
  ];
  const short = (...lines: Line[]) => ofAlarm(play(...lines), 'reaction-short');

  test('is raised under 95 % of the required time', () => {
    expect(short(...reacted(569), stage(570, 'settle'))).toEqual(['570 raised high']);
    expect(short(...reacted(570), stage(571, 'settle'))).toEqual([]);
    expect(short(...reacted(300, { limits: { shortPercent: 50 } }), stage(301, 'settle'))).toEqual([]);
  });

  test('says what was counted', () => {
    const line = play(...reacted(300), stage(301, 'settle')).alarmLines.find(
      ({ alarm }) => alarm === 'reaction-short',
    );
    expect(line).toMatchObject({ value: expect.closeTo(5, 9), limit: 9.5 });
  });

  test('is only after a dose or a reaction of this pass', () => {
    expect(short(vesselLine(), stage(0, 'warm'), stage(1, 'settle'))).toEqual([]);
    expect(short(vesselLine(), stage(0, 'prewash'), stage(1, 'settle'))).toEqual([]);
    expect(short(vesselLine(), stage(0, 'dose'), stage(1, 'settle'))).toEqual(['1 raised high']);
    expect(short(...reacted(600), stage(601, 'settle'), stage(602, 'drain'), stage(603, 'settle'))).toEqual(
      [],
    );
  });

  test('starts anew with each dose', () => {
    expect(
      short(
        ...reacted(600),
        stage(601, 'settle'),
        stage(602, 'drain'),
        stage(603, 'dose'),
        stage(604, 'react'),
        stage(605, 'settle'),
      ),
    ).toEqual(['605 raised high']);
  });

  test('goes by the plan of the vessel whose stage starts', () => {
    expect(
      ofAlarm(
        play(
          vesselLine({ requiredReactionMinutes: 5 }, { vessel: 's1', role: 'settling' }),
          ...reacted(300),
          stage(301, 'settle', 's1'),
        ),
        'reaction-short',
      ),
    ).toEqual([]);
  });
});

describe('settling-short', () => {
  const short = (...lines: Line[]) =>
    ofAlarm(play(vesselLine({ requiredSettleHours: 2 }), ...lines), 'settling-short');

  test('is raised when the fuel goes on before the required hours, once', () => {
    for (const next of ['recover', 'wash', 'dry-fuel', 'filter', 'test', 'finished'] as const) {
      expect(short(stage(0, 'settle'), stage(7199, next))).toEqual(['7199 raised medium']);
      expect(short(stage(0, 'settle'), stage(7200, next))).toEqual([]);
    }
    expect(short(stage(0, 'settle'), stage(600, 'wash'), stage(700, 'dry-fuel'))).toEqual([
      '600 raised medium',
    ]);
  });

  test('a drain only takes glycerol off, and the time runs on through it', () => {
    expect(short(stage(0, 'settle'), stage(3600, 'drain'))).toEqual([]);
    expect(short(stage(0, 'settle'), stage(3600, 'drain'), stage(7200, 'wash'))).toEqual([]);
    expect(
      short(stage(0, 'settle'), stage(3600, 'drain'), stage(5400, 'settle'), stage(7200, 'wash')),
    ).toEqual([]);
  });

  test('what was rejected or opened by mistake does not go on', () => {
    expect(short(stage(0, 'settle'), stage(10, 'rejected'))).toEqual([]);
    expect(short(stage(0, 'settle'), stage(10, 'void'))).toEqual([]);
  });
});

describe('probe-jump', () => {
  const jumps = (...values: (number | [number, number])[]) => {
    let next = 0;
    const lines = values.map((one) => {
      const [seconds, value] = typeof one === 'number' ? [next, one] : one;
      next = seconds + 1;
      return liquid(seconds, value);
    });
    return ofAlarm(play(vesselLine(), stage(0, 'warm'), ...lines), 'probe-jump');
  };

  test('is more than 3 °C + 0.5 °C a second, at most 18 °C', () => {
    expect(jumps(20, 23.5)).toEqual([]);
    expect(jumps(20, 23.51)).toEqual(['1 raised medium']);
    expect(jumps(20, 16.49)).toEqual(['1 raised medium']);
    expect(jumps(20, [10, 28])).toEqual([]);
    expect(jumps(20, [10, 28.01])).toEqual(['10 raised medium']);
    expect(jumps(20, [600, 38])).toEqual([]);
    expect(jumps(20, [600, 38.01])).toEqual(['600 raised medium']);
  });

  test('is said to be faster than a liquid can only where it is; after a long gap, how far and how long', () => {
    const said = (seconds: number, from: number, to: number) => {
      const { alarmLines } = play(vesselLine(), stage(0, 'warm'), liquid(0, from), liquid(seconds, to));
      return alarmLines.find(({ alarm, event }) => alarm === 'probe-jump' && event === 'raised')!;
    };
    const facts = { channel: 'liquid-temperature', readC: 48, beforeC: 20, afterSeconds: 1 };
    const words = (given: object, unit: 'C' | 'F' = 'C') =>
      describeAlarm('probe-jump', { ...facts, ...given }, unit).because;
    expect(said(1, 20, 48).because).toContain('faster than a liquid can');
    expect(words({})).toContain('faster than a liquid can');
    // 28 °C in 50 s is 3 °C + 0.5 °C a second, and what a liquid can do.
    expect(words({ afterSeconds: 49.9 })).toContain('faster');
    expect(words({ afterSeconds: 50 })).not.toContain('faster');
    const gap = said(17 * 3600, 20, 48).because;
    expect(gap).toContain('28.0 °C away from its last reading, 17 h before');
    expect(gap).not.toContain('faster');
    expect(words({ afterSeconds: 17 * 3600 }, 'F')).toContain('50.4 °F away');
  });

  test('is over with the next sound reading, or the next that confirms it', () => {
    expect(jumps(20, 40, 20.1)).toEqual(['1 raised medium', '2 cleared medium']);
    expect(jumps(20, 40, 40.2)).toEqual(['1 raised medium', '2 cleared medium']);
    expect(jumps(20, 40, 60, 61)).toEqual(['1 raised medium', '3 cleared medium']);
  });

  test('85.0 is never confirmed by itself, and not believed where nothing stands beside it', () => {
    expect(jumps(85)).toEqual(['0 raised medium']);
    expect(jumps(20, 85, 85, 85, 85)).toEqual(['1 raised medium']);
    expect(jumps(20, 85, 84.5)).toEqual(['1 raised medium', '2 cleared medium']);
    expect(jumps(84.9, 85, 85)).toEqual([]);
    expect(jumps(84.9, [60, 85])).toEqual([]);
    expect(jumps(84.9, [61, 85])).toEqual(['61 raised medium']);
  });

  test('what is not confirmed counts for nothing', () => {
    const run = play(
      vesselLine(),
      stage(0, 'react'),
      liquid(0, 50),
      liquid(1, 85),
      liquid(2, 85),
      liquid(3, 50),
    );
    expect(run.alarms).toEqual(['1 r1 probe-jump raised medium', '3 r1 probe-jump cleared medium']);
    expect(run.summaries.r1?.highestLiquidC).toBe(50);
  });

  test('a confirmed jump counts from the reading that confirms it', () => {
    const run = play(
      vesselLine(),
      stage(0, 'react'),
      liquid(0, 50),
      liquid(1, 64.5),
      liquid(2, 64.4),
      liquid(3, 64.4),
    );
    expect(run.alarms).toEqual([
      '1 r1 probe-jump raised medium',
      '2 r1 probe-jump cleared medium',
      '2 r1 boiling-near raised high',
      '3 r1 boiling-reached raised critical',
    ]);
  });
});

describe('probe-out-of-range', () => {
  const range = (...values: number[]) =>
    ofAlarm(
      play(
        vesselLine(),
        stage(0, 'warm'),
        values.map((value, i) => liquid(i, value)),
      ),
      'probe-out-of-range',
    );

  test('is below −20 and above 200 °C, −127 included, until a value in range comes', () => {
    expect(range(-127, 20)).toEqual(['0 raised medium', '1 cleared medium']);
    expect(range(-20)).toEqual([]);
    expect(range(-20.01)).toEqual(['0 raised medium']);
    expect(range(200)).toEqual([]);
    expect(range(200.01)).toEqual(['0 raised medium']);
    expect(range(20, -127, -127, 85)).toEqual(['1 raised medium', '3 cleared medium']);
  });

  test('counts for nothing in rules and summaries', () => {
    const run = play(vesselLine(), stage(0, 'react'), liquid(0, 50), liquid(1, 250));
    expect(run.summaries.r1).toMatchObject({ highestLiquidC: 50 });
    expect(ofAlarm(run, 'boiling-near')).toEqual([]);
  });
});

describe('readings that come late or out of order', () => {
  const sent = (seconds: number, arrived: number, value: number) =>
    liquid(seconds, value, { arrived: at(arrived) });

  test('over 60 s old on arrival raise as late', () => {
    const run = (age: number) => {
      const { alarmLines } = play(vesselLine(), stage(0, 'react'), sent(1, 1 + age, 63));
      return alarmLines
        .filter(({ alarm }) => alarm === 'boiling-near')
        .map(({ late, at: when }) => [late, when]);
    };
    expect(run(60)).toEqual([[false, at(1)]]);
    expect(run(60.001)).toEqual([[true, at(1)]]);
  });

  test('not newer than the newest raise nothing, but complete the credit', () => {
    const second = (s: number) => [liquid(s, 55), speed(s, 300)];
    const start = [vesselLine({ lowestStirrerSpeed: 200 }), stage(0, 'react'), ...every(0, 10, 1, second)];
    const gap = every(30, 40, 1, second);
    // Of the 40 s 20 are in the gap.
    expect(play(...start, ...gap).summaries.r1?.creditedReactionMinutes).toBeCloseTo(20 / 60, 9);
    const filled = play(
      ...start,
      ...gap,
      every(11, 29, 1, (s) => [sent(s, 41, 55), speed(s, 300, { arrived: at(41) })]),
    );
    expect(filled.summaries.r1?.creditedReactionMinutes).toBeCloseTo(40 / 60, 9);
    const hot = play(...start, sent(5, 11, 64), sent(6, 11, 64), sent(9.5, 11, -127));
    expect(hot.alarms).toEqual([]);
    expect(hot.summaries.r1?.highestLiquidC).toBe(55);
  });

  test('the same again changes nothing', () => {
    const lines = [
      vesselLine(),
      stage(0, 'react'),
      liquid(0, 85),
      liquid(1, 62),
      liquid(2, 80),
      liquid(3, 64.4),
    ];
    const once = play(...lines);
    expect(play(...lines.flatMap((line) => [line, line])).alarms).toEqual(once.alarms);
  });
});

describe('a batch in several vessels', () => {
  const methoxide = vesselLine({}, { vessel: 'm1', role: 'methoxide' });
  const settling = vesselLine({}, { vessel: 's1', role: 'settling' });
  const inVessel = (vessel: string, line: Line): Line => ({ ...line, vessel });

  test('dose empties the methoxide vessel: it is idle and holds no methanol', () => {
    const run = play(
      vesselLine(),
      methoxide,
      stage(0, 'warm'),
      stage(0, 'methoxide', 'm1'),
      inVessel('m1', liquid(1, 63)),
      stage(2, 'dose'),
      inVessel('m1', liquid(3, 63)),
      liquid(3, 45),
      liquid(10, 45),
      end(24),
    );
    expect(run.alarms).toEqual([
      '1 m1 boiling-near raised high',
      '1 m1 methoxide-hot raised high',
      '2 r1 methoxide-warm-to-dose raised medium',
      '2 m1 boiling-near cleared high',
      '2 m1 methoxide-hot cleared high',
    ]);
    expect(run.summaries.m1?.smallestHeadroomC).toBeCloseTo(BOILING_C - 63, 2);
    expect(run.summaries.r1?.smallestHeadroomC).toBeCloseTo(BOILING_C - 45, 2);
  });

  test('settle elsewhere ends the reaction, judges it, and carries the methanol along', () => {
    const run = play(
      vesselLine({ requiredReactionMinutes: 1, requiredSettleHours: 1 }),
      vesselLine({ requiredReactionMinutes: 1, requiredSettleHours: 1 }, { vessel: 's1', role: 'settling' }),
      stage(0, 'react'),
      every(0, 30, 1, (s) => [liquid(s, 55), speed(s, 300)]),
      stage(31, 'settle', 's1'),
      // The reactor is empty: nothing of it matters any more.
      liquid(32, 64),
      liquid(33, 64.5),
      inVessel('s1', liquid(34, 63)),
      inVessel('s1', liquid(35, 40)),
      stage(36, 'drain', 's1'),
      stage(1831, 'wash', 's1'),
    );
    expect(run.alarms.filter((line) => !line.includes('probe-jump'))).toEqual([
      '31 s1 reaction-short raised high',
      '34 s1 boiling-near raised high',
      '1831 s1 settling-short raised medium',
    ]);
    for (const vessel of ['r1', 's1']) {
      expect(run.summaries[vessel]).toMatchObject({
        creditedReactionMinutes: expect.closeTo(0.5, 9),
        creditedSettleHours: expect.closeTo(0.5, 9),
      });
    }
    expect(run.summaries.s1?.smallestHeadroomC).toBeCloseTo(BOILING_C - 63, 2);
  });

  test('reactions of one pass in two vessels add up', () => {
    const second = vesselLine({}, { vessel: 'r2' });
    const seconds = (vessel: string) => (s: number) => [
      inVessel(vessel, liquid(s, 55)),
      inVessel(vessel, speed(s, 300)),
    ];
    const run = play(
      vesselLine(),
      second,
      stage(0, 'react'),
      every(0, 60, 1, seconds('r1')),
      stage(60, 'drain'),
      stage(60, 'react', 'r2'),
      every(60, 120, 1, seconds('r2')),
    );
    expect(run.summaries.r2?.creditedReactionMinutes).toBeCloseTo(2, 9);
  });

  test('in a rejected batch methanol stays until the vessel is said to be empty', () => {
    const run = play(
      vesselLine(),
      settling,
      stage(0, 'react'),
      liquid(1, 50),
      stage(2, 'rejected'),
      liquid(60, 63),
      stage(61, 'idle'),
      liquid(62, 62.9),
    );
    expect(ofAlarm(run, 'boiling-near')).toEqual(['60 raised high', '61 cleared high']);
  });

  test('in a finished one it is gone', () => {
    const run = play(
      vesselLine({ requiredSettleHours: 0 }),
      stage(0, 'react'),
      liquid(1, 50),
      stage(2, 'finished'),
      liquid(60, 63),
    );
    expect(ofAlarm(run, 'boiling-near')).toEqual([]);
  });
});

test('any valid name is a vessel’s and a channel’s, and what no rule knows is passed over', () => {
  const run = play(
    { ...vesselLine(), vessel: 'constructor' },
    { ...stage(0, 'react'), vessel: 'constructor' },
    { ...liquid(1, 63), vessel: 'constructor' },
    { ...reading(1, 'constructor', 63), vessel: 'constructor' },
  );
  expect(run.alarms).toEqual(['1 constructor boiling-near raised high']);
  expect(play(reading(1, 'liquid-temperature', 5, { vessel: 'constructor' })).refused).toHaveLength(1);
});
