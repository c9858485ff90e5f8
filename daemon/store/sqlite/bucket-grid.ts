const SECOND_MS = 1000;
const MINUTE_MS = 60 * SECOND_MS;
const HOUR_MS = 60 * MINUTE_MS;
const DAY_MS = 24 * HOUR_MS;

/** Bucket lengths that a person can read off a time axis, ms, ascending. Longer ones double the last. */
const STEPS_MS: readonly number[] = [
  ...[0.1, 0.2, 0.5, 1, 2, 5, 10, 15, 20, 30].map((seconds) => seconds * SECOND_MS),
  ...[1, 2, 5, 10, 15, 30].map((minutes) => minutes * MINUTE_MS),
  ...[1, 2, 3, 6, 12].map((hours) => hours * HOUR_MS),
  ...[1, 2, 7, 14, 30].map((days) => days * DAY_MS),
];

/** Buckets of `stepMs`, the first of which begins at `originMs`. */
export interface BucketGrid {
  originMs: number;
  stepMs: number;
}

/**
 * The finest buckets, aligned to whole multiples of their length since the epoch, of which at most
 * `points` (≥ 1) cover `fromMs` … `toMs`, both included. A single bucket is the range itself, since an
 * aligned one may not cover it at any length.
 */
export function bucketGrid(fromMs: number, toMs: number, points: number): BucketGrid {
  if (points === 1) return { originMs: fromMs, stepMs: toMs - fromMs + 1 };
  const fits = (stepMs: number): boolean => Math.floor(toMs / stepMs) - Math.floor(fromMs / stepMs) < points;
  let stepMs = STEPS_MS.find(fits) ?? STEPS_MS.at(-1)!;
  while (!fits(stepMs)) stepMs *= 2;
  return { originMs: Math.floor(fromMs / stepMs) * stepMs, stepMs };
}
