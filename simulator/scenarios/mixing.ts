import type { Stage } from '../../shared/wire/names.ts';
import { type BatchCourse, batch, DEFAULT_CHANNELS } from '../batch.ts';
import { METHOXIDE_STIRRER, METHOXIDE_VESSEL, PUMP, STIRRER, type Story } from '../gear.ts';
import { mixingStopped, since } from '../hazards.ts';
import { PERFECT_LINK } from '../link.ts';
import type { Channel, Cue } from '../scenario.ts';
import { type SingleCourse, single } from '../single.ts';
import type { Contents } from '../vessel.ts';

/** Stirrers and pumps that stop, slow down, let go, jam, draw air or start again. */

const STOP_AFTER = 4;

/** The drive fails some minutes into a mixing stage. */
function stops(
  stage: Stage,
  filled: Partial<Contents>,
  temperatureC: number,
  more: Partial<SingleCourse> = {},
  underPerMin?: number,
): Story {
  return single({
    description: `the ${more.mixer === PUMP ? 'pump' : 'stirrer'} stops in ${stage}`,
    stage,
    contents: filled,
    temperatureC,
    mixed: true,
    minutes: STOP_AFTER + 5,
    events: ({ shifted }) => [{ atMinutes: shifted + STOP_AFTER, do: 'stir', vessel: 'r1', perMin: 0 }],
    truth: ({ shifted }) => ({
      expects: [mixingStopped(shifted + STOP_AFTER, underPerMin === undefined ? {} : { underPerMin })],
      allows: [],
    }),
    ...more,
  });
}

const OIL_AND_METHANOL = { oilKg: 60, productKg: 32, methanolKg: 14 };
const BY_PUMP = {
  mixer: PUMP,
  plan: { lowestPumpFlow: 20 },
  channels: ['liquid-temperature', 'pump-flow', 'pump-current', 'heater'],
} satisfies Partial<SingleCourse>;
const BY_PUMP_SWITCH = {
  mixer: PUMP,
  channels: ['liquid-temperature', 'pump', 'pump-current', 'heater'],
} satisfies Partial<SingleCourse>;
/** A tenth of the lowest flow, and a flow switch that opens, as speeds of the drive, 1/min. */
const FLOW_STOPPED = (0.1 * 20 * PUMP.ratedPerMin) / PUMP.ratedLPerMin!;
const SWITCH_OPENS = 0.3 * PUMP.ratedPerMin;

const WITH_CURRENT: readonly Channel[] = [...DEFAULT_CHANNELS, 'stirrer-current'];
const REACTS: Pick<BatchCourse, 'reactMinutes' | 'settleHours' | 'endsAt'> = {
  reactMinutes: 66,
  settleHours: 24.2,
  endsAt: ({ react }) => react + 30,
};
const EVENT = 18;

const stir = (atMinutes: number, perMin: number): Cue => ({ atMinutes, do: 'stir', vessel: 'r1', perMin });

export const MIXING = {
  'stirrer-stops': batch({
    description: 'the stirrer stops in the reaction, for 90 seconds and later for 4 minutes',
    reactMinutes: 74,
    settleHours: 24.2,
    events: ({ react, shift }) => [
      stir(react + 15 + shift, 0),
      stir(react + 16.5 + shift, STIRRER.ratedPerMin),
      stir(react + 30 + shift, 0),
      stir(react + 34 + shift, STIRRER.ratedPerMin),
    ],
    truth: ({ react, shift }) => ({
      expects: [
        mixingStopped(react + 15 + shift),
        mixingStopped(react + 30 + shift),
        since('restart-hot', react + 34 + shift, 2),
      ],
      allows: [],
    }),
  }),
  'stirrer-stops-over-bad-link': batch({
    ...REACTS,
    description: 'the stirrer stops in the reaction; one reading in ten comes late or twice',
    links: { 'r1-node': { ...PERFECT_LINK, lateShare: 0.1, mostLateS: 3, twiceShare: 0.1 } },
    events: ({ react, shift }) => [stir(react + EVENT + shift, 0)],
    truth: ({ react, shift }) => ({
      expects: [mixingStopped(react + EVENT + shift, { seconds: 13 })],
      allows: [],
    }),
  }),
  'stirrer-stops-in-prewash': stops('prewash', { oilKg: 91, productKg: 10, methanolKg: 3 }, 45),
  'stirrer-stops-in-esterify': stops('esterify', { oilKg: 91, methanolKg: 15 }, 50),
  'stirrer-stops-in-methoxide': stops('methoxide', { methanolKg: 17.5, flakesKg: 0.3 }, 18, {
    role: 'methoxide',
    equipment: METHOXIDE_VESSEL,
    mixer: METHOXIDE_STIRRER,
  }),
  'stirrer-stops-in-dose': stops('dose', OIL_AND_METHANOL, 50),
  'stirrer-stops-read-every-10-s': stops('react', OIL_AND_METHANOL, 50, { readingEveryMs: 10_000 }),
  'pump-stops-in-react': stops('react', OIL_AND_METHANOL, 50, BY_PUMP, FLOW_STOPPED),
  'pump-stops-in-dose': stops('dose', OIL_AND_METHANOL, 50, BY_PUMP, FLOW_STOPPED),
  'pump-switch-opens-in-react': stops('react', OIL_AND_METHANOL, 50, BY_PUMP_SWITCH, SWITCH_OPENS),
  'stirrer-slows': batch({
    ...REACTS,
    description: 'the belt slips in the reaction: 140 instead of 300 1/min, for 5 minutes',
    events: ({ react, shift }) => [
      stir(react + EVENT + shift, 140),
      stir(react + EVENT + 5 + shift, STIRRER.ratedPerMin),
    ],
    truth: ({ react, shift }) => ({
      expects: [since('mixing-slow', react + EVENT + shift, 33)],
      allows: [],
    }),
  }),
  'pump-slows': single({
    ...BY_PUMP,
    description: 'the strainer before the pump clogs: 12 instead of 40 L/min',
    stage: 'react',
    contents: OIL_AND_METHANOL,
    temperatureC: 50,
    mixed: true,
    minutes: 9,
    events: ({ shifted }) => [stir(shifted + 4, 0.3 * PUMP.ratedPerMin)],
    truth: ({ shifted }) => ({
      expects: [since('mixing-slow', shifted + 4, 33)],
      allows: ['coupling-lost'],
    }),
  }),
  'coupling-lets-go': batch({
    ...REACTS,
    description: 'the magnets let go in the reaction: the motor turns, the liquid does not',
    channels: WITH_CURRENT,
    events: ({ react, shift }) => [
      { atMinutes: react + EVENT + shift, do: 'mixer', vessel: 'r1', fault: 'uncoupled' },
    ],
    truth: ({ react, shift }) => ({
      expects: [since('coupling-lost', react + EVENT + shift, 13)],
      allows: [],
    }),
  }),
  'pump-draws-air': single({
    ...BY_PUMP,
    description:
      'the pump draws air: its current halves, its meter shows a fifth less, above the lowest flow',
    stage: 'react',
    contents: OIL_AND_METHANOL,
    temperatureC: 50,
    mixed: true,
    minutes: 14,
    events: ({ shifted }) => [{ atMinutes: shifted + 7, do: 'mixer', vessel: 'r1', fault: 'air' }],
    truth: ({ shifted }) => ({ expects: [since('coupling-lost', shifted + 7, 12)], allows: [] }),
  }),
  'pump-draws-air-with-switch': single({
    ...BY_PUMP_SWITCH,
    description: 'the pump, of which only on and off are known, draws air: its current halves',
    stage: 'react',
    contents: OIL_AND_METHANOL,
    temperatureC: 50,
    mixed: true,
    minutes: 14,
    events: ({ shifted }) => [{ atMinutes: shifted + 7, do: 'mixer', vessel: 'r1', fault: 'air' }],
    truth: ({ shifted }) => ({ expects: [since('coupling-lost', shifted + 7, 12)], allows: [] }),
  }),
  'motor-jams': batch({
    ...REACTS,
    description: 'a rag winds itself round the shaft in the reaction: the motor stands and pulls',
    channels: WITH_CURRENT,
    events: ({ react, shift }) => [
      { atMinutes: react + EVENT + shift, do: 'mixer', vessel: 'r1', fault: 'jammed' },
    ],
    truth: ({ react, shift }) => ({
      expects: [since('motor-stalled', react + EVENT + shift, 3)],
      allows: ['mixing-stopped'],
    }),
  }),
  'restarted-in-dose': batch({
    ...REACTS,
    description: 'the stirrer stops when the methoxide begins to go in, and is started after 3 minutes',
    warmToC: 57,
    doseMinutes: 12,
    endsAt: ({ react }) => react + 10,
    events: ({ dose }) => [stir(dose + 0.5, 0), stir(dose + 3.7, STIRRER.ratedPerMin)],
    truth: ({ dose }) => ({
      expects: [mixingStopped(dose + 0.5), { ...since('restart-hot', dose + 3.7, 2), atLeast: 'critical' }],
      allows: [],
    }),
  }),
  'settling-stirred': batch({
    ...REACTS,
    description: 'somebody switches the stirrer on for 2 minutes after 5 hours of settling',
    settleHours: 12,
    endsAt: ({ drain }) => drain + 10,
    events: ({ settle, shift }) => [
      stir(settle + 300 + shift, STIRRER.ratedPerMin),
      stir(settle + 302 + shift, 0),
    ],
    truth: ({ settle, shift }) => ({
      // Readings come every 10 s in settling.
      expects: [since('settling-disturbed', settle + 300 + shift, 30)],
      allows: [],
    }),
  }),
};
