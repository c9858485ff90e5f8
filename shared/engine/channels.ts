import { channelKind, isLiquidTemperature, MIXING_CHANNELS, type MixingChannel } from '../wire/names.ts';
import type { ChannelState, VesselState } from './state.ts';

/** Gaps between messages that a channel's own interval is taken from. */
const GAPS_KEPT = 9;
/** So few gaps may hold an outage: until there are more, the shortest counts. */
const GAPS_FOR_MEDIAN = 3;
/** Under a tenth of the lowest speed nothing is mixed. */
export const STOPPED_RATIO = 0.1;

export function newChannel(name: string): ChannelState {
  return {
    isLiquid: isLiquidTemperature(name),
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
    past: [],
    same: null,
  };
}

/**
 * Notes the time since the message before; readings of one message have one arrival and no gap. What a person types
 * in may be of a while ago, all at one go: there the times of the readings tell the pace.
 */
export function noteGap(
  channel: ChannelState,
  { atMs, arrivedMs, typed }: Pick<ChannelState['newest'], 'atMs' | 'arrivedMs' | 'typed'>,
): void {
  const { newest } = channel;
  const gap = typed && newest.typed ? atMs - newest.atMs : arrivedMs - newest.arrivedMs;
  if (channel.newestAtMs === Number.NEGATIVE_INFINITY || gap <= 0) return;
  channel.gapsMs.push(gap);
  const oldest = channel.gapsMs.length > GAPS_KEPT ? channel.gapsMs.shift() : undefined;
  // A channel that keeps its pace, as nearly all do, has nothing to be sorted anew.
  if (gap === oldest) return;
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

/** The channel that tells whether a vessel is mixed, if it has one in its batch. */
export const mixingChannel = (vessel: VesselState): MixingChannel | undefined =>
  MIXING_CHANNELS.find((name) => vessel.channels[name]?.seenInBatch);

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
export const heatAskedFor = (vessel: VesselState): boolean => vessel.heater?.on === true;

export const liquidChannels = (vessel: VesselState): [string, ChannelState][] =>
  Object.entries(vessel.channels).filter(([, { isLiquid }]) => isLiquid);

/** Whether a channel has been heard of, soundly, lately enough by an arrival time. */
export const isHeard = (vessel: VesselState, channel: ChannelState, arrivedMs: number): boolean =>
  channel.sound !== null && arrivedMs - channel.sound.arrivedMs <= silenceMs(vessel, channel);

export interface Liquid {
  channel: string;
  /** °C. */
  value: number;
  atMs: number;
}

/** The hottest of the probes that are not silent at an arrival time. */
export const hottestLiquid = (vessel: VesselState, arrivedMs: number): Liquid | null =>
  hottestOf(vessel, (channel) => isHeard(vessel, channel, arrivedMs));

/** The hottest that any probe has said last, however long ago. */
export const hottestEver = (vessel: VesselState): Liquid | null => hottestOf(vessel, () => true);

/** The last temperature known still tells how hot the liquid is, ms. */
export const STILL_TELLS_MS = 600_000;

/** The same, if it is not too old. */
export function lastLiquid(vessel: VesselState, atMs: number): Liquid | null {
  const known = hottestEver(vessel);
  return known !== null && atMs - known.atMs <= STILL_TELLS_MS ? known : null;
}

function hottestOf(vessel: VesselState, counts: (channel: ChannelState) => boolean): Liquid | null {
  let hottest: Liquid | null = null;
  for (const name in vessel.channels) {
    const channel = vessel.channels[name]!;
    const { sound } = channel;
    if (!channel.isLiquid || sound === null || !counts(channel)) continue;
    if (hottest === null || sound.value > hottest.value) {
      hottest = { channel: name, value: sound.value, atMs: sound.atMs };
    }
  }
  return hottest;
}

/**
 * What a probe said at a time, and the least it has said since, °C, to 10 s. Null where it was silent then:
 * what it said before tells nothing of it.
 */
export function pastC(
  vessel: VesselState,
  channel: ChannelState,
  atMs: number,
): { thenC: number; lowestC: number } | null {
  const { past } = channel;
  let lowestC = channel.sound?.value ?? Number.POSITIVE_INFINITY;
  for (let i = past.length - 1; i >= 0; i--) {
    const [t, value] = past[i]!;
    if (t >= atMs) lowestC = Math.min(lowestC, value);
    if (t > atMs) continue;
    return atMs - t <= silenceMs(vessel, channel) ? { thenC: value, lowestC } : null;
  }
  return null;
}

/** The probe that credit goes by: the lowest-numbered that is not silent. */
export function leadingProbe(vessel: VesselState, arrivedMs: number): string | undefined {
  let leading: string | undefined;
  for (const name in vessel.channels) {
    const channel = vessel.channels[name]!;
    if (!channel.isLiquid || !isHeard(vessel, channel, arrivedMs)) continue;
    if (leading === undefined || probeNumber(name) < probeNumber(leading)) leading = name;
  }
  return leading;
}

/** 1 of `liquid-temperature`, 2 of `liquid-temperature-2`. */
export const probeNumber = (name: string): number => Number(name.slice('liquid-temperature-'.length) || 1);
