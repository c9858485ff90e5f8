import type { Balance, Cost, Prices } from '../wire/balance.ts';
import { ratio } from './standing.ts';

/**
 * What a litre of a batch's fuel cost, at the reader's prices. Methanol counts as it went in: what was recovered
 * is not taken off, since the batch that it goes into is spared buying it.
 */
export function costOf(
  { in: { oil, methanol, catalyst }, out }: Pick<Balance, 'in' | 'out'>,
  prices: Prices,
): Cost {
  const parts = [
    { what: 'oil', price: 'oilPerL', amount: oil.litres, unit: 'L' },
    { what: 'methanol', price: 'methanolPerL', amount: methanol.litres, unit: 'L' },
    { what: 'catalyst', price: 'catalystPerKg', amount: catalyst.kg, unit: 'kg' },
  ] as const;
  const missing: Cost['missing'] = parts.flatMap(({ what, price, amount }) => [
    ...(prices[price] === undefined ? [price] : []),
    ...(amount === null ? [what] : []),
  ]);
  const bought = parts.map(({ price, amount }) => (amount ?? Number.NaN) * (prices[price] ?? Number.NaN));
  const total = missing.length === 0 ? bought.reduce((a, b) => a + b) : null;
  const fuelL = out.fuel.litres;
  if (fuelL === null) missing.push('fuel');
  const perL = ratio(total, fuelL);
  return {
    perL,
    total,
    missing,
    says: [
      ...parts.flatMap(({ what, price, amount, unit }, i) =>
        Number.isNaN(bought[i])
          ? []
          : [`${what}: ${round(amount!)} ${unit} · ${prices[price]} = ${round(bought[i]!)}`],
      ),
      ...(total === null ? [] : [`together: ${round(total)}`]),
      ...(perL === null ? [] : [`per litre: ${round(total!)} / ${round(fuelL!)} L = ${round(perL)}`]),
    ],
  };
}

const round = (value: number): string => String(Number(value.toFixed(3)));
