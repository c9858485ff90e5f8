import { batch, DEFAULT_CHANNELS } from '../batch.ts';
import { REACTOR } from '../gear.ts';
import { hotterThan, since } from '../hazards.ts';
import type { Cue } from '../scenario.ts';
import { single } from '../single.ts';

/** Heaters that give none, or will not stop; liquid that stays cold; recovery without its condenser. */

const REACTS = { reactMinutes: 66, settleHours: 24.2 };

const RECOVERS = {
  stage: 'recover',
  contents: { productKg: 88, methanolKg: 8 },
  temperatureC: 52,
  setPointC: 115,
  mixed: true,
  plan: { requiredSettleHours: 0, methanolInFeed: true },
} as const;
/** By then it has boiled for a while, and vapour comes over. */
const BOILS_AFTER = 22;

export const HEATING = {
  'heater-dead': batch({
    ...REACTS,
    description: 'the element burns out while the oil is warmed',
    endsAt: ({ dose }) => dose - 2,
    events: ({ shift }) => [{ atMinutes: 10 + shift, do: 'heater', vessel: 'r1', fault: 'dead' }],
    truth: ({ shift }) => ({ expects: [since('heat-not-seen', 10 + shift, 11.5 * 60)], allows: [] }),
  }),
  'probe-fallen-out': batch({
    ...REACTS,
    description:
      'the probe that the thermostat goes by falls out in the reaction: it reads cold and heats on',
    equipment: { ...REACTOR, thermostatAt: 'probe' },
    endsAt: ({ react, shift }) => react + 22 + shift,
    events: ({ react, shift }) => [
      { atMinutes: react + 15 + shift, do: 'probe', vessel: 'r1', fault: 'fallen-out' },
    ],
    truth: ({ react, shift }) => ({
      expects: [since('heat-not-seen', react + 15 + shift, 55)],
      allows: ['reaction-cold'],
    }),
  }),
  'relay-welded': single({
    description:
      'the heater’s relay welds while oil is warmed: the thermostat asks for none, and it heats on',
    stage: 'warm',
    contents: { oilKg: 91.6 },
    temperatureC: 42,
    setPointC: 50,
    mixed: true,
    minutes: 28,
    events: ({ shifted }) => [{ atMinutes: shifted + 2, do: 'heater', vessel: 'r1', fault: 'welded' }],
    truth: ({ shifted }) => ({
      expects: [
        {
          alarm: 'heater-stuck',
          vessel: 'r1',
          from: (course) => course.first(shifted + 2, ({ vessels }) => !vessels.r1!.heating),
          withinSeconds: 5 * 60 + 30,
        },
      ],
      allows: [],
    }),
  }),
  'heater-on-in-drain': batch({
    ...REACTS,
    description: 'somebody warms the settled fuel to make it run, and drains it with the heat on',
    settleHours: 12,
    endsAt: ({ drain }) => drain + 15,
    events: ({ drain }) => [{ atMinutes: drain - 2, do: 'set-point', vessel: 'r1', celsius: 50 }],
    truth: ({ drain }) => ({ expects: [since('heater-on-draining', drain, 5)], allows: [] }),
  }),
  'heater-on-after-batch': batch({
    ...REACTS,
    description: 'the batch is finished and the vessel empty; an hour later its heater is switched on',
    endsAt: ({ finished }) => finished + 75,
    events: ({ finished }) => [{ atMinutes: finished + 60, do: 'set-point', vessel: 'r1', celsius: 55 }],
    truth: ({ finished }) => ({ expects: [since('heater-on-draining', finished + 60, 15)], allows: [] }),
  }),
  'reaction-left-cold': batch({
    ...REACTS,
    description: 'nobody switches the heat on again after the dose, in a cold shed and a bare vessel',
    reactMinutes: 120,
    ambientC: 6,
    equipment: { ...REACTOR, lossWPerK: 30, heaterW: 5000 },
    endsAt: ({ react }) => react + 75,
    events: ({ react }) => [{ atMinutes: react, do: 'set-point', vessel: 'r1', celsius: null }],
    truth: ({ react }) => ({
      expects: [
        {
          alarm: 'reaction-cold',
          vessel: 'r1',
          from: (course) => course.first(react, ({ vessels }) => vessels.r1!.liquidC < 47.5),
          plainAt: (course) => course.first(react + 20, ({ vessels }) => vessels.r1!.liquidC < 46.7) + 5,
          withinSeconds: 30,
        },
      ],
      allows: [],
    }),
  }),
  'cooling-water-fails': single({
    ...RECOVERS,
    description: 'the cooling water of the condenser fails while methanol is recovered',
    channels: [...DEFAULT_CHANNELS, 'condensate-temperature'],
    minutes: BOILS_AFTER + 8,
    events: ({ shifted }): Cue[] => [
      { atMinutes: shifted + BOILS_AFTER, do: 'cooling-water', vessel: 'r1', running: false },
    ],
    truth: ({ shifted }) => ({
      expects: [
        {
          alarm: 'condenser-warm',
          vessel: 'r1',
          from: (course) =>
            course.first(shifted + BOILS_AFTER, ({ vessels }) => vessels.r1!.condensateC > 39.7),
          plainAt: (course) =>
            course.first(shifted + BOILS_AFTER, ({ vessels }) => vessels.r1!.condensateC > 40.3),
          withinSeconds: 5,
          atLeast: 'critical',
        },
      ],
      allows: [],
    }),
  }),
  'condensate-unseen': single({
    ...RECOVERS,
    description: 'the condenser’s probe falls silent while methanol is recovered',
    channels: [...DEFAULT_CHANNELS, 'condensate-temperature'],
    minutes: BOILS_AFTER + 8,
    events: ({ shifted }) => [
      {
        atMinutes: shifted + BOILS_AFTER,
        do: 'mute',
        vessel: 'r1',
        channel: 'condensate-temperature',
        muted: true,
      },
    ],
    truth: ({ shifted }) => ({
      expects: [{ ...since('condenser-warm', shifted + BOILS_AFTER, 61), atLeast: 'critical' }],
      allows: [],
    }),
  }),
  'condensate-never-seen': single({
    ...RECOVERS,
    description: 'methanol is recovered with no probe at the condenser',
    minutes: BOILS_AFTER + 8,
    truth: ({ stage }) => ({ expects: [since('condenser-warm', stage, 70)], allows: [] }),
  }),
  'recovery-overheats': single({
    ...RECOVERS,
    description: 'the last methanol is gone, and the thermostat sticks: the fuel passes 120 °C',
    contents: { productKg: 88, methanolKg: 0.3 },
    temperatureC: 106,
    plan: { requiredSettleHours: 0 },
    channels: [...DEFAULT_CHANNELS, 'condensate-temperature'],
    minutes: 40,
    events: ({ shifted }) => [{ atMinutes: shifted + 1, do: 'heater', vessel: 'r1', fault: 'asks-on' }],
    truth: ({ shifted }) => ({
      expects: [hotterThan('recover-overheated', 120, { after: shifted })],
      allows: [],
    }),
  }),
};
