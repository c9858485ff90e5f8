/** Times on the wire: ISO 8601 UTC, or epoch milliseconds. Inside, always epoch milliseconds. */

/** The latest time a JavaScript date can hold, ms; the first is as far before 1970. */
export const LATEST_MS = 8.64e15;

/**
 * Epoch milliseconds of an ISO 8601 UTC time with seconds and `Z`, rounded down to the millisecond.
 * Undefined for any other form and for days or hours that do not exist (30 February, 24:00).
 */
export function parseIsoMs(text: string): number | undefined {
  // By hand: it is what takes longest in a reading, and a recorded run may have millions.
  const end = text.length - 1;
  if (end < 19 || text[end] !== 'Z' || text[10] !== 'T') return undefined;
  if (text[4] !== '-' || text[7] !== '-' || text[13] !== ':' || text[16] !== ':') return undefined;
  const year = digits(text, 0, 4);
  const month = digits(text, 5, 7);
  const day = digits(text, 8, 10);
  const hour = digits(text, 11, 13);
  const minute = digits(text, 14, 16);
  const second = digits(text, 17, 19);
  const ms = end === 19 ? 0 : fractionMs(text, 19, end);
  if (!(year >= 0 && month >= 1 && month <= 12 && day >= 1 && day <= daysIn(month, year))) return undefined;
  if (!(hour <= 23 && minute <= 59 && second <= 59 && ms >= 0)) return undefined;
  return daysTo(year, month, day) * 86_400_000 + hour * 3_600_000 + minute * 60_000 + second * 1000 + ms;
}

const isLeap = (year: number): boolean => year % 4 === 0 && (year % 100 !== 0 || year % 400 === 0);

const daysIn = (month: number, year: number): number =>
  month === 2
    ? isLeap(year)
      ? 29
      : 28
    : month === 4 || month === 6 || month === 9 || month === 11
      ? 30
      : 31;

/** Days from 1 January 1970 to a day of the Gregorian calendar. Years are counted from March, so that the
 * leap day is the last of its year. */
function daysTo(year: number, month: number, day: number): number {
  const y = month <= 2 ? year - 1 : year;
  const dayOfYear = Math.floor((153 * ((month + 9) % 12) + 2) / 5) + day - 1;
  const leapDays = Math.floor(y / 4) - Math.floor(y / 100) + Math.floor(y / 400);
  return y * 365 + leapDays + dayOfYear - 719_468;
}

/** The whole number that the digits of a stretch of text make; NaN where there is anything else. */
function digits(text: string, from: number, to: number): number {
  let number = 0;
  for (let i = from; i < to; i++) {
    const digit = text.charCodeAt(i) - 48;
    if (!(digit >= 0 && digit <= 9)) return Number.NaN;
    number = number * 10 + digit;
  }
  return number;
}

/** Milliseconds, rounded down, of a point and 1 to 9 digits of a second; NaN for anything else. */
function fractionMs(text: string, from: number, to: number): number {
  const count = to - from - 1;
  if (text[from] !== '.' || count < 1 || count > 9) return Number.NaN;
  const ms = digits(text, from + 1, Math.min(to, from + 4));
  if (count <= 3) return count === 3 ? ms : ms * (count === 2 ? 10 : 100);
  return digits(text, from + 4, to) >= 0 ? ms : Number.NaN;
}

/** Epoch milliseconds of a wire time, or undefined where it is neither ISO 8601 UTC nor a number of ms. */
export function parseWireTimeMs(time: unknown): number | undefined {
  if (typeof time === 'string') return parseIsoMs(time);
  if (typeof time !== 'number' || !(Math.abs(time) <= LATEST_MS)) return undefined;
  return Math.round(time);
}

/** ISO 8601 UTC with milliseconds, the form of every time that goes out. Throws a RangeError for no number. */
export function isoTime(ms: number): string {
  const whole = Math.trunc(Math.min(LATEST_MS, Math.max(-LATEST_MS, ms)));
  const minuteMs = Math.floor(whole / 60_000) * 60_000;
  // Readings follow each other: nearly each is in the minute of the one before, and an export has millions.
  if (minuteMs !== newestMinuteMs) {
    newestMinute = new Date(minuteMs).toISOString().slice(0, -'00.000Z'.length);
    newestMinuteMs = minuteMs;
  }
  const inMinute = whole - minuteMs;
  const second = Math.floor(inMinute / 1000);
  const rest = inMinute - second * 1000;
  return `${newestMinute}${TWO_DIGITS[second]}.${rest < 100 ? '0' : ''}${rest < 10 ? '0' : ''}${rest}Z`;
}

const TWO_DIGITS = Array.from({ length: 60 }, (_, i) => String(i).padStart(2, '0'));
let newestMinuteMs = Number.NaN;
let newestMinute = '';
