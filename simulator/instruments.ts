import { currentA, flowLPerMin, type Mixer } from './mixer.ts';
import type { TemperatureProbe } from './probe.ts';
import { gaussian, type Random } from './random.ts';
import type { Channel } from './scenario.ts';
import { type Controls, insideHPa, type Surroundings, type VesselState } from './vessel.ts';

/** What an instrument sees when it is read. */
export interface Sight {
  state: VesselState;
  controls: Controls;
  mixer: Mixer;
  surroundings: Surroundings;
  vapourPpm: number;
}

interface Instrument {
  /** As reported; undefined where no reading comes. */
  read(sight: Sight, random: Random): number | undefined;
  /** The quantity itself, in the same unit. */
  truth(sight: Sight): number;
}

/** Longest time between readings of what changes slowly, and the shortest its devices manage, ms. Chosen. */
export const SLOWER_CHANNELS_MS: Partial<Record<Channel, number>> = {
  'ambient-pressure': 60_000,
  'room-vapour': 5_000,
};

/** About so much of a speed, flow or current is scatter. Chosen. */
const SCATTER = 0.01;

const scattered = (value: number, random: Random): number => value * (1 + SCATTER * gaussian(random));
const rounded = (value: number, step: number): number => Math.round(value / step) * step;
/** Decimal steps, without the tail that binary fractions leave. */
const toDecimals = (value: number, decimals: number): number => Number(value.toFixed(decimals));

/** A stirrer's speed as its tachometer reports it: whole 1/min, about 1 % of scatter, 0 at rest. */
export const tachometer = (perMin: number, random: Random): number => Math.round(scattered(perMin, random));

/** Running well enough to close a flow switch, as part of the usual speed. Chosen. */
const RUNNING = 0.3;

const current: Instrument = {
  truth: ({ mixer, state, controls }) => currentA(mixer, state, controls, state.liquidC),
  read: (sight, random) => toDecimals(scattered(current.truth(sight), random), 2),
};

/** All but the liquid's probes, which have a memory of their own. */
const PLAIN: Record<Exclude<Channel, 'liquid-temperature' | 'liquid-temperature-2'>, Instrument> = {
  'stirrer-speed': {
    truth: ({ state }) => state.stirrerPerMin,
    read: ({ state }, random) => tachometer(state.stirrerPerMin, random),
  },
  'stirrer-current': current,
  'pump-current': current,
  'pump-flow': {
    truth: ({ mixer, state, controls }) => flowLPerMin(mixer, state, controls.mixerFault),
    read: ({ mixer, state, controls }, random) =>
      toDecimals(scattered(flowLPerMin(mixer, state, controls.mixerFault), random), 1),
  },
  pump: {
    truth: ({ mixer, state }) => (state.stirrerPerMin > RUNNING * mixer.ratedPerMin ? 1 : 0),
    read: (sight) => PLAIN.pump.truth(sight),
  },
  heater: {
    truth: ({ state }) => (state.heating ? 1 : 0),
    read: (sight) => PLAIN.heater.truth(sight),
  },
  'ambient-pressure': {
    truth: ({ surroundings }) => surroundings.pressureHPa,
    read: ({ surroundings }, random) => toDecimals(surroundings.pressureHPa + 0.1 * gaussian(random), 1),
  },
  'vessel-pressure': {
    truth: ({ state, surroundings }) => insideHPa(state, surroundings),
    read: ({ state, surroundings }, random) =>
      toDecimals(insideHPa(state, surroundings) + 0.5 * gaussian(random), 1),
  },
  'condensate-temperature': {
    truth: ({ state }) => state.condensateC,
    read: ({ state }, random) => rounded(state.condensateC + 0.05 * gaussian(random), 0.0625),
  },
  'room-vapour': {
    truth: ({ vapourPpm }) => vapourPpm,
    read: ({ vapourPpm }, random) => Math.max(0, Math.round(vapourPpm + 2 * gaussian(random))),
  },
};

/** The instrument of a channel; `probes` are the liquid's, in the order of their numbers. */
export function instrumentOf(channel: Channel, probes: readonly TemperatureProbe[]): Instrument {
  if (channel !== 'liquid-temperature' && channel !== 'liquid-temperature-2') return PLAIN[channel];
  const probe = probes[channel === 'liquid-temperature' ? 0 : 1]!;
  return { truth: ({ state }) => state.liquidC, read: () => probe.read() };
}
