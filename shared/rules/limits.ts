import { z } from 'zod';

/**
 * The limits of all rules with their defaults. A plan overrides them by name; a name that is not here
 * is refused, since a mistyped limit would otherwise be passed over in silence.
 */
export const LIMIT_DEFAULTS = {
  /** °C below boiling at which the liquid counts as boiling. */
  reachedMarginC: 0.5,
  /** °C below boiling from which it counts as near. */
  nearMarginC: 3,
  /** °C below boiling that the oil must keep while methoxide goes in. */
  dosingMarginC: 5,
  /** Without mixing for so many seconds: stopped. */
  stoppedSeconds: 10,
  /** The same before mixing was first seen, and once the required time is counted. */
  mixingGraceSeconds: 60,
  /** So many reading intervals without a reading that can be trusted (15 s at least): late. */
  lateIntervals: 5,
  /** Percent of the required reaction time under which the reaction counts as short. */
  shortPercent: 95,
  /** Minutes that methoxide is mixed. */
  methoxideMinutes: 10,
  /** Minutes to boiling at the present rise. */
  aheadMinutes: 5,
  /** °C below boiling under which methoxide's rise is looked at. */
  methoxideAheadMarginC: 25,
  /** °C below boiling that methoxide should be when it goes in. */
  methoxideDoseMarginC: 25,
  /** °C below boiling that methoxide must keep while it is mixed. */
  methoxideMarginC: 10,
  /** Highest oil temperature while it is warmed, dewatered, and fuel while it is dried, °C. */
  warmHighestC: 75,
  dryHighestC: 130,
  dryFuelHighestC: 115,
  /** Highest condensate and liquid temperature while methanol is recovered, °C. */
  condensateHighestC: 40,
  recoverHighestC: 120,
  /** Minutes of asking for heat in which it must be seen. */
  heatSeenMinutes: 10,
  /** °C under the planned temperature. */
  coldByC: 8,
  /** °C/min. */
  risingCPerMin: 3,
  /** Seconds of slow mixing. */
  slowSeconds: 30,
  /** °C below boiling under which a restart is a hazard. */
  restartMarginC: 12,
  /** Minutes of one value. */
  frozenMinutes: 10,
  /** Methanol in room air, ppm. */
  vapourPpm: 200,
  vapourHighPpm: 3000,
  vapourDangerPpm: 6000,
} as const;

export type LimitName = keyof typeof LIMIT_DEFAULTS;
export type Limits = Record<LimitName, number>;
export const LIMIT_NAMES = Object.keys(LIMIT_DEFAULTS) as [LimitName, ...LimitName[]];

const MOST: Partial<Record<LimitName, number>> = {
  // Temperatures are looked back at for two hours.
  heatSeenMinutes: 119,
};
/** The most that a plan can set a limit to; the least is 0. */
export const highestLimit = (name: LimitName): number => MOST[name] ?? 10_000;
const limit = (name: LimitName) => z.number().min(0).max(highestLimit(name)).optional();

/** Limits as a plan gives them: some of the names, each from 0 to 10,000, or what is looked back at. */
export const limitsSchema: z.ZodType<Partial<Limits>, Partial<Limits>> = z.strictObject(
  Object.fromEntries(LIMIT_NAMES.map((name) => [name, limit(name)])),
);
