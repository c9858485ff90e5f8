import { parseNumber } from '../../units.ts';

/** Weights as scales show them. Pure. */

export type WeightUnit = 'g' | 'kg';

/** From here on in kg: kitchen scales end there. */
const KG_FROM = 10;

export const unitFor = (kg: number): WeightUnit => (Math.abs(kg) >= KG_FROM ? 'kg' : 'g');

/** '1,092 g', '21.5 g', '17.42 kg': in the unit that is usual for so much, or in one that is asked for. */
export function formatWeight(kg: number, unit: WeightUnit = unitFor(kg)): string {
  const value = unit === 'kg' ? kg : kg * 1000;
  const most = unit === 'kg' ? 2 : Math.abs(value) >= 100 ? 0 : 1;
  return `${value.toLocaleString('en', { maximumFractionDigits: most })}\u00a0${unit}`;
}

/**
 * kg, of what was typed: a number in the unit that is asked for, or with its own unit behind it. A comma before three
 * figures may be of the thousands or of the decimals ('1,092'): it is the one that is nearer to what is expected.
 */
export function parseWeight(text: string, unit: WeightUnit, expectedKg: number): number | undefined {
  const found = /^(.*?)\s*(kg|g)?$/i.exec(text.trim())!;
  const perKg = (found[2]?.toLowerCase() ?? unit) === 'kg' ? 1 : 1000;
  const number = found[1]!.replaceAll(/[\s\u202f\u00a0]/g, '');
  // Both of its meanings: what is expected tells which it was.
  const readings = [
    parseNumber(number) ?? (/^\d{1,3},\d{3}$/.test(number) ? Number(number.replace(',', '.')) : undefined),
  ];
  if (/^\d{1,3}(,\d{3})+(\.\d+)?$/.test(number)) readings.push(parseNumber(number.replaceAll(',', '')));
  const known = readings.flatMap((one) => (one === undefined || one <= 0 ? [] : [one / perKg]));
  const farFrom = (kg: number): number => Math.abs(Math.log(kg / expectedKg));
  return known.sort((a, b) => farFrom(a) - farFrom(b))[0];
}
