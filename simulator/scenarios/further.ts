import { type BatchCourse, batch, DEFAULT_CHANNELS } from '../batch.ts';
import { contents, HILLS, METHOXIDE_STIRRER, PUMP, REACTOR, STIRRER, type Story } from '../gear.ts';
import { goesToBoiling, mixingStopped, since, vapourMean } from '../hazards.ts';
import { DRIFT_C_PER_MIN } from '../probe.ts';
import { leakFor } from '../room.ts';
import type { Channel, Cue, ScenarioVessel } from '../scenario.ts';
import { single } from '../single.ts';
import type { TrueCourse } from '../truth.ts';

/** Mishaps that come together, and a course of work that looks like one. */

const REACTS: Pick<BatchCourse, 'reactMinutes' | 'settleHours'> = { reactMinutes: 66, settleHours: 24.2 };

const stir = (atMinutes: number, perMin: number, vessel = 'r1'): Cue => ({
  atMinutes,
  do: 'stir',
  vessel,
  perMin,
});
const heat = (atMinutes: number, celsius: number | null): Cue => ({
  atMinutes,
  do: 'set-point',
  vessel: 'r1',
  celsius,
});

/** A vessel that nothing watches. */
const unwatched = (vessel: Pick<ScenarioVessel, 'vessel' | 'role' | 'contents' | 'temperatureC'>) => ({
  ...vessel,
  plan: {},
  device: null,
  channels: [],
  equipment: { ...REACTOR, heaterW: 0 },
  mixer: STIRRER,
});

const beside =
  (story: Story, vessel: (ambientC: number) => ScenarioVessel): Story =>
  (vary) => {
    const scenario = story(vary);
    return { ...scenario, vessels: [...scenario.vessels, vessel(scenario.surroundings.ambientC)] };
  };

const SECOND_METHANOL_KG = 3.5;
const SECOND_FLAKES_KG = 0.08;
const SECOND_GLYCEROL_KG = 13;

/** Minutes of a second pass after its first settling begins. */
const SECOND = { drain: 62, warm: 78, methoxide: 81, flakes: 83, dose: 106, react: 109, settle: 176 };

/** From the first settling to the second; all after it is the batch's own. */
function secondPass(settle: number): Cue[] {
  const at = (stage: keyof typeof SECOND): number => settle + SECOND[stage];
  return [
    { atMinutes: at('drain'), do: 'stage', vessel: 'r1', stage: 'drain' },
    { atMinutes: at('drain'), do: 'pump', from: 'r1', to: null, kg: SECOND_GLYCEROL_KG, minutes: 14 },
    { atMinutes: at('drain') + 2, do: 'pump', from: 'drum', to: 'm1', kg: SECOND_METHANOL_KG, minutes: 5 },
    { atMinutes: at('warm'), do: 'reading-every', ms: 1000 },
    { atMinutes: at('warm'), do: 'stage', vessel: 'r1', stage: 'warm' },
    stir(at('warm'), STIRRER.ratedPerMin),
    heat(at('warm'), 55),
    { atMinutes: at('methoxide'), do: 'stage', vessel: 'm1', stage: 'methoxide' },
    stir(at('methoxide'), METHOXIDE_STIRRER.ratedPerMin, 'm1'),
    { atMinutes: at('flakes'), do: 'add-catalyst', vessel: 'm1', kg: SECOND_FLAKES_KG, minutes: 3 },
    { atMinutes: at('dose'), do: 'stage', vessel: 'r1', stage: 'dose' },
    heat(at('dose'), null),
    stir(at('dose'), 0, 'm1'),
    {
      atMinutes: at('dose'),
      do: 'pump',
      from: 'm1',
      to: 'r1',
      kg: SECOND_METHANOL_KG + SECOND_FLAKES_KG,
      minutes: SECOND.react - SECOND.dose,
    },
    { atMinutes: at('react'), do: 'stage', vessel: 'r1', stage: 'react' },
    heat(at('react'), 55),
    { atMinutes: at('settle'), do: 'stage', vessel: 'r1', stage: 'settle' },
    heat(at('settle'), null),
    stir(at('settle'), 0),
    { atMinutes: at('settle') + 5, do: 'reading-every', ms: 10_000 },
  ];
}

const PUMPED: readonly Channel[] = ['liquid-temperature', 'pump-flow', 'pump-current', 'heater'];
/** A tenth of the lowest flow of 20 L/min, as speed of the drive, 1/min. */
const FLOW_STOPPED = (0.1 * 20 * PUMP.ratedPerMin) / PUMP.ratedLPerMin!;

/** Minutes after the reaction's start, and lengths of what follows. */
const POWER_FAILS = 3.5;
const DARK = 6;
const LOOKED_AT = 4.5;

const TWO_PROBES: readonly Channel[] = [...DEFAULT_CHANNELS, 'liquid-temperature-2', 'ambient-pressure'];
const DRIFTS = 8;
const TURNED_DOWN = 14;
const LETS_GO = 26;

/** Minutes at which the reactor's heat has been asked for so many seconds without a break. */
function askedForHeat(course: TrueCourse, after: number, seconds: number): number {
  let asksFrom = Number.POSITIVE_INFINITY;
  return course.first(after, ({ minutes, vessels }) => {
    asksFrom = vessels.r1!.heating ? Math.min(asksFrom, minutes) : Number.POSITIVE_INFINITY;
    return (minutes - asksFrom) * 60 >= seconds;
  });
}

const PUMPED_OVER = 66;
const PUMPING = 12;
const SPILT = 5;

export const FURTHER = {
  'second-pass': beside(
    batch({
      ...REACTS,
      description:
        'after an hour the glycerol is drained, the fuel warmed with its methanol in it and dosed again',
      // Of the first settling; a day of the second.
      settleHours: SECOND.settle / 60 + 24.2,
      channels: [...DEFAULT_CHANNELS, 'stirrer-current'],
      events: ({ settle }) => secondPass(settle),
    }),
    (ambientC) =>
      unwatched({
        vessel: 'drum',
        role: 'methoxide',
        contents: contents({ methanolKg: 20 }),
        temperatureC: ambientC,
      }),
  ),
  'acid-stage-boils-at-rest': single({
    description:
      'the pump stops in the acid stage, the thermostat’s bulb in its loop grows cold, and the element boils what stands',
    stage: 'esterify',
    // Acid leaves the oil itself alone: it counts as if it had reacted.
    contents: { productKg: 91, methanolKg: 15 },
    temperatureC: 49,
    setPointC: 55,
    mixed: true,
    mixer: PUMP,
    channels: PUMPED,
    plan: { lowestPumpFlow: 20 },
    minutes: 38,
    events: ({ shifted }) => [
      stir(shifted + 3, 0),
      { atMinutes: shifted + 3, do: 'heater', vessel: 'r1', fault: 'asks-on' },
    ],
    truth: ({ shifted }) => ({
      expects: [
        { ...mixingStopped(shifted + 3, { underPerMin: FLOW_STOPPED }), atLeast: 'critical' },
        ...goesToBoiling({ after: shifted + 3, atRest: true }),
      ],
      allows: [],
    }),
  }),
  'power-cut-in-reaction': batch({
    ...REACTS,
    description:
      'the reactor’s power fails early in the reaction; heat and an 85.0 come with it, and the stirrer is started minutes later',
    planC: 57,
    equipment: { ...REACTOR, lossWPerK: 15 },
    endsAt: ({ react, shift }) => react + POWER_FAILS + DARK + LOOKED_AT + shift / 2 + 15,
    events: ({ react, shift }) => {
      const fails = react + POWER_FAILS + shift / 2;
      const back = fails + DARK;
      const mute = (atMinutes: number, muted: boolean): Cue[] =>
        DEFAULT_CHANNELS.map((channel) => ({ atMinutes, do: 'mute', vessel: 'r1', channel, muted }));
      return [
        // Its device is without power too, and keeps nothing.
        ...mute(fails, true),
        { atMinutes: fails, do: 'link', device: 'r1-node', up: false },
        stir(fails, 0),
        heat(fails, null),
        ...mute(back, false),
        { atMinutes: back, do: 'link', device: 'r1-node', up: true },
        { atMinutes: back, do: 'probe', vessel: 'r1', fault: 'power-up', readings: 1 },
        heat(back, 57),
        stir(back + LOOKED_AT, STIRRER.ratedPerMin),
      ];
    },
    truth: ({ react, shift }) => {
      const fails = react + POWER_FAILS + shift / 2;
      const back = fails + DARK;
      return {
        expects: [
          since('device-gone', fails, 10),
          since('probe-jump', back, 1),
          // At rest from the cut on, and plain when its speed is told again.
          { ...since('mixing-stopped', fails, 10), plainAt: back, atLeast: 'critical' },
          { ...since('restart-hot', back + LOOKED_AT, 2), atLeast: 'critical' },
        ],
        // The lost device says it already.
        allows: ['reading-late'],
      };
    },
  }),
  'turned-down-then-welds': batch({
    ...REACTS,
    description:
      'the thermostat is turned down, and then its relay welds: it boils with no heat asked for, beside a probe that reads less and less',
    site: HILLS,
    planC: 51,
    channels: TWO_PROBES,
    endsAt: ({ react, shift }) => react + LETS_GO + shift + 30,
    events: ({ react, shift }) => [
      { atMinutes: react + DRIFTS + shift, do: 'probe', vessel: 'r1', probe: 2, fault: 'drift' },
      heat(react + TURNED_DOWN + shift, 45),
      { atMinutes: react + LETS_GO + shift, do: 'heater', vessel: 'r1', fault: 'welded' },
    ],
    truth: ({ react, shift }) => ({
      expects: [
        {
          alarm: 'probes-disagree',
          vessel: 'r1',
          from: react + DRIFTS + shift + 2.7 / DRIFT_C_PER_MIN,
          plainAt: react + DRIFTS + shift + 3.3 / DRIFT_C_PER_MIN,
          withinSeconds: 62,
        },
        ...goesToBoiling({ after: react + LETS_GO + shift }),
      ],
      // So it is, whatever the stage.
      allows: ['heater-stuck'],
    }),
  }),
  'emptied-with-heat-on': beside(
    batch({
      reactMinutes: 110,
      settleHours: 24.2,
      description:
        'the mix is pumped to a settling tank with the heat left on: the element glows bare, and what is spilt from the hose fills the room',
      equipment: { ...REACTOR, thermostatAt: 'probe' },
      channels: [...DEFAULT_CHANNELS, 'room-vapour'],
      endsAt: ({ react, shift }) => react + PUMPED_OVER + Math.abs(shift) + 30,
      events: ({ react, shift }) => {
        const over = react + PUMPED_OVER + Math.abs(shift);
        return [
          { atMinutes: over, do: 'stage', vessel: 's1', stage: 'settle' },
          { atMinutes: over, do: 'stage', vessel: 'r1', stage: 'idle' },
          stir(over, 0),
          { atMinutes: over, do: 'pump', from: 'r1', to: 's1', kg: REACTOR.fullKg * 1.1, minutes: PUMPING },
          { atMinutes: over + SPILT, do: 'leak', gPerMin: leakFor(20_000, 2) },
        ];
      },
      truth: ({ react, shift }) => {
        const over = react + PUMPED_OVER + Math.abs(shift);
        return {
          expects: [
            {
              alarm: 'heater-on-draining',
              vessel: 'r1',
              from: (course) => course.first(over, ({ vessels }) => vessels.r1!.heating),
              plainAt: (course) => askedForHeat(course, over, 5),
              withinSeconds: 0,
            },
            {
              alarm: 'vapour-high',
              vessel: 'r1',
              from: (course) => vapourMean(course, over, 15, 180),
              plainAt: (course) => course.first(over, ({ vapourPpm }) => vapourPpm > 3100),
              withinSeconds: 10,
              atLeast: 'high',
            },
            {
              alarm: 'vapour-high',
              vessel: 'r1',
              from: (course) => course.first(over, ({ vapourPpm }) => vapourPpm > 5900),
              plainAt: (course) => course.first(over, ({ vapourPpm }) => vapourPpm > 6100),
              withinSeconds: 10,
              atLeast: 'critical',
            },
          ],
          allows: [],
        };
      },
    }),
    (ambientC) =>
      unwatched({
        vessel: 's1',
        role: 'settling',
        // The heel of the batch before, washed and dried.
        contents: contents({ productKg: 0.2 }),
        temperatureC: ambientC,
      }),
  ),
};
