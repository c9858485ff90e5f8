/** Arithmetic of the live link: when it counts as lost, when to try again, what the daemon's clock says. */

/** Silence after which nothing on the page may be taken for fresh, ms: said within 5 s, with a tick to spare. */
export const LOST_AFTER_MS = 4_400;

const FIRST_RETRY_MS = 500;
const LONGEST_RETRY_MS = 15_000;

/**
 * Wait before the next attempt, ms: doubles from 0.5 s to 15 s, less up to a third at random so that
 * many pages do not come back at once. `random` is from 0 to 1.
 */
export const retryAfterMs = (attempt: number, random: number): number =>
  Math.round(Math.min(LONGEST_RETRY_MS, FIRST_RETRY_MS * 2 ** attempt) * (1 - random / 3));

/** A moment on two clocks: monotonic time can stand still while a machine sleeps, wall time can be set. */
export interface Moment {
  monotonicMs: number;
  wallMs: number;
}

/** Time between two moments, ms: the longer of the two clocks', so that sleep is never missed. */
export const elapsedMs = (from: Moment, to: Moment): number =>
  Math.max(0, to.monotonicMs - from.monotonicMs, to.wallMs - from.wallMs);

export interface Beat {
  daemonMs: number;
  /** Daemon seconds a second. */
  speed: number;
  heard: Moment;
}

/** The daemon's clock at `at`, carried on from its last beat at its own speed, epoch ms. */
export const daemonNowMs = (beat: Beat | undefined, at: Moment): number =>
  beat === undefined ? at.wallMs : beat.daemonMs + elapsedMs(beat.heard, at) * beat.speed;

/** Age up to which a reading is as new as the link lets it be, ms of the daemon's clock. */
export const freshForMs = (speed: number): number => 3_000 * Math.max(1, speed);

/** Age from which a measured value looks old, ms of the daemon's clock; more where its time runs faster. */
export const oldAfterMs = (speed: number): number => Math.max(15_000, LOST_AFTER_MS * speed);
