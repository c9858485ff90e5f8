import { LIMIT_NAMES, type LimitName } from '../../../shared/rules/limits.ts';
import type { Quantity } from './quantities.ts';

/** The numbers that a recipe's form asks for, by where they stand in the request. */

export interface NumberField {
  readonly path: string;
  readonly quantity: Quantity;
  /** Of a plain quantity. */
  readonly unit?: string;
}

const LIMIT_UNITS: Readonly<Record<LimitName, string>> = {
  reachedMarginC: 'apart',
  nearMarginC: 'apart',
  dosingMarginC: 'apart',
  stoppedSeconds: 's',
  mixingGraceSeconds: 's',
  lateIntervals: '×',
  shortPercent: '%',
  methoxideMinutes: 'min',
  aheadMinutes: 'min',
  methoxideAheadMarginC: 'apart',
  methoxideDoseMarginC: 'apart',
  methoxideMarginC: 'apart',
  warmHighestC: 'temperature',
  dryHighestC: 'temperature',
  dryFuelHighestC: 'temperature',
  condensateHighestC: 'temperature',
  recoverHighestC: 'temperature',
  heatSeenMinutes: 'min',
  coldByC: 'apart',
  risingCPerMin: 'apart',
  slowSeconds: 's',
  restartMarginC: 'apart',
  frozenMinutes: 'min',
  vapourPpm: 'ppm',
  vapourHighPpm: 'ppm',
  vapourDangerPpm: 'ppm',
};

const limitField = (name: LimitName): NumberField => {
  const unit = LIMIT_UNITS[name];
  const path = `watch.limits.${name}`;
  return unit === 'apart' || unit === 'temperature'
    ? { path, quantity: unit }
    : { path, quantity: 'plain', unit };
};

export const LIMIT_FIELDS: readonly NumberField[] = LIMIT_NAMES.map(limitField);

const plain = (path: string, unit: string): NumberField => ({ path, quantity: 'plain', unit });

export const NUMBER_FIELDS = [
  { path: 'oil.volumeAtC', quantity: 'temperature' },
  plain('oil.waterPpm', 'ppm'),
  plain('oil.titration.blankMl', 'mL'),
  plain('oil.titration.gPerL', 'g/L'),
  plain('oil.titration.sampleMl', 'mL'),
  plain('oil.titration.purityPercent', '%'),
  plain('methanol.percentOfOilVolume', '%'),
  plain('methanol.purityPercent', '%'),
  { path: 'methanol.startC', quantity: 'temperature' },
  plain('catalyst.purityPercent', '%'),
  plain('catalyst.baseGPerL', 'g/L'),
  plain('catalyst.grams', 'g'),
  { path: 'site.altitudeM', quantity: 'height' },
  plain('site.pressureHPa', 'hPa'),
  { path: 'reaction.temperatureC', quantity: 'temperature' },
  { path: 'vessel.liquidHeightM', quantity: 'height' },
  plain('watch.requiredReactionMinutes', 'min'),
  plain('watch.requiredSettleHours', 'h'),
  plain('watch.lowestStirrerSpeed', '1/min'),
  plain('watch.lowestPumpFlow', 'L/min'),
  plain('watch.readingEverySeconds', 's'),
  ...LIMIT_FIELDS,
] as const satisfies readonly NumberField[];

export const fieldAt = (path: string): NumberField => {
  const found = (NUMBER_FIELDS as readonly NumberField[]).find((field) => field.path === path);
  if (found === undefined) throw new Error(`no field ${path}`);
  return found;
};

/** The runs of a titration have their own entries, and one path; so many are asked for, and more can be brought. */
export const LEAST_RUNS = 3;
export const runEntry = (count: number): string => `run${count}`;
/** Which run an entry is of; undefined where it is of none. */
export const runAt = (name: string): string | undefined => /^run(\d+)$/.exec(name)?.[1];
export const FIRST_RUN = runEntry(1);
export const RUNS_PATH = 'oil.titration.mL';

/** What the amount of the oil may be said by: itself, or whatever there is least of. */
export const HAVE_WAYS = ['oil-volume', 'oil-mass', 'methanol', 'lye'] as const;
export type HaveWay = (typeof HAVE_WAYS)[number];
/** The entry that says how much there is. */
export const HAVE = 'have';
export const VOLUME_PATH = 'oil.volumeL';
