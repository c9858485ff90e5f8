import type { Stage } from '../shared/wire/names.ts';
import type { ProbeFault } from './probe.ts';
import type { Contents, Equipment, Surroundings } from './vessel.ts';

/** A story to simulate: what stands where at the start, and what happens to it when. */
export interface Scenario {
  /** One line for a list. */
  description: string;
  surroundings: Surroundings;
  vessels: readonly ScenarioVessel[];
  /** In order of time; those of one instant happen in the order written. */
  cues: readonly Cue[];
  lengthMinutes: number;
}

export interface ScenarioVessel {
  vessel: string;
  /** What publishes this vessel's readings. */
  device: string;
  equipment: Equipment;
  contents: Contents;
  temperatureC: number;
}

/** Something that the operator does, or that goes wrong, so many minutes after the start. */
export type Cue = { atMinutes: number } & (
  | { do: 'stage'; vessel: string; stage: Stage }
  /** The thermostat's setting, °C; null switches heat off. */
  | { do: 'set-point'; vessel: string; celsius: number | null }
  | { do: 'thermostat'; vessel: string; stuck: boolean }
  /** The stirrer's setting, 1/min. A stirrer that fails is one set to 0 by nobody. */
  | { do: 'stir'; vessel: string; perMin: number }
  /** Liquid is pumped over at an even rate; `to` null takes it away from what is watched. */
  | { do: 'pump'; from: string; to: string | null; kg: number; minutes: number }
  | { do: 'add-catalyst'; vessel: string; kg: number; minutes: number }
  /** The liquid's probe fails, for so many readings or until the next cue; null mends it. */
  | { do: 'probe'; vessel: string; fault: ProbeFault | null; readings?: number }
  /** The device loses its network, keeps its readings, and sends them when it is back. */
  | { do: 'link'; device: string; up: boolean }
  /** Readings come no oftener than this from here on. */
  | { do: 'reading-every'; ms: number }
);

/** Cues of two sources in one order of time; where times are equal, `first` goes first. */
export const mergeCues = (first: readonly Cue[], second: readonly Cue[]): Cue[] =>
  [...first, ...second].sort((a, b) => a.atMinutes - b.atMinutes);
