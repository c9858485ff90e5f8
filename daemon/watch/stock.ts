/** What changes a stock, L or kg: something is drawn from it, or somebody counts what is there. */
export type StockChange = { at: string } & ({ drawn: number } | { counted: number });

/** Amounts are reckoned to a millionth of a litre or kilogram: sums of decimals leave less than that over. */
const PARTS = 1e6;

export const toParts = (amount: number): number => Math.round(amount * PARTS) / PARTS;

/** A count stands for whatever was reckoned until then. */
const after = (stock: number, change: StockChange): number =>
  'counted' in change ? change.counted : toParts(stock - change.drawn);

/** In the order of their times; what is of one time stays in the order in which it was noted. */
const inTime = (changes: readonly StockChange[]): StockChange[] =>
  changes.toSorted((a, b) => (a.at < b.at ? -1 : a.at > b.at ? 1 : 0));

/** What is left after all changes, L or kg; below 0 where more was drawn than was known of. */
export const stockLeft = (start: number, changes: readonly StockChange[]): number =>
  inTime(changes).reduce(after, start);

/**
 * What can be drawn at a time, L or kg: the least that there was from then on, up to the next count. So what is
 * noted afterwards takes nothing that later draws have had, and nothing that a later count has missed already.
 */
export function stockAt(start: number, changes: readonly StockChange[], at: string): number {
  let stock = start;
  let least: number | null = null;
  for (const change of inTime(changes)) {
    if (change.at > at) {
      least ??= stock;
      if ('counted' in change) return least;
    }
    stock = after(stock, change);
    if (least !== null) least = Math.min(least, stock);
  }
  return least ?? stock;
}
