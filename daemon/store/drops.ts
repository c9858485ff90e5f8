import { LATEST_MS } from '../../shared/wire/time.ts';

/** The action that stands in a site's history where readings of it are not kept any more. */
export const DROP_ACTION = 'readings-dropped';

/** A time, both ends included, epoch ms. */
export interface Span {
  fromMs: number;
  toMs: number;
}

/** The body of that action. */
export interface Drop {
  fromMs: number;
  /** Readings from then on and from before, epoch ms. */
  beforeMs: number;
  /** But not those of an hour with any of these times in it: a batch was under way. */
  kept: readonly Span[];
}

/** What is asked for: all from before a time, but what is to be kept. */
export type WantedDrop = Omit<Drop, 'fromMs'>;

const HOUR_MS = 3_600_000;
const hourOf = (time: number): number => Math.floor(time / HOUR_MS) * HOUR_MS;

/** Null for what is none. */
export function parseDrop(body: string): Drop | null {
  try {
    const { fromMs, beforeMs, kept } = JSON.parse(body) as Drop;
    const times = [fromMs, beforeMs, ...kept.flatMap((span) => [span.fromMs, span.toMs])];
    return times.every((time) => typeof time === 'number') ? { fromMs, beforeMs, kept } : null;
  } catch {
    return null;
  }
}

/** What is left of a wish after what was dropped last; null where that went as far. */
export function dropAfter(last: Drop | null, { beforeMs, kept }: WantedDrop): Drop | null {
  if (last !== null && last.beforeMs >= beforeMs) return null;
  const fromMs = last?.beforeMs ?? -LATEST_MS;
  return { fromMs, beforeMs, kept: kept.filter((span) => touches({ fromMs, beforeMs }, span)) };
}

/** Whether any of a span lies in the hours of a drop. */
const touches = ({ fromMs, beforeMs }: Omit<Drop, 'kept'>, span: Span): boolean =>
  span.toMs >= fromMs - HOUR_MS && span.fromMs < beforeMs;

/** Whether a page of readings, of one hour and the newest of them from `toMs`, may be without its content. */
export const isDropped = (
  { fromMs, beforeMs, kept }: Drop,
  { hourMs, toMs }: { hourMs: number; toMs: number },
): boolean =>
  toMs >= fromMs &&
  toMs < beforeMs &&
  !kept.some((span) => span.fromMs < hourMs + HOUR_MS && span.toMs >= hourMs);

/** The times within which the newest reading of a page that may be dropped lies. */
export function timesDropped({ fromMs, beforeMs, kept }: Drop): Span[] {
  const times: Span[] = [];
  let next = fromMs;
  for (const span of kept.toSorted((a, b) => a.fromMs - b.fromMs)) {
    const toMs = Math.min(hourOf(span.fromMs), beforeMs) - 1;
    if (toMs >= next) times.push({ fromMs: next, toMs });
    next = Math.max(next, hourOf(span.toMs) + HOUR_MS);
  }
  if (beforeMs > next) times.push({ fromMs: next, toMs: beforeMs - 1 });
  return times;
}

/** Whether a drop keeps all of these spans, as far as it reaches. */
export const keepsAll = ({ fromMs, beforeMs, kept }: Drop, spans: readonly Span[]): boolean =>
  spans
    .filter((span) => touches({ fromMs, beforeMs }, span))
    .every((span) => {
      const [from, to] = [Math.max(span.fromMs, fromMs - HOUR_MS), Math.min(span.toMs, beforeMs)];
      return kept.some((one) => one.fromMs <= from && one.toMs >= to);
    });
