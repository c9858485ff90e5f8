import { clockTime, dayAndMonth, type HourCycle } from '../units.ts';

/** How a time axis is written. Pure. */

const SECOND = 1000;
const MINUTE = 60 * SECOND;
const HOUR = 60 * MINUTE;
const DAY = 24 * HOUR;

/** Distances of ticks that a person can count with, ms; longer ones are whole months and years. */
const STEPS = [
  ...[0.1, 0.2, 0.5, 1, 2, 5, 10, 15, 30].map((n) => n * SECOND),
  ...[1, 2, 5, 10, 15, 30].map((n) => n * MINUTE),
  ...[1, 2, 3, 6, 12].map((n) => n * HOUR),
  ...[1, 2, 7, 14].map((n) => n * DAY),
];
const MONTHS = [1, 2, 3, 6, 12, 24, 60];
const USUAL_MONTH = 30.5 * DAY;

export interface Ticks {
  at: number[];
  /** Null: whole months. */
  stepMs: number | null;
}

/** Round moments of a stretch of time by the reader's own clock, at most so many. */
export function ticksOf(fromMs: number, toMs: number, most: number): Ticks {
  const least = (toMs - fromMs) / Math.max(1, most);
  const stepMs = STEPS.find((step) => step >= least);
  const at: number[] = [];
  if (stepMs === undefined) {
    const months = MONTHS.find((n) => n * USUAL_MONTH >= least) ?? Math.ceil(least / USUAL_MONTH / 12) * 12;
    const first = new Date(fromMs);
    const monthsSoFar = first.getFullYear() * 12 + first.getMonth();
    for (let month = Math.ceil(monthsSoFar / months) * months; ; month += months) {
      const ms = new Date(Math.floor(month / 12), month % 12, 1).getTime();
      if (ms > toMs) return { at, stepMs: null };
      if (ms >= fromMs) at.push(ms);
    }
  }
  if (stepMs >= DAY) {
    const first = new Date(fromMs);
    const days = Math.round(stepMs / DAY);
    for (let day = 0; ; day++) {
      const date = new Date(first.getFullYear(), first.getMonth(), first.getDate() + day);
      const ms = date.getTime();
      if (ms > toMs) return { at, stepMs };
      // Counted from a fixed day, so that ticks stay where they are while the view moves.
      const number = Math.round((ms - date.getTimezoneOffset() * MINUTE) / DAY);
      if (ms >= fromMs && number % days === 0) at.push(ms);
    }
  }
  // Whole hours of the reader's clock, also where it is half an hour beside UTC or changes in between.
  const offset = new Date(fromMs).getTimezoneOffset() * MINUTE;
  for (let ms = Math.ceil((fromMs - offset) / stepMs) * stepMs + offset; ms <= toMs; ms += stepMs)
    at.push(ms);
  return { at, stepMs };
}

/** The text of each tick: the clock, or the day where a day begins or whole days are shown. */
export function tickTexts({ at, stepMs }: Ticks, cycle: HourCycle): string[] {
  return at.map((ms, i) => {
    const date = new Date(ms);
    if (stepMs === null) {
      const month = date.toLocaleDateString('en-GB', { month: 'short' });
      return i === 0 || date.getMonth() === 0 ? `${month} ${date.getFullYear()}` : month;
    }
    if (stepMs >= DAY) return dayAndMonth(ms);
    if (date.getHours() === 0 && date.getMinutes() === 0 && date.getSeconds() === 0 && stepMs >= MINUTE)
      return dayAndMonth(ms);
    if (stepMs >= MINUTE) return clockTime(ms, cycle);
    const text = clockTime(ms, cycle, 'second');
    if (stepMs >= SECOND) return text;
    const part = `.${Math.floor((((ms % SECOND) + SECOND) % SECOND) / 100)}`;
    return text.replace(/(\d)( [ap]m)?$/, `$1${part}$2`);
  });
}
