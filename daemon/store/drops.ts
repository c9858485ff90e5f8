import { z } from 'zod';

/** The action that stands in a site's history where readings of it are not kept any more. */
export const DROP_ACTION = 'readings-dropped';

const dropSchema = z.object({
  /** Readings from before, epoch ms. */
  beforeMs: z.number(),
  /** But not those of an hour with any of these times in it, both ends included: a batch was under way. */
  kept: z.array(z.object({ fromMs: z.number(), toMs: z.number() })),
});

/** The body of that action. */
export type Drop = z.infer<typeof dropSchema>;

const HOUR_MS = 3_600_000;
const hourOf = (ms: number): number => Math.floor(ms / HOUR_MS) * HOUR_MS;
/** The last instant of JavaScript. */
const END_OF_TIME_MS = 8.64e15;

/** Whether a page of readings, of one hour and the newest of them from `toMs`, may be without its content. */
export const isDropped = (
  { beforeMs, kept }: Drop,
  { hourMs, toMs }: { hourMs: number; toMs: number },
): boolean => toMs < beforeMs && !kept.some((span) => span.fromMs < hourMs + HOUR_MS && span.toMs >= hourMs);

/** The times, both ends included, within which the newest reading of a page that may be dropped lies. */
export function timesDropped({ beforeMs, kept }: Drop): { fromMs: number; toMs: number }[] {
  const times: { fromMs: number; toMs: number }[] = [];
  let fromMs = -END_OF_TIME_MS;
  for (const span of kept.toSorted((a, b) => a.fromMs - b.fromMs)) {
    const toMs = Math.min(hourOf(span.fromMs), beforeMs) - 1;
    if (toMs >= fromMs) times.push({ fromMs, toMs });
    fromMs = Math.max(fromMs, hourOf(span.toMs) + HOUR_MS);
  }
  if (beforeMs > fromMs) times.push({ fromMs, toMs: beforeMs - 1 });
  return times;
}

/** Null for what is none. */
export function parseDrop(body: string): Drop | null {
  try {
    return dropSchema.parse(JSON.parse(body));
  } catch {
    return null;
  }
}
