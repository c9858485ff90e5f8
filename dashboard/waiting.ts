/** Whole seconds that are left until a moment, on one clock, ms; 0 once it is there. Pure. */
export const secondsLeft = (untilMs: number, nowMs: number): number =>
  Math.max(0, Math.ceil((untilMs - nowMs) / 1000));
