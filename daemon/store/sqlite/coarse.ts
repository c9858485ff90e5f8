/** What a line over a long time is drawn from: all readings of one step, `fromMs` ≤ at < `fromMs` + step. */
export interface CoarseStep {
  fromMs: number;
  count: number;
  /** Of the values, so that means of several steps can be put together. */
  sum: number;
  least: number;
  most: number;
}

/** The steps that hold readings, ascending, aligned to whole multiples of their length since the epoch. */
export function coarseOf(
  readings: { readonly atMs: ArrayLike<number>; readonly value: ArrayLike<number> },
  stepMs: number,
): CoarseStep[] {
  const steps = new Map<number, CoarseStep>();
  for (let i = 0; i < readings.atMs.length; i++) {
    const fromMs = Math.floor(readings.atMs[i]! / stepMs) * stepMs;
    const value = readings.value[i]!;
    const step = steps.get(fromMs);
    if (step === undefined) {
      steps.set(fromMs, { fromMs, count: 1, sum: value, least: value, most: value });
      continue;
    }
    step.count++;
    step.sum += value;
    step.least = Math.min(step.least, value);
    step.most = Math.max(step.most, value);
  }
  return [...steps.values()].sort((a, b) => a.fromMs - b.fromMs);
}
