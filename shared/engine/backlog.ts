import { type HeldReading, type SiteState, vesselNamed } from './state.ts';

/**
 * What devices kept while the link was down comes as one array a channel. Judged as it arrives, one channel
 * would be through before the next begins, and what takes two of them would not be seen. So from the first
 * reading of a backlog on, all readings of the site are held for a moment, and judged in the order of their
 * times. Ours, no source.
 */

/** A reading that lags behind its arrival by so much more than its channel does is of a backlog, ms. */
const LAGS_BY_MS = 60_000;
/** Held until no more of it has come for so long, but no longer than the most, ms by arrival. */
const QUIET_MS = 1000;
const LONGEST_MS = 10_000;
const MOST_HELD = 100_000;

/** Whether a reading is the first of a backlog; one that only completes the past is none. */
function isBacklog(site: SiteState, reading: HeldReading): boolean {
  if (reading.typed || reading.stamped) return false;
  const lagMs = reading.arrivedMs - reading.atMs;
  if (lagMs <= LAGS_BY_MS) return false;
  const vessel = vesselNamed(site, reading.vessel);
  if (vessel === undefined) return false;
  if (!Object.hasOwn(vessel.channels, reading.channel)) return true;
  const { newest, newestAtMs } = vessel.channels[reading.channel]!;
  // A device whose clock is behind lags all the time.
  return reading.atMs > newestAtMs && lagMs - (newest.arrivedMs - newest.atMs) > LAGS_BY_MS;
}

/** Holds a reading back, if that is to be done; `dueMs` says when the next thing falls due by the clock. */
export function holdBack(site: SiteState, reading: HeldReading, dueMs: () => number): boolean {
  const starts = isBacklog(site, reading);
  if (site.held === null) {
    if (!starts) return false;
    const untilMs = Math.min(site.nowMs + LONGEST_MS, dueMs());
    site.held = { readings: [], quietFromMs: site.nowMs, untilMs };
  }
  site.held.readings.push(reading);
  if (starts) site.held.quietFromMs = site.nowMs;
  return true;
}

/** Whether what is held is to be judged by now. */
export const isHeldLongEnough = ({ held }: SiteState, nowMs: number): boolean =>
  held !== null &&
  (nowMs >= Math.min(held.quietFromMs + QUIET_MS, held.untilMs) || held.readings.length >= MOST_HELD);

/** What was held, in the order of its times; it is held no longer. */
export function takeHeld(site: SiteState): HeldReading[] {
  const readings = site.held?.readings ?? [];
  site.held = null;
  return readings.sort((a, b) => a.atMs - b.atMs);
}
