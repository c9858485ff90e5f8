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
  /** So many reading intervals without a sound reading (15 s at least): late. */
  lateIntervals: 5,
  /** Percent of the required reaction time under which the reaction counts as short. */
  shortPercent: 95,
  /** Minutes that methoxide is mixed. */
  methoxideMinutes: 10,
} as const;

export type LimitName = keyof typeof LIMIT_DEFAULTS;
export type Limits = Record<LimitName, number>;

/** Limits as a plan gives them: some of the names, each from 0 to 10,000. */
export const limitsSchema = z.partialRecord(
  z.enum(Object.keys(LIMIT_DEFAULTS) as [LimitName, ...LimitName[]]),
  z.number().min(0).max(10_000),
);
