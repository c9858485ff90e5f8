import type { Batch } from '../wire/api.ts';
import type { Year } from '../wire/balance.ts';
import { fuelOf } from './amounts.ts';
import { standing, sum } from './standing.ts';

/** What became of the fuel: what there is to hand out, and what a site made and used by the year. */

/** Litres as measured at 20 °C by volume; null where nobody did: what scales say of litres is an estimate. */
export function measuredFuelL(batch: Pick<Batch, 'entries' | 'stages' | 'moves'>): number | null {
  const { litres, entries } = fuelOf(batch);
  const measured = standing(batch.entries, 'volume').some(({ id }) => entries.includes(id));
  return measured ? litres : null;
}

export const handedOutL = ({ entries }: Pick<Batch, 'entries'>): number =>
  sum(standing(entries, 'handed-out').map(({ what }) => what.litres));

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
    else year.madeL += litres;
  }
  return [...years.values()].sort((a, b) => a.year - b.year);
}
