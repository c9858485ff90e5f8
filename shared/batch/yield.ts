import type { Balance, Yield } from '../wire/balance.ts';
import type { Batch } from '../wire/batch.ts';
import { amountsOf, type Noted, was } from './amounts.ts';
import { ratio, standing } from './standing.ts';

/** So many batches before it are enough to say what is usual: common practice, no source. */
const MOST_EARLIER = 10;

/** How much fuel came of the oil, beside the plan and beside what the site's batches before it gave. */
export function yieldOf(
  batch: Noted & Pick<Batch, 'opened' | 'id'>,
  { in: { oil }, out: { fuel } }: Pick<Balance, 'in' | 'out'>,
  ofSite: readonly Batch[],
): Yield {
  return {
    oilL: oil.litres,
    fuelL: fuel.litres,
    litresPerLitre: ratio(fuel.litres, oil.litres),
    kgPerKg: ratio(fuel.kg, oil.kg),
    planned: plannedOf(batch, fuel.litres),
    earlier: earlierOf(batch, ofSite),
  };
}

/** Washed fuel has lost its methanol and soap: held against crude fuel it would always seem too little. */
function plannedOf(batch: Noted, fuelL: number | null): Yield['planned'] {
  const { computed, entries } = batch;
  if (computed === null) return null;
  const washed = was(batch, 'wash') || standing(entries, 'wash').length > 0;
  const [litres, litresLow, litresHigh] = washed
    ? [computed.washedFuelL, computed.washedFuelLLow, computed.washedFuelLHigh]
    : [computed.fuelL, computed.fuelLLow, computed.fuelLHigh];
  return {
    fuel: washed ? 'washed' : 'crude',
    litres,
    litresLow,
    litresHigh,
    percent: ratio(fuelL && 100 * fuelL, litres),
    lies: fuelL === null ? null : fuelL < litresLow ? 'below' : fuelL > litresHigh ? 'above' : 'within',
  };
}

function earlierOf({ opened }: Pick<Batch, 'opened'>, ofSite: readonly Batch[]): Yield['earlier'] {
  const earlier = ofSite
    .filter((one) => one.stage === 'finished' && one.opened < opened)
    .sort((a, b) => (a.opened < b.opened ? 1 : -1))
    .slice(0, MOST_EARLIER);
  const known = earlier
    .map((one) => amountsOf(one))
    .map((amounts) => ratio(amounts.out.fuel.litres, amounts.in.oil.litres))
    .filter((one) => one !== null)
    .sort((a, b) => a - b);
  return {
    finished: earlier.length,
    known: known.length,
    median: median(known),
    least: known[0] ?? null,
    most: known.at(-1) ?? null,
  };
}

function median(ascending: readonly number[]): number | null {
  const { length } = ascending;
  if (length === 0) return null;
  return (ascending[(length - 1) >> 1]! + ascending[length >> 1]!) / 2;
}
