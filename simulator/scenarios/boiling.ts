import { type BatchCourse, batch, DEFAULT_CHANNELS } from '../batch.ts';
import { HIGH_PLAIN, JAR, REACTOR, reactorWith, type Story } from '../gear.ts';
import { boilingNear, goesToBoiling, headroomUnder, hotterThan, since } from '../hazards.ts';
import { jar } from '../jar.ts';
import { ORDINARY_LINK } from '../link.ts';
import { single } from '../single.ts';

/** Liquid that becomes too hot for methanol, or for itself. */

/** W that warm the mix by a degree a minute, and what is lost at 60 °C in a shed at 20. */
const W_PER_K_PER_MIN = 4100;
const LOST_W = 290;

/** A thermostat that asks for heat from the reaction's start, with a heater that gives such a rise, °C/min. */
function risesBy(cPerMin: number, readingEveryMs: number): Story {
  const minutes = 22 / cPerMin + 6;
  return batch({
    description: `the thermostat sticks; the mix rises by ${cPerMin} °C/min from 48 °C until it boils`,
    reactMinutes: Math.max(66, minutes + 10),
    settleHours: 24.2,
    planC: 53,
    equipment: reactorWith(W_PER_K_PER_MIN * cPerMin + LOST_W),
    readingEveryMs,
    endsAt: ({ react }) => react + minutes,
    events: ({ react }) => [{ atMinutes: react + 0.5, do: 'heater', vessel: 'r1', fault: 'asks-on' }],
    truth: ({ react }) => ({
      expects: goesToBoiling({ after: react + 0.5 }),
      // From 3 °C/min on that is a hazard of its own; with a strong heater the rise may be that for a while.
      allows: cPerMin >= 2 ? ['rising-fast'] : [],
    }),
  });
}

const REACTS: Pick<BatchCourse, 'reactMinutes' | 'settleHours'> = { reactMinutes: 66, settleHours: 24.2 };

export const BOILING = {
  'heater-runs-on': batch({
    ...REACTS,
    description: 'the thermostat sticks in the reaction; the liquid boils until the heat is switched off',
    events: ({ react, shift }) => [
      { atMinutes: react + 18 + shift, do: 'heater', vessel: 'r1', fault: 'asks-on' },
      { atMinutes: react + 42 + shift, do: 'set-point', vessel: 'r1', celsius: null },
    ],
    truth: ({ react, shift }) => ({
      expects: goesToBoiling({ after: react + 18 + shift }),
      // Time at the boil is no reaction time.
      allows: ['reaction-short'],
    }),
  }),
  'heater-runs-on-over-bad-link': batch({
    ...REACTS,
    description: 'the thermostat sticks in the reaction; dropouts, readings late and twice on their way',
    links: {
      'r1-node': {
        ...ORDINARY_LINK,
        dropoutsPerHour: 12,
        lateShare: 0.1,
        mostLateS: 3,
        twiceShare: 0.1,
      },
    },
    endsAt: ({ react }) => react + 44,
    events: ({ react, shift }) => [
      { atMinutes: react + 18 + shift, do: 'heater', vessel: 'r1', fault: 'asks-on' },
    ],
    truth: ({ react, shift }) => ({ expects: goesToBoiling({ after: react + 18 + shift }), allows: [] }),
  }),
  'rises-0.2-a-minute': risesBy(0.2, 1000),
  'rises-0.5-a-minute': risesBy(0.5, 1000),
  'rises-1-a-minute': risesBy(1, 1000),
  'rises-2-a-minute': risesBy(2, 1000),
  'rises-4-a-minute': risesBy(4, 1000),
  'rises-1-read-every-10-s': risesBy(1, 10_000),
  'rises-0.5-read-every-30-s': risesBy(0.5, 30_000),
  'rises-2-read-five-a-second': risesBy(2, 200),
  'set-too-high': batch({
    ...REACTS,
    description: 'somebody sets the thermostat to 62.5 °C: near boiling, and it stays there',
    endsAt: ({ settle }) => settle + 10,
    events: ({ react, shift }) => [
      { atMinutes: react + 15 + shift, do: 'set-point', vessel: 'r1', celsius: 62.5 },
    ],
    truth: ({ react, shift }) => ({
      expects: [boilingNear({ after: react + 15 + shift })],
      allows: ['boiling-ahead'],
    }),
  }),
  'plan-from-the-coast': batch({
    ...REACTS,
    description: 'at 1,609 m, with a plan of 58 °C as at sea level: methanol boils at 59.7 °C',
    site: HIGH_PLAIN,
    planC: 58,
    endsAt: ({ react }) => react + 40,
    truth: ({ dose }) => ({
      expects: [since('too-hot-to-dose', dose, 1), boilingNear({ after: dose })],
      allows: ['boiling-ahead', 'boiling-reached'],
    }),
  }),
  'dosed-too-hot': batch({
    ...REACTS,
    description: 'the oil is at 60 °C and more when the methoxide goes in',
    warmToC: 60.3,
    endsAt: ({ react }) => react + 30,
    truth: ({ dose }) => ({ expects: [since('too-hot-to-dose', dose, 1)], allows: [] }),
  }),
  'hot-plate-turned-up': jar({
    description: 'the dial of the hot plate is turned to 100 in the reaction; the jar boils',
    equipment: JAR,
    endsAt: (react) => react + 32,
    events: (react) => [{ atMinutes: react + 15, do: 'set-point', vessel: 'r1', celsius: 100 }],
    truth: (react) => ({ expects: goesToBoiling({ after: react + 15 }), allows: [] }),
  }),
  'hot-plate-goes-on': jar({
    description: 'the hot plate is switched off at once, and what heat is in it boils the jar',
    equipment: { ...JAR, elementKJPerK: 2.4, heaterW: 900 },
    endsAt: (react) => react + 40,
    events: (react) => [
      { atMinutes: react + 15, do: 'set-point', vessel: 'r1', celsius: 150 },
      { atMinutes: react + 17.5, do: 'set-point', vessel: 'r1', celsius: null },
    ],
    truth: (react) => ({ expects: goesToBoiling({ after: react + 15 }), allows: ['rising-fast'] }),
  }),
  'vacuum-too-early': single({
    description: 'vacuum is drawn on fuel that still holds methanol, while it settles',
    stage: 'settle',
    contents: { productKg: 88, methanolKg: 8 },
    temperatureC: 48,
    mixed: false,
    channels: [...DEFAULT_CHANNELS, 'vessel-pressure'],
    plan: { methanolInFeed: true },
    minutes: 15,
    events: ({ shifted }) => [{ atMinutes: shifted + 3, do: 'vacuum', vessel: 'r1', underHPa: 613 }],
    truth: ({ shifted }) => ({
      expects: [
        headroomUnder('boiling-near', 3, { after: shifted + 3, atRest: true }),
        headroomUnder('boiling-reached', 0.5, { after: shifted + 3, atRest: true }),
      ],
      allows: ['boiling-ahead'],
    }),
  }),
  'oil-overheats-in-warming': single({
    description: 'the thermostat sticks while the oil is warmed; it passes 75 °C',
    stage: 'warm',
    contents: { oilKg: 91.6 },
    temperatureC: 58,
    setPointC: 60,
    mixed: true,
    minutes: 32,
    events: ({ shifted }) => [{ atMinutes: shifted + 1, do: 'heater', vessel: 'r1', fault: 'asks-on' }],
    truth: ({ shifted }) => ({ expects: [hotterThan('oil-overheated', 75, { after: shifted })], allows: [] }),
  }),
  'oil-overheats-in-drying': single({
    description: 'the thermostat sticks while water is driven out of the oil; it passes 130 °C',
    stage: 'dry-oil',
    contents: { oilKg: 91.6 },
    temperatureC: 112,
    setPointC: 115,
    mixed: true,
    minutes: 40,
    events: ({ shifted }) => [{ atMinutes: shifted + 1, do: 'heater', vessel: 'r1', fault: 'asks-on' }],
    truth: ({ shifted }) => ({
      expects: [hotterThan('oil-overheated', 130, { after: shifted })],
      allows: [],
    }),
  }),
  'fuel-overheats-in-drying': single({
    description: 'the thermostat sticks while washed fuel is dried; it passes 115 °C',
    stage: 'dry-fuel',
    contents: { productKg: 90 },
    temperatureC: 100,
    setPointC: 105,
    mixed: true,
    plan: { requiredSettleHours: 0 },
    minutes: 36,
    events: ({ shifted }) => [{ atMinutes: shifted + 1, do: 'heater', vessel: 'r1', fault: 'asks-on' }],
    truth: ({ shifted }) => ({
      expects: [hotterThan('oil-overheated', 115, { after: shifted })],
      allows: [],
    }),
  }),
  'reaction-races': batch({
    ...REACTS,
    description: 'a 24 kW burner is left on in the reaction: over 4 °C/min',
    planC: 48,
    equipment: reactorWith(24_000),
    endsAt: ({ react }) => react + 9,
    events: ({ react }) => [{ atMinutes: react + 4, do: 'heater', vessel: 'r1', fault: 'asks-on' }],
    truth: ({ react }) => ({
      expects: [since('rising-fast', react + 4, 110)],
      allows: ['boiling-ahead', 'boiling-near', 'boiling-reached'],
    }),
  }),
  'dose-races': batch({
    ...REACTS,
    description: 'a 24 kW burner is lit while the methoxide goes in: over 3 °C/min in spite of the cold dose',
    planC: 45,
    doseMinutes: 10,
    equipment: reactorWith(24_000),
    endsAt: ({ dose }) => dose + 7,
    events: ({ dose }) => [
      { atMinutes: dose + 2, do: 'set-point', vessel: 'r1', celsius: 45 },
      { atMinutes: dose + 2, do: 'heater', vessel: 'r1', fault: 'asks-on' },
    ],
    truth: ({ dose }) => ({
      expects: [since('rising-fast', dose + 2, 110)],
      allows: ['boiling-ahead', 'boiling-near', 'boiling-reached', 'too-hot-to-dose'],
    }),
  }),
  'boils-in-settling': single({
    description: 'the heater’s relay welds at the end of the reaction; the mix boils while it should settle',
    stage: 'settle',
    contents: { productKg: 100, methanolKg: 9 },
    temperatureC: 51,
    mixed: false,
    plan: { methanolInFeed: true, reactionTemperatureC: 51 },
    equipment: { ...REACTOR, heaterW: 4000 },
    minutes: 40,
    events: ({ shifted }) => [{ atMinutes: shifted + 1, do: 'heater', vessel: 'r1', fault: 'welded' }],
    truth: ({ shifted }) => ({
      expects: [
        since('heater-stuck', shifted + 1, 8 * 60),
        ...goesToBoiling({ after: shifted + 1, atRest: true }),
      ],
      allows: [],
    }),
  }),
};
