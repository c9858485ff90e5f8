import type { Scenario } from '../scenario.ts';
import { cutShort } from './cut-short.ts';
import { heaterRunsOn } from './heater-runs-on.ts';
import { linkDrops } from './link-drops.ts';
import { ordinaryBatch } from './ordinary-batch.ts';
import { probeResets } from './probe-resets.ts';
import { probeUnplugged } from './probe-unplugged.ts';
import { stirrerStops } from './stirrer-stops.ts';

export const SCENARIOS = {
  'ordinary-batch': ordinaryBatch,
  'heater-runs-on': heaterRunsOn,
  'stirrer-stops': stirrerStops,
  'cut-short': cutShort,
  'probe-resets': probeResets,
  'probe-unplugged': probeUnplugged,
  'link-drops': linkDrops,
} as const satisfies Record<string, Scenario>;

export type ScenarioName = keyof typeof SCENARIOS;

export const isScenarioName = (text: string): text is ScenarioName => Object.hasOwn(SCENARIOS, text);
