import { inRange } from '../../shared/engine/channels.ts';
import { channelKind, isLiquidTemperature, MIXING_CHANNELS } from '../../shared/wire/names.ts';

/** Which channels of a vessel share a plot, in the order in which the plots stand. Pure. */

export type PlotKind = 'temperature' | 'line' | 'switch';

export interface PlotSpec {
  /** The first of its channels: what it goes by. */
  id: string;
  kind: PlotKind;
  channels: readonly string[];
  height: number;
  /** Least height of its value axis, in the stored unit. */
  leastSpan: number;
  /** Whether it is never below 0. */
  fromZero: boolean;
}

/** Known channels in the order of what matters; what is not known comes after them, by name. */
const ORDER = [
  ...MIXING_CHANNELS,
  'heater',
  'stirrer-current',
  'pump-current',
  'condensate-temperature',
  'room-vapour',
  'vessel-pressure',
  'ambient-pressure',
];

const LEAST_SPAN: Readonly<Record<string, number>> = {
  temperature: 6,
  speed: 50,
  flow: 5,
  current: 0.5,
  pressure: 10,
  vapour: 50,
};

const NEVER_BELOW_ZERO: readonly string[] = ['speed', 'flow', 'current', 'vapour'];

/** Probes in the order of their numbers: without one is the first. */
const probe = (channel: string): number => Number(channel.slice('liquid-temperature-'.length) || 1);

export function plotsOf(channels: Iterable<string>): PlotSpec[] {
  const all = [...new Set(channels)];
  const probes = all.filter(isLiquidTemperature).sort((a, b) => probe(a) - probe(b));
  const others = all
    .filter((channel) => !isLiquidTemperature(channel))
    .sort((a, b) => place(a) - place(b) || (a < b ? -1 : 1));
  const liquid: PlotSpec[] =
    probes.length === 0
      ? []
      : [
          {
            id: probes[0]!,
            kind: 'temperature',
            channels: probes,
            height: 300,
            leastSpan: LEAST_SPAN.temperature!,
            fromZero: false,
          },
        ];
  return [
    ...liquid,
    ...others.map((channel): PlotSpec => {
      const kind = channelKind(channel);
      const isSwitch = kind === 'switch';
      return {
        id: channel,
        kind: isSwitch ? 'switch' : 'line',
        channels: [channel],
        height: isSwitch ? 52 : 130,
        leastSpan: LEAST_SPAN[kind] ?? 1,
        fromZero: NEVER_BELOW_ZERO.includes(kind),
      };
    }),
  ];
}

function place(channel: string): number {
  const at = ORDER.indexOf(channel);
  return at < 0 ? ORDER.length : at;
}

/** Whether a value may stretch the axis of its channel: what no sound reading can be does not. */
export const stretches = (channel: string): ((value: number) => boolean) => {
  // What the rules themselves call out of range.
  return (value) => inRange(channel, value);
};
