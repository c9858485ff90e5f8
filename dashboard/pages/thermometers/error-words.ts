import { THERMOMETERS } from '../../texts/thermometers.ts';
import { degreesApart } from '../../views/words.ts';

/** Less is not seen in one decimal, °C. */
const LEAST_SHOWN_C = 0.05;

/** How far off a thermometer is in a bath, °C. */
export function errorWords(bath: 'ice' | 'boiling', errorC: number): string {
  const name = THERMOMETERS.baths[bath];
  if (Math.abs(errorC) < LEAST_SHOWN_C) return THERMOMETERS.exact(name);
  const apart = degreesApart(Math.abs(errorC));
  return errorC > 0 ? THERMOMETERS.high(name, apart) : THERMOMETERS.low(name, apart);
}
