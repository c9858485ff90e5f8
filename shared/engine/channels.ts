import { channelKind, isLiquidTemperature, MIXING_CHANNELS, type MixingChannel } from '../wire/names.ts';
import type { ChannelState, VesselState } from './state.ts';

/** Gaps between messages that a channel's own interval is taken from. */
const GAPS_KEPT = 9;
/** So few gaps may hold an outage: until there are more, the shortest counts. */
const GAPS_FOR_MEDIAN = 3;
/** Under a tenth of the lowest speed nothing is mixed. */
export const STOPPED_RATIO = 0.1;

export function newChannel(): ChannelState {
  return {
    newestAtMs: Number.NEGATIVE_INFINITY,
    newest: { atMs: 0, arrivedMs: 0, value: 0, sound: false, typed: false },
    sound: null,
    candidate: null,
    gapsMs: [],
    ownIntervalMs: 0,
    stamped: false,
    seenInBatch: false,
    seenInStage: false,
    previousHeadroomC: null,
    headroomC: null,
    recent: [],
  };
}

/** Notes the time since the message before; readings of one message have one arrival and no gap. */
export function noteGap(channel: ChannelState, arrivedMs: number): void {
  const gap = arrivedMs - channel.newest.arrivedMs;
  if (channel.newestAtMs === Number.NEGATIVE_INFINITY || gap <= 0) return;
  channel.gapsMs.push(gap);
  if (channel.gapsMs.length > GAPS_KEPT) channel.gapsMs.shift();
  const sorted = channel.gapsMs.toSorted((a, b) => a - b);
  channel.ownIntervalMs = sorted.length < GAPS_FOR_MEDIAN ? sorted[0]! : sorted[sorted.length >> 1]!;
}

/** The interval of a channel, ms: the plan's, or where it is longer what the channel itself keeps. */
export const intervalMs = (vessel: VesselState, channel: ChannelState | undefined): number =>
  Math.max((vessel.plan?.readingEverySeconds ?? 1) * 1000, channel?.ownIntervalMs ?? 0);

/** A channel without a sound reading for so long is silent, ms. */
export const silenceMs = (vessel: VesselState, channel: ChannelState | undefined): number =>
  Math.max(15_000, (vessel.plan?.limits.lateIntervals ?? 5) * intervalMs(vessel, channel));

/** Whether a value is one that the channel can have at all. */
export function inRange(name: string, value: number): boolean {
  switch (channelKind(name)) {
    case 'temperature':
      return value >= -20 && value <= 200;
    case 'pressure':
      return value >= (name === 'vessel-pressure' ? 20 : 200) && value <= 1100;
    case 'switch':
      return value === 0 || value === 1;
    case 'speed':
    case 'flow':
    case 'current':
    case 'vapour':
      return value >= 0;
    case 'other':
      return true;
  }
}

/** The channel that tells whether a vessel is mixed, if it has one. */
export const mixingChannel = (vessel: VesselState): MixingChannel | undefined =>
  MIXING_CHANNELS.find((name) => vessel.channels[name]?.sound);

/** The lowest value of a mixing channel that counts as mixing; null where any movement does. */
export function lowestMixing(vessel: VesselState, channel: MixingChannel): number | null {
  if (channel === 'stirrer-speed') return vessel.plan?.lowestStirrerSpeed ?? null;
  if (channel === 'pump-flow') return vessel.plan?.lowestPumpFlow ?? null;
  return 1;
}

/** A mixing value as a share of the lowest that counts; 1 and above is 'at speed'. */
export function mixingRatio(vessel: VesselState, channel: MixingChannel, value: number): number {
  const lowest = lowestMixing(vessel, channel);
  return lowest === null ? (value > 0 ? 1 : 0) : value / lowest;
}

/** Whether the heater was last seen asking for heat. */
export const heatAskedFor = (vessel: VesselState): boolean => vessel.channels.heater?.sound?.value === 1;

export const liquidChannels = (vessel: VesselState): [string, ChannelState][] =>
  Object.entries(vessel.channels).filter(([name]) => isLiquidTemperature(name));

/**
 * The hottest of the probes that are not silent at an arrival time, °C; with `anyAge` of all that were
 * ever sound.
 */
export function hottestLiquid(
  vessel: VesselState,
  arrivedMs: number,
  anyAge = false,
): { channel: string; value: number; atMs: number } | null {
  let hottest: { channel: string; value: number; atMs: number } | null = null;
  for (const name in vessel.channels) {
    if (!isLiquidTemperature(name)) continue;
    const channel = vessel.channels[name]!;
    const { sound } = channel;
    if (sound === null) continue;
    if (!anyAge && arrivedMs - sound.arrivedMs > silenceMs(vessel, channel)) continue;
    if (hottest === null || sound.value > hottest.value) {
      hottest = { channel: name, value: sound.value, atMs: sound.atMs };
    }
  }
  return hottest;
}

/** The probe that credit goes by: the lowest-numbered that is not silent. */
export function leadingProbe(vessel: VesselState, arrivedMs: number): string | undefined {
  let leading: string | undefined;
  for (const name in vessel.channels) {
    if (!isLiquidTemperature(name)) continue;
    const channel = vessel.channels[name]!;
    if (channel.sound === null || arrivedMs - channel.sound.arrivedMs > silenceMs(vessel, channel)) continue;
    if (leading === undefined || probeNumber(name) < probeNumber(leading)) leading = name;
  }
  return leading;
}

const probeNumber = (name: string): number => Number(name.slice('liquid-temperature-'.length) || 1);
