import {
  celsiusFromFahrenheit,
  fahrenheitFromCelsius,
  type TemperatureUnit,
} from '../shared/units/temperature.ts';

/** How quantities and times are written for a reader. Pure: unit and clock come in, text goes out. */

export type HourCycle = '24' | '12';

export const MINUS = '−';

/** A number with `digits` decimals and a true minus sign; −0.0 is written 0.0. */
export function decimal(value: number, digits: number): string {
  const text = Math.abs(value).toFixed(digits);
  return value < 0 && Number(text) !== 0 ? `${MINUS}${text}` : text;
}

export const toUnit = (celsius: number, unit: TemperatureUnit): number =>
  unit === 'C' ? celsius : fahrenheitFromCelsius(celsius);

export const fromUnit = (value: number, unit: TemperatureUnit): number =>
  unit === 'C' ? value : celsiusFromFahrenheit(value);

/** A difference of temperatures: 5 °C are 9 °F, without the 32. */
export const differenceToUnit = (celsius: number, unit: TemperatureUnit): number =>
  unit === 'C' ? celsius : celsius * 1.8;

export const degree = (unit: TemperatureUnit): string => (unit === 'C' ? '°C' : '°F');

export type VolumeUnit = 'L' | 'gal';

/** The US liquid gallon is 231 cubic inches of 16.387064 mL: 3.785411784 L exactly (NIST SP 811, appendix B). */
const LITRES_PER_GALLON = 3.785411784;

export const volumeToUnit = (litres: number, unit: VolumeUnit): number =>
  unit === 'L' ? litres : litres / LITRES_PER_GALLON;

export const volumeFromUnit = (volume: number, unit: VolumeUnit): number =>
  unit === 'L' ? volume : volume * LITRES_PER_GALLON;

/** '98.4 L', '26.0 US gal', '0.80 L': about three figures, as vessels and jugs are read. */
export function formatVolume(litres: number, unit: VolumeUnit): string {
  const volume = volumeToUnit(litres, unit);
  const size = Math.abs(volume);
  return `${decimal(volume, size >= 100 || size === 0 ? 0 : size >= 10 ? 1 : size >= 1 ? 2 : 3)} ${unit === 'L' ? 'L' : 'US gal'}`;
}

/** The international foot is 0.3048 m exactly; to the centimetre, which is finer than any pressure needs. */
export const feetToMetres = (feet: number): number => Math.round(feet * 30.48) / 100;

export type HeightUnit = 'm' | 'ft';

export const metresToFeet = (metres: number): number => metres / 0.3048;

/** '820 m', '2690 ft'. */
export const formatHeight = (metres: number, unit: HeightUnit): string =>
  `${decimal(unit === 'm' ? metres : metresToFeet(metres), 0)} ${unit}`;

/** What may be meant either way: 1,092 is 1.092 in one country and 1092 in another. */
const EITHER_WAY = /^[-+]?[1-9]\d{0,2}(,\d{3})+$/;

/**
 * The number a person typed, with a comma or a point as the decimal mark.
 * Undefined where it is no plain finite number, or where a comma may stand between thousands.
 */
export function parseNumber(text: string): number | undefined {
  if (EITHER_WAY.test(text.trim().replace(MINUS, '-'))) return undefined;
  const plain = text.trim().replace(',', '.').replace(MINUS, '-');
  return /^[-+]?(\d+\.?\d*|\.\d+)$/.test(plain) ? Number(plain) : undefined;
}

export type TimeDetail = 'minute' | 'second';

const formats = new Map<string, Intl.DateTimeFormat>();
function format(key: string, options: Intl.DateTimeFormatOptions): Intl.DateTimeFormat {
  let made = formats.get(key);
  if (made === undefined) {
    made = new Intl.DateTimeFormat('en-GB', options);
    formats.set(key, made);
  }
  return made;
}

/** Clock time in the reader's time zone: '11:20', '11:20:05', '2:05 pm'. */
export function clockTime(
  ms: number,
  cycle: HourCycle,
  detail: TimeDetail = 'minute',
  timeZone?: string,
): string {
  // Stands on every page from its first moment on, and what knows time zones is slow to wake.
  if (timeZone === undefined) return localClockTime(new Date(ms), cycle, detail);
  const text = format(`${cycle}${detail}${timeZone}`, {
    hour: cycle === '24' ? '2-digit' : 'numeric',
    minute: '2-digit',
    ...(detail === 'second' ? { second: '2-digit' as const } : {}),
    hourCycle: cycle === '24' ? 'h23' : 'h12',
    timeZone,
  }).format(ms);
  return text.replace(/\s?([ap]m)$/i, (_, half: string) => ` ${half.toLowerCase()}`);
}

const twoDigits = (value: number): string => String(value).padStart(2, '0');

function localClockTime(date: Date, cycle: HourCycle, detail: TimeDetail): string {
  const hour = date.getHours();
  const rest = [date.getMinutes(), ...(detail === 'second' ? [date.getSeconds()] : [])].map(twoDigits);
  if (cycle === '24') return [twoDigits(hour), ...rest].join(':');
  return `${[hour % 12 || 12, ...rest].join(':')} ${hour < 12 ? 'am' : 'pm'}`;
}

/** '25 Nov' in the reader's time zone. */
export const dayAndMonth = (ms: number, timeZone?: string): string =>
  format(`day${timeZone ?? ''}`, {
    day: 'numeric',
    month: 'short',
    ...(timeZone === undefined ? {} : { timeZone }),
  }).format(ms);

/** '25 Nov 2026' in the reader's time zone. */
export const dayMonthAndYear = (ms: number): string =>
  format('day and year', { day: 'numeric', month: 'short', year: 'numeric' }).format(ms);

/** Clock time, with the day before it where that is not the day of `nowMs`. */
export function momentNear(
  ms: number,
  nowMs: number,
  cycle: HourCycle,
  detail: TimeDetail = 'minute',
): string {
  const time = clockTime(ms, cycle, detail);
  const [day, today] = [new Date(ms), new Date(nowMs)];
  const isToday = day.getDate() === today.getDate() && day.getMonth() === today.getMonth();
  return isToday ? time : `${dayAndMonth(ms)}, ${time}`;
}

/** An age or a length of time in its one or two largest units: '8 s', '12 min', '3 h 5 min', '2 days'. */
export function duration(ms: number): string {
  const seconds = Math.max(0, Math.round(ms / 1000));
  if (seconds < 100) return `${seconds} s`;
  const minutes = Math.round(seconds / 60);
  if (minutes < 60) return `${minutes} min`;
  if (minutes < 48 * 60) {
    const rest = minutes % 60;
    return rest === 0 ? `${Math.floor(minutes / 60)} h` : `${Math.floor(minutes / 60)} h ${rest} min`;
  }
  return `${Math.round(minutes / (24 * 60))} days`;
}
