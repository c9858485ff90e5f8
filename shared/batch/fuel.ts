import type { Year } from '../wire/balance.ts';
import type { Batch } from '../wire/batch.ts';
import { fuelOf } from './amounts.ts';
import { rounded, standing, sum } from './standing.ts';

/** What became of the fuel: what there is to hand out, and what a site made and used by the year. */

/**
 * Litres to hand out, as measured at 20 °C by volume, without what other batches drew; null where nobody measured:
 * what scales say of litres is an estimate.
 */
export function measuredFuelL(
  batch: Pick<Batch, 'entries' | 'stages' | 'moves' | 'wentInto'>,
): number | null {
  const { litres, entries } = fuelOf(batch);
  const measured = standing(batch.entries, 'volume').some(({ id }) => entries.includes(id));
  return measured && litres !== null ? keptL(batch, litres) : null;
}

export const handedOutL = ({ entries }: Pick<Batch, 'entries'>): number =>
  rounded(sum(standing(entries, 'handed-out').map(({ what }) => what.litres)));

/** Of so many litres those that no other batch drew: what is made again of them is that one's. */
const keptL = ({ wentInto }: Pick<Batch, 'wentInto'>, litres: number): number =>
  Math.max(0, rounded(litres - sum(wentInto.map((went) => (went.undone === null ? went.litres! : 0)))));

/** Calendar years (UTC), ascending: those in which something ended or was handed out. */
export function yearsOf(batches: readonly Batch[]): Year[] {
  const years = new Map<number, Year>();
  const yearOf = (ms: number): Year => {
    const year = new Date(ms).getUTCFullYear();
    const none = { madeL: 0, usedL: 0, givenAwayL: 0 };
    const known = years.get(year) ?? {
      year,
      ...none,
      finished: 0,
      rejected: 0,
      void: 0,
      finishedWithoutFuel: 0,
    };
    years.set(year, known);
    return known;
  };
  for (const batch of batches) {
    for (const entry of standing(batch.entries, 'handed-out')) {
      const { use, litres } = entry.what;
      yearOf(Date.parse(entry.at))[use === 'used' ? 'usedL' : 'givenAwayL'] += litres;
    }
    const end = batch.stages.find(
      ({ stage }) => stage === 'finished' || stage === 'rejected' || stage === 'void',
    );
    if (end === undefined) continue;
    const year = yearOf(Date.parse(end.at));
    year[end.stage as 'finished' | 'rejected' | 'void']++;
    if (end.stage !== 'finished') continue;
    const { litres } = fuelOf(batch);
    if (litres === null) year.finishedWithoutFuel++;
    else year.madeL += keptL(batch, litres);
  }
  return [...years.values()]
    .map((year) => ({
      ...year,
      madeL: rounded(year.madeL),
      usedL: rounded(year.usedL),
      givenAwayL: rounded(year.givenAwayL),
    }))
    .sort((a, b) => a.year - b.year);
}
