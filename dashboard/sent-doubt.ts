import { celsiusFromFahrenheit } from '../shared/units/temperature.ts';
import type { Vessel } from '../shared/wire/api.ts';
import { isLiquidTemperature } from '../shared/wire/names.ts';

/** What a room has, °C: 41 to 95 °F. */
const ROOM_C = { least: 5, most: 35 };

/**
 * What a reading would be, °C, if it were sent in °F from a room; null where no room says that number. Warm oil does
 * as well: it is a question to a person, never an alarm.
 */
export function ifFahrenheitC(channel: string, { value, typed }: { value: number; typed: boolean }) {
  // Typed in, it was asked then, and in the reader's own unit.
  if (typed || !isLiquidTemperature(channel)) return null;
  const celsius = celsiusFromFahrenheit(value);
  return celsius >= ROOM_C.least && celsius <= ROOM_C.most ? celsius : null;
}

/**
 * The first reading of that kind of a vessel that has not been in a batch: there it is asked unasked. After one, warm
 * liquid stands in it often, and the rules of the batch have said what they could.
 */
export function doubtedReading({ untried, readings }: Pick<Vessel, 'untried' | 'readings'>) {
  if (!untried) return null;
  for (const [channel, reading] of Object.entries(readings)) {
    const celsius = ifFahrenheitC(channel, reading);
    if (celsius !== null) return { value: reading.value, celsius };
  }
  return null;
}
