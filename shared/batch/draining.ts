import type { Batch } from '../wire/batch.ts';
import { dosesBefore } from './scales.ts';
import { standing, sum } from './standing.ts';

/** How much of the glycerol is out since the last dose, of what is to come by the plan. */

/** Most of the least that is expected: from here on slowly, to see the fuel come. */
const SLOW_FROM = 0.8;

export interface Draining {
  expectedL: number;
  lowL: number;
  highL: number;
  /** Noted before. */
  earlierL: number;
  taps: number;
  slowFromL: number;
}

/** By a time (ISO 8601), or by all that was noted. Null where a batch has no plan. */
export function drainingOf(batch: Pick<Batch, 'computed' | 'entries' | 'stages'>, at = '~'): Draining | null {
  const plan = batch.computed;
  if (plan === null) return null;
  const pass = dosesBefore(batch, at);
  const taps = standing(batch.entries, 'drained').filter(
    (tap) => tap.what.what === 'glycerol' && tap.at <= at && dosesBefore(batch, tap.at) === pass,
  );
  const { glycerolLayerL: expectedL, glycerolLayerLLow: lowL, glycerolLayerLHigh: highL } = plan;
  const earlierL = sum(taps.map((tap) => tap.what.litres));
  return { expectedL, lowL, highL, earlierL, taps: taps.length, slowFromL: SLOW_FROM * lowL };
}

/** What to do with so much out, of all. */
export const drainedSo = (
  totalL: number,
  { slowFromL, highL }: Pick<Draining, 'slowFromL' | 'highL'>,
): 'coming' | 'slowly' | 'more-than-expected' =>
  totalL > highL ? 'more-than-expected' : totalL >= slowFromL ? 'slowly' : 'coming';
