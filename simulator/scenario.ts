import type { Role, Stage } from '../shared/wire/names.ts';
import type { LinkQuality } from './link.ts';
import type { Mixer, MixerFault } from './mixer.ts';
import type { ProbeFault } from './probe.ts';
import type { Truth } from './truth.ts';
import type { Contents, Equipment, HeaterFault } from './vessel.ts';

/** A story to simulate: what stands where at the start, and what happens to it when. */
export interface Scenario {
  /** One line for a list. */
  description: string;
  surroundings: ScenarioSurroundings;
  vessels: readonly ScenarioVessel[];
  /** In order of time; those of one instant happen in the order written. */
  cues: readonly Cue[];
  lengthMinutes: number;
  /** Time between a channel's readings, ms, where nobody asks for another. */
  readingEveryMs: number;
  /** How much more the probes scatter than most of their kind. */
  probesNoisier: number;
  /** Of each device whose link is not perfect. */
  links: Readonly<Record<string, LinkQuality>>;
  truth: Truth;
}

export interface ScenarioSurroundings {
  ambientC: number;
  /** Station pressure at the start. */
  pressureHPa: number;
  /** How far the weather takes it up and down, hPa. */
  pressureSwingHPa: number;
  /** What is known of the site; null is the station pressure itself. */
  altitudeM: number | null;
}

export const CHANNELS = [
  'liquid-temperature',
  'liquid-temperature-2',
  'stirrer-speed',
  'stirrer-current',
  'pump-flow',
  'pump-current',
  'pump',
  'heater',
  'ambient-pressure',
  'vessel-pressure',
  'condensate-temperature',
  'room-vapour',
] as const;
export type Channel = (typeof CHANNELS)[number];

export interface ScenarioVessel {
  vessel: string;
  role: Role;
  /** The watching plan that its vessel line states, as far as it differs from the defaults. */
  plan: Plan;
  /** What publishes this vessel's readings; null where a person types them in. */
  device: string | null;
  channels: readonly Channel[];
  equipment: Equipment;
  mixer: Mixer;
  contents: Contents;
  temperatureC: number;
}

/** The fields of a recorded run's `plan` that scenarios state. */
export interface Plan {
  reactionTemperatureC?: number;
  requiredReactionMinutes?: number;
  requiredSettleHours?: number;
  lowestStirrerSpeed?: number;
  lowestPumpFlow?: number;
  mixingStated?: boolean;
  methanolInFeed?: boolean;
  /** Where it is not the run's own interval. */
  readingEverySeconds?: number;
}

/** Something that the operator does, or that goes wrong, so many minutes after the start. */
export type Cue = { atMinutes: number } & (
  | { do: 'stage'; vessel: string; stage: Stage }
  /** The thermostat's setting, °C; null switches heat off. */
  | { do: 'set-point'; vessel: string; celsius: number | null }
  | { do: 'heater'; vessel: string; fault: HeaterFault | null }
  /** The stirrer's or pump's setting, 1/min. A stirrer that fails is one set to 0 by nobody. */
  | { do: 'stir'; vessel: string; perMin: number }
  | { do: 'mixer'; vessel: string; fault: MixerFault | null }
  /** Liquid is pumped over at an even rate; `to` null takes it away from what is watched. */
  | { do: 'pump'; from: string; to: string | null; kg: number; minutes: number }
  | { do: 'add-catalyst'; vessel: string; kg: number; minutes: number }
  /** Water washes the methanol out. */
  | { do: 'wash-out'; vessel: string }
  /** Vacuum is drawn to so many hPa under the room's pressure; 0 lets air in. */
  | { do: 'vacuum'; vessel: string; underHPa: number }
  | { do: 'cooling-water'; vessel: string; running: boolean }
  /** Methanol evaporates into the room. */
  | { do: 'leak'; gPerMin: number }
  | { do: 'air-room'; changesPerHour: number }
  /** A probe fails, for so many readings or until the next cue; null mends it. */
  | { do: 'probe'; vessel: string; probe?: 1 | 2; fault: ProbeFault | null; readings?: number }
  /** One channel of a vessel sends nothing, the others go on. */
  | { do: 'mute'; vessel: string; channel: Channel; muted: boolean }
  /** A person reads a kitchen thermometer and types it in. */
  | { do: 'type-in'; vessel: string }
  /** The device loses its network, keeps its readings, and sends them when it is back. */
  | { do: 'link'; device: string; up: boolean }
  /** Readings come no oftener than this from here on. */
  | { do: 'reading-every'; ms: number }
);

/** Cues of two sources in one order of time; where times are equal, `first` goes first. */
export const mergeCues = (first: readonly Cue[], second: readonly Cue[]): Cue[] =>
  [...first, ...second].sort((a, b) => a.atMinutes - b.atMinutes);
