/** Times on the wire: ISO 8601 UTC, or epoch milliseconds. Inside, always epoch milliseconds. */

const ISO_UTC = /^\d{4}-\d{2}-\d{2}T\d{2}:\d{2}:\d{2}(\.\d{1,9})?Z$/;

/** The latest time a JavaScript date can hold, ms. */
export const LATEST_MS = 8.64e15;

/**
 * Epoch milliseconds of an ISO 8601 UTC time with seconds and `Z`, rounded down to the millisecond.
 * Undefined for any other form and for days or hours that do not exist (30 February, 24:00).
 */
export function parseIsoMs(text: string): number | undefined {
  if (!ISO_UTC.test(text)) return undefined;
  const ms = Date.parse(text);
  if (Number.isNaN(ms)) return undefined;
  // Date.parse lets 30 February and 24:00 roll over: the day must come back as it went in.
  const mayRollOver = text.slice(8, 10) > '28' || text.slice(11, 13) === '24';
  return mayRollOver && new Date(ms).toISOString().slice(0, 10) !== text.slice(0, 10) ? undefined : ms;
}

/** Epoch milliseconds of a wire time, or undefined where it is neither ISO 8601 UTC nor a number of ms. */
export function parseWireTimeMs(time: unknown): number | undefined {
  if (typeof time === 'string') return parseIsoMs(time);
  if (typeof time !== 'number' || !(Math.abs(time) <= LATEST_MS)) return undefined;
  return Math.round(time);
}

/** ISO 8601 UTC with milliseconds, the form of every time that goes out. */
export const isoTime = (ms: number): string => new Date(ms).toISOString();
