import { type BatchCourse, batch, DEFAULT_CHANNELS } from '../batch.ts';
import { HIGH_PLAIN, HILLS, JAR, PUMP, reactorWith, STIRRER } from '../gear.ts';
import { jar } from '../jar.ts';
import { ORDINARY_LINK, PERFECT_LINK } from '../link.ts';
import { leakFor } from '../room.ts';
import { single } from '../single.ts';

/** What happens every day and is no hazard. Nothing may be said, but for what `allows` names. */

const WHOLE = { reactMinutes: 66, settleHours: 24.2 } satisfies Partial<BatchCourse>;
const BOTH_DEVICES = (link: typeof ORDINARY_LINK) => ({ 'r1-node': link, 'm1-node': link });
/** Where the settling is of no interest: the batch up to its first minutes. */
const TO_SETTLING: Pick<BatchCourse, 'reactMinutes' | 'settleHours' | 'endsAt'> = {
  ...WHOLE,
  endsAt: ({ settle }) => settle + 20,
};
const ALL_STIRRER_CHANNELS = [...DEFAULT_CHANNELS, 'stirrer-current', 'ambient-pressure'] as const;
const PUMP_CHANNELS = ['liquid-temperature', 'pump-flow', 'pump-current', 'heater'] as const;

export const ORDINARY = {
  'ordinary-batch': batch({
    ...WHOLE,
    description: 'a batch without trouble, from cold oil to filtered fuel after a day of settling',
  }),
  'ordinary-in-the-hills': batch({
    ...WHOLE,
    description: 'the same at 340 m, with a stirrer whose current is watched and a barometer',
    site: HILLS,
    channels: ALL_STIRRER_CHANNELS,
  }),
  'ordinary-high-up': batch({
    ...WHOLE,
    description: 'the same at 1,609 m, where methanol boils at 59.7 °C and the plan is 50 °C',
    site: HIGH_PLAIN,
    planC: 50,
  }),
  'ordinary-with-pump': batch({
    ...WHOLE,
    description: 'a reactor that is mixed by a pump, whose flow and current are watched',
    mixer: PUMP,
    channels: PUMP_CHANNELS,
    plan: { lowestPumpFlow: 20 },
  }),
  'ordinary-with-pump-switch': batch({
    ...TO_SETTLING,
    description: 'a reactor that is mixed by a pump of which only on and off are known',
    mixer: PUMP,
    channels: ['liquid-temperature', 'pump', 'heater'],
  }),
  'ordinary-with-two-probes': batch({
    ...WHOLE,
    description: 'two probes in the reactor',
    channels: [...DEFAULT_CHANNELS, 'liquid-temperature-2'],
  }),
  'readings-five-a-second': batch({
    ...TO_SETTLING,
    description: 'readings every 0.2 s',
    readingEveryMs: 200,
  }),
  'readings-every-10-s': batch({ ...WHOLE, description: 'readings every 10 s', readingEveryMs: 10_000 }),
  'readings-every-30-s': batch({ ...WHOLE, description: 'readings every 30 s', readingEveryMs: 30_000 }),
  'thermostat-with-wide-band': batch({
    ...TO_SETTLING,
    description: 'a thermostat that lets the mix swing by a degree and a half about the plan',
    thermostatBandC: 1.5,
    equipment: reactorWith(4000),
  }),
  'cold-dose': batch({
    ...TO_SETTLING,
    description: 'methoxide at 5 °C falls into hot oil, and a 6 kW heater brings it back',
    methoxide: { startC: 5, flakesKg: 0.1 },
    equipment: reactorWith(6000),
    ambientC: 10,
  }),
  'stirrer-off-early': batch({
    ...TO_SETTLING,
    description: 'the stirrer is switched off 40 s before the settling is noted, all time earned',
    reactMinutes: 75,
    events: ({ settle }) => [{ atMinutes: settle - 40 / 60, do: 'stir', vessel: 'r1', perMin: 0 }],
  }),
  'stirrer-stops-briefly': batch({
    ...TO_SETTLING,
    description: 'the stirrer comes to rest for 7 s, twice',
    events: ({ dose, react, shift }) =>
      [dose + 2, react + 20 + shift].flatMap((at) => [
        { atMinutes: at, do: 'stir' as const, vessel: 'r1', perMin: 0 },
        { atMinutes: at + 11 / 60, do: 'stir' as const, vessel: 'r1', perMin: STIRRER.ratedPerMin },
      ]),
  }),
  'dropouts-up-to-10-s': batch({
    ...WHOLE,
    description: 'every few minutes nothing is heard for up to 10 s, and single readings are lost',
    links: BOTH_DEVICES({ ...ORDINARY_LINK, dropoutsPerHour: 12, lostShare: 0.005 }),
  }),
  'readings-out-of-order': batch({
    ...TO_SETTLING,
    description: 'one reading in twenty comes up to 4 s late, and as many come twice',
    links: BOTH_DEVICES({ ...PERFECT_LINK, lateShare: 0.05, mostLateS: 4, twiceShare: 0.05 }),
  }),
  'clock-behind': batch({
    ...TO_SETTLING,
    description: 'the reactor’s device has a clock that is 9 s behind',
    links: { 'r1-node': { ...PERFECT_LINK, clockAheadS: -9 } },
  }),
  'clock-ahead': batch({
    ...TO_SETTLING,
    description: 'the reactor’s device has a clock that is 9 s ahead',
    links: { 'r1-node': { ...PERFECT_LINK, clockAheadS: 9 } },
  }),
  'link-blinks': batch({
    ...TO_SETTLING,
    description: 'the reactor’s device is gone for 7 s and sends what it kept',
    events: ({ react, shift }) => [
      { atMinutes: react + 20 + shift, do: 'link', device: 'r1-node', up: false },
      { atMinutes: react + 20 + shift + 7 / 60, do: 'link', device: 'r1-node', up: true },
    ],
  }),
  'barometer-wanders': batch({
    ...WHOLE,
    description: 'the weather takes the pressure up and down by 15 hPa',
    site: HILLS,
    channels: ALL_STIRRER_CHANNELS,
    pressureSwingHPa: 15,
  }),
  'single-spike': batch({
    ...TO_SETTLING,
    description: 'one reading is 20 °C too high, the next is right',
    events: ({ react, shift }) => [
      { atMinutes: react + 20 + shift, do: 'probe', vessel: 'r1', fault: 'spike', readings: 1 },
    ],
    truth: () => ({ expects: [], allows: ['probe-jump'] }),
  }),
  'second-probe-takes-over': batch({
    ...TO_SETTLING,
    description: 'the first of two probes falls silent in the reaction; the other goes on',
    channels: [...DEFAULT_CHANNELS, 'liquid-temperature-2'],
    events: ({ react, shift }) => [
      { atMinutes: react + 15 + shift, do: 'probe', vessel: 'r1', probe: 1, fault: 'silent' },
    ],
    truth: () => ({ expects: [], allows: ['reading-late'] }),
  }),
  'recovery-under-vacuum': single({
    description: 'methanol is drawn off on purpose at 300 hPa into a condenser that keeps cold',
    stage: 'recover',
    contents: { productKg: 88, methanolKg: 8 },
    temperatureC: 40,
    setPointC: 80,
    mixed: true,
    channels: [...DEFAULT_CHANNELS, 'vessel-pressure', 'condensate-temperature'],
    plan: { requiredSettleHours: 0, methanolInFeed: true },
    minutes: 120,
    events: ({ stage, shifted }) => [
      { atMinutes: shifted + 1, do: 'vacuum', vessel: 'r1', underHPa: 713 },
      { atMinutes: stage + 110, do: 'vacuum', vessel: 'r1', underHPa: 0 },
    ],
    truth: () => ({ expects: [], allows: [] }),
  }),
  'recovery-with-heat': single({
    description: 'methanol is boiled off on purpose at the pressure of the room, up to 95 °C',
    stage: 'recover',
    contents: { productKg: 88, methanolKg: 8 },
    temperatureC: 45,
    setPointC: 95,
    mixed: true,
    channels: [...DEFAULT_CHANNELS, 'condensate-temperature'],
    plan: { requiredSettleHours: 0, methanolInFeed: true },
    minutes: 120,
    truth: () => ({ expects: [], allows: [] }),
  }),
  'wash-and-dry': batch({
    ...WHOLE,
    description: 'the fuel is washed, and dried at 105 °C, before it is filtered',
    washed: true,
  }),
  'class-jar': jar({ description: 'a litre on a hot plate with a magnetic stirrer', equipment: JAR }),
  'door-opened': batch({
    ...TO_SETTLING,
    description: 'a lid stands open for 14 minutes: 150 ppm of methanol in the room, then the door is opened',
    channels: [...DEFAULT_CHANNELS, 'room-vapour'],
    events: ({ methoxide }) => [
      { atMinutes: methoxide, do: 'leak', gPerMin: leakFor(400, 2) },
      { atMinutes: methoxide + 14, do: 'leak', gPerMin: 0 },
      { atMinutes: methoxide + 14, do: 'air-room', changesPerHour: 12 },
    ],
  }),
  'by-hand': batch({
    ...WHOLE,
    description: 'no instruments: a person types in what a kitchen thermometer shows (nothing is published)',
    reactMinutes: 75,
    byHand: true,
    plan: { mixingStated: true, readingEverySeconds: 300 },
  }),
};
