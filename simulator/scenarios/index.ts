import type { Story } from '../gear.ts';
import type { Scenario } from '../scenario.ts';
import { asWritten, variedBy } from '../variation.ts';
import { BOILING } from './boiling.ts';
import { FURTHER } from './further.ts';
import { HEATING } from './heating.ts';
import { METHOXIDE } from './methoxide.ts';
import { MIXING } from './mixing.ts';
import { ORDINARY } from './ordinary.ts';
import { PROBES } from './probes.ts';
import { ROOM } from './room.ts';

const STORIES = {
  ...ORDINARY,
  ...BOILING,
  ...METHOXIDE,
  ...MIXING,
  ...HEATING,
  ...PROBES,
  ...ROOM,
  ...FURTHER,
} satisfies Record<string, Story>;

export type ScenarioName = keyof typeof STORIES;
export const SCENARIO_NAMES = Object.keys(STORIES) as ScenarioName[];

export const isScenarioName = (text: string): text is ScenarioName => Object.hasOwn(STORIES, text);

/**
 * A scenario as one seed has it: its times some minutes earlier or later, the room warmer or colder, the
 * heater stronger or weaker by up to 10 %, amounts by up to 5 %, the probes noisier or less.
 */
export const variant = (name: ScenarioName, seed: number): Scenario => STORIES[name](variedBy(seed));

/** Each scenario just as it is written. */
export const SCENARIOS = Object.fromEntries(
  SCENARIO_NAMES.map((name) => [name, STORIES[name](asWritten)]),
) as Readonly<Record<ScenarioName, Scenario>>;
