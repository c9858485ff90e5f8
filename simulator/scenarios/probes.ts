import { type BatchCourse, batch, DEFAULT_CHANNELS } from '../batch.ts';
import { silent, since } from '../hazards.ts';
import { DRIFT_C_PER_MIN, type ProbeFault } from '../probe.ts';
import type { Cue } from '../scenario.ts';

/** Probes, devices and links that tell nothing, or not the truth. */

const REACTS: Pick<BatchCourse, 'reactMinutes' | 'settleHours' | 'endsAt'> = {
  reactMinutes: 66,
  settleHours: 24.2,
  endsAt: ({ react }) => react + 35,
};
const TWO_PROBES = [...DEFAULT_CHANNELS, 'liquid-temperature-2'] as const;

const probe = (atMinutes: number, fault: ProbeFault | null, readings?: number, number: 1 | 2 = 1): Cue => ({
  atMinutes,
  do: 'probe',
  vessel: 'r1',
  probe: number,
  fault,
  ...(readings !== undefined && { readings }),
});

export const PROBES = {
  'probe-resets': batch({
    reactMinutes: 66,
    settleHours: 24.2,
    description: 'a loose probe reports 85.0, −127 and a spike among good readings',
    events: ({ react, shift }) => [
      probe(20 + shift, 'power-up', 1),
      probe(react + 10 + shift, 'unplugged', 3),
      probe(react + 20 + shift, 'spike', 1),
      probe(react + 30 + shift, 'power-up', 2),
    ],
    truth: ({ react, shift }) => ({
      expects: [
        since('probe-jump', 20 + shift, 1),
        since('probe-out-of-range', react + 10 + shift, 1),
        since('probe-jump', react + 20 + shift, 1),
        since('probe-jump', react + 30 + shift, 1),
      ],
      allows: [],
    }),
  }),
  'probe-unplugged': batch({
    description: 'no temperature comes for 3 minutes of the reaction',
    reactMinutes: 70,
    settleHours: 24.2,
    events: ({ react, shift }) => [probe(react + 20 + shift, 'silent'), probe(react + 23 + shift, null)],
    truth: ({ react, shift }) => ({ expects: [silent(react + 20 + shift)], allows: [] }),
  }),
  'probe-says-minus-127': batch({
    ...REACTS,
    description: 'the probe’s plug comes loose for 4 minutes: −127 all the time',
    events: ({ react, shift }) => [probe(react + 15 + shift, 'unplugged'), probe(react + 19 + shift, null)],
    truth: ({ react, shift }) => ({
      expects: [since('probe-out-of-range', react + 15 + shift, 1)],
      allows: ['reading-late'],
    }),
  }),
  'probe-powers-up': batch({
    ...REACTS,
    description: 'the probe loses its power again and again and says 85.0 for 3 readings each time',
    events: ({ react, shift }) =>
      [12, 14, 16, 18].map((after) => probe(react + after + shift, 'power-up', 3)),
    truth: ({ react, shift }) => ({
      expects: [since('probe-jump', react + 12 + shift, 1)],
      allows: [],
    }),
  }),
  'two-devices-on-one-channel': batch({
    ...REACTS,
    description: 'a thermometer in the room sends to the channel of the probe in the oil, in turn with it',
    events: ({ react, shift }) => [probe(react + 15 + shift, 'shared'), probe(react + 25 + shift, null)],
    truth: ({ react, shift }) => ({
      expects: [since('two-devices', react + 15 + shift, 10)],
      // The first hops may be anything.
      allows: ['probe-jump'],
    }),
  }),
  'probe-freezes': batch({
    ...REACTS,
    description: 'the probe repeats one value while the oil is warmed',
    endsAt: ({ dose }) => dose - 2,
    events: ({ shift }) => [probe(12 + shift, 'frozen')],
    truth: ({ shift }) => ({
      expects: [since('probe-frozen', 12 + shift, 601)],
      // Heat is asked for, and the reading does not rise.
      allows: ['heat-not-seen'],
    }),
  }),
  'probe-freezes-beside-another': batch({
    ...REACTS,
    description: 'the first of two probes repeats one value while the oil is warmed',
    channels: TWO_PROBES,
    endsAt: ({ dose }) => dose - 2,
    events: ({ shift }) => [probe(12 + shift, 'frozen')],
    truth: ({ shift }) => ({
      expects: [since('probe-frozen', 12 + shift, 601)],
      allows: ['probes-disagree', 'heat-not-seen'],
    }),
  }),
  'probes-drift-apart': batch({
    ...REACTS,
    description: 'the second of two probes reads less and less in the reaction',
    channels: TWO_PROBES,
    endsAt: ({ react }) => react + 35,
    events: ({ react, shift }) => [probe(react + 8 + shift, 'drift', undefined, 2)],
    truth: ({ react, shift }) => ({
      expects: [
        {
          alarm: 'probes-disagree',
          vessel: 'r1',
          from: react + 8 + shift + 2.7 / DRIFT_C_PER_MIN,
          plainAt: react + 8 + shift + 3.3 / DRIFT_C_PER_MIN,
          withinSeconds: 62,
        },
      ],
      allows: [],
    }),
  }),
  'tachometer-silent': batch({
    ...REACTS,
    description: 'the stirrer’s speed is not told any more in the reaction',
    events: ({ react, shift }) => [
      { atMinutes: react + 15 + shift, do: 'mute', vessel: 'r1', channel: 'stirrer-speed', muted: true },
    ],
    truth: ({ react, shift }) => ({ expects: [silent(react + 15 + shift)], allows: [] }),
  }),
  'nothing-for-minutes': batch({
    ...REACTS,
    description: 'readings every 10 s; for 4 minutes of the reaction nothing comes from the reactor',
    readingEveryMs: 10_000,
    events: ({ react, shift }) =>
      DEFAULT_CHANNELS.flatMap((channel): Cue[] => [
        { atMinutes: react + 15 + shift, do: 'mute', vessel: 'r1', channel, muted: true },
        { atMinutes: react + 19 + shift, do: 'mute', vessel: 'r1', channel, muted: false },
      ]),
    truth: ({ react, shift }) => ({ expects: [silent(react + 15 + shift, 10)], allows: [] }),
  }),
  'link-drops': batch({
    reactMinutes: 66,
    settleHours: 24.2,
    description: 'the reactor’s device loses its network for 10 minutes and then sends what it kept',
    events: ({ react, shift }) => [
      { atMinutes: react + 20 + shift, do: 'link', device: 'r1-node', up: false },
      { atMinutes: react + 30 + shift, do: 'link', device: 'r1-node', up: true },
    ],
    truth: ({ react, shift }) => ({
      expects: [since('device-gone', react + 20 + shift, 10)],
      allows: ['reading-late'],
    }),
  }),
};
