/** Which stretch of time charts show, and how keys, wheel and fingers change it. Pure; times are epoch ms. */

const SECOND = 1000;
const MINUTE = 60 * SECOND;
const HOUR = 60 * MINUTE;
const DAY = 24 * HOUR;

/** `endMs` null follows the clock; otherwise the view stands still. */
export interface View {
  spanMs: number;
  endMs: number | null;
}

export interface Window {
  fromMs: number;
  toMs: number;
}

/** What a vessel's own page offers, and what its history does. */
export const SHORT_SPANS_MS = [15 * MINUTE, HOUR, 6 * HOUR, DAY] as const;
export const LONG_SPANS_MS = [HOUR, DAY, 7 * DAY, 30 * DAY, 365 * DAY] as const;

/** Shorter shows nothing but single readings, longer has no meaning: ten years. */
export const LEAST_SPAN_MS = 2 * SECOND;
export const MOST_SPAN_MS = 10 * 365 * DAY;

/** An end this near the present, as a share of the span, follows the clock. */
const NEAR_NOW = 0.02;

export function windowOf(view: View, nowMs: number): Window {
  const toMs = view.endMs ?? nowMs;
  return { fromMs: toMs - view.spanMs, toMs };
}

export const clampSpan = (spanMs: number): number => Math.min(MOST_SPAN_MS, Math.max(LEAST_SPAN_MS, spanMs));

/** The view of a stretch of time: never beyond the present, and following the clock where it comes up to it. */
export function viewOf({ fromMs, toMs }: Window, nowMs: number): View {
  const spanMs = clampSpan(toMs - fromMs);
  return { spanMs, endMs: toMs >= nowMs - spanMs * NEAR_NOW ? null : toMs };
}

/** The view of a stretch that was named: an end beyond the present is clipped, its start kept. None wholly beyond it. */
export function viewOfRange({ fromMs, toMs }: Window, nowMs: number): View | undefined {
  if (fromMs >= nowMs) return undefined;
  return toMs >= nowMs
    ? { spanMs: clampSpan(nowMs - fromMs), endMs: null }
    : { spanMs: clampSpan(toMs - fromMs), endMs: toMs };
}

/** Zooms by a factor (below 1: nearer) so that the moment at `anchor`, a share of the width, stays where it is. */
export function zoomed(view: View, factor: number, anchor: number, nowMs: number): View {
  const { fromMs, toMs } = windowOf(view, nowMs);
  const spanMs = clampSpan((toMs - fromMs) * factor);
  // What follows the clock keeps following it where the eye is at its end.
  if (view.endMs === null && anchor > 1 - NEAR_NOW) return { spanMs, endMs: null };
  const anchorMs = fromMs + (toMs - fromMs) * anchor;
  const from = anchorMs - spanMs * anchor;
  return viewOf({ fromMs: from, toMs: from + spanMs }, nowMs);
}

/** Moves by a share of what is shown: below 0 into the past. */
export function panned(view: View, share: number, nowMs: number): View {
  const { toMs } = windowOf(view, nowMs);
  if (share === 0) return view;
  const endMs = toMs + view.spanMs * share;
  if (share < 0) return { ...view, endMs: Math.min(endMs, nowMs) };
  return endMs >= nowMs - view.spanMs * NEAR_NOW ? { ...view, endMs: null } : { ...view, endMs };
}

/** Another span with the same end. */
export const withSpan = (view: View, spanMs: number): View => ({ ...view, spanMs: clampSpan(spanMs) });

/** Two fingers at `x0` and `x1`, shares of the width, that were over the moments `t0` and `t1`. */
export function pinched(
  fingers: { x0: number; t0: number; x1: number; t1: number },
  view: View,
  nowMs: number,
): View {
  const { x0, t0, x1, t1 } = fingers;
  if (Math.abs(x1 - x0) < 0.01 || t0 === t1 || (x1 - x0) * (t1 - t0) < 0) return view;
  const spanMs = clampSpan((t1 - t0) / (x1 - x0));
  const middle = (x0 + x1) / 2;
  const fromMs = (t0 + t1) / 2 - spanMs * middle;
  return viewOf({ fromMs, toMs: fromMs + spanMs }, nowMs);
}

const KEY_PAN = 0.25;
const KEY_ZOOM = 0.5;

/** What a key does to the view; undefined where it is none of ours. `earliestMs`: where Home goes to. */
export function keyed(key: string, view: View, nowMs: number, earliestMs: number): View | undefined {
  switch (key) {
    case 'ArrowLeft':
      return panned(view, -KEY_PAN, nowMs);
    case 'ArrowRight':
      return panned(view, KEY_PAN, nowMs);
    case '+':
    case '=':
      return zoomed(view, KEY_ZOOM, view.endMs === null ? 1 : 0.5, nowMs);
    case '-':
    case '−':
    case '_':
      return zoomed(view, 1 / KEY_ZOOM, view.endMs === null ? 1 : 0.5, nowMs);
    case 'Home':
      return viewOf({ fromMs: earliestMs, toMs: earliestMs + view.spanMs }, nowMs);
    case 'End':
      return { ...view, endMs: null };
    default:
      return undefined;
  }
}

// ---- time and pixels ----

/** Where a moment lies, as a share of the width; below 0 and above 1 outside. */
export const shareOf = (ms: number, { fromMs, toMs }: Window): number => (ms - fromMs) / (toMs - fromMs);

export const momentAt = (share: number, { fromMs, toMs }: Window): number => fromMs + share * (toMs - fromMs);

/** Where one pixel is hours, the present still moves so often. */
const LONGEST_STEP_MS = 10 * SECOND;

/** The present, in steps of what one pixel shows: what is drawn need not move more often. */
export function steppedNow(nowMs: number, spanMs: number, width: number): number {
  const step = Math.min(LONGEST_STEP_MS, Math.max(100, Math.floor(spanMs / Math.max(1, width))));
  return Math.ceil(nowMs / step) * step;
}

// ---- what is to be fetched ----

/** What was fetched: `open` where live readings have been added to its end since. */
export interface Fetched extends Window {
  stepMs: number;
  open: boolean;
}

/** A request for readings: `raw` for single ones. */
export interface Wanted extends Window {
  points: number | 'raw';
}

/** Up to so many milliseconds a pixel single readings are asked for: about one each at the usual 1 Hz. */
const RAW_MS_PER_POINT = 1000;
/** Fetched to each side of the view, as a share of it: what a drag shows at once. */
const MARGIN = 0.5;
const MOST_POINTS = 2400;

/**
 * What must be fetched so that a view is sharp; null where what is there does. With `margin` a stretch to each side is
 * fetched too, so that a drag finds something.
 */
export function wantedFor(
  view: Window,
  have: Fetched | undefined,
  { width, nowMs, margin }: { width: number; nowMs: number; margin: boolean },
): Wanted | null {
  const span = view.toMs - view.fromMs;
  const points = Math.min(MOST_POINTS / 2, Math.max(100, Math.round(width)));
  const perPoint = span / points;
  const isRaw = perPoint <= RAW_MS_PER_POINT;
  if (have !== undefined) {
    const covers =
      have.fromMs <= Math.max(0, view.fromMs) && (have.open || have.toMs >= Math.min(view.toMs, nowMs));
    // Steps are whole seconds, minutes, hours: up to three and a half times what was asked for.
    const isSharp = have.stepMs === 0 || (!isRaw && have.stepMs <= perPoint * 4);
    const isSparse = isRaw ? have.stepMs === 0 : have.stepMs >= perPoint / 4;
    if (covers && isSharp && isSparse) return null;
  }
  const aside = margin ? span * MARGIN : 0;
  const fromMs = Math.max(0, Math.floor(view.fromMs - aside));
  const toMs = Math.max(fromMs, Math.ceil(Math.min(view.toMs + aside, Math.max(nowMs, view.toMs))));
  const share = (toMs - fromMs) / span;
  return { fromMs, toMs, points: isRaw ? 'raw' : Math.ceil(points * Math.max(1, share)) };
}

// ---- ranges in addresses and forms ----

/** The view that an address tells of; undefined where it tells of none. */
export function viewFromQuery(query: URLSearchParams, nowMs: number): View | undefined {
  const from = timeFrom(query.get('from'));
  const to = timeFrom(query.get('to'));
  if (from !== undefined && to !== undefined && to > from)
    return viewOfRange({ fromMs: from, toMs: to }, nowMs);
  const last = Number(query.get('last'));
  return Number.isFinite(last) && last > 0 ? { spanMs: clampSpan(last * SECOND), endMs: null } : undefined;
}

/** What stands in an address for a view: fixed ends, or so many seconds before the present. */
export function queryOfView(view: View): Record<string, string> {
  if (view.endMs === null) return { last: String(Math.round(view.spanMs / SECOND)) };
  const at = (ms: number): string => new Date(Math.round(ms)).toISOString();
  return { from: at(view.endMs - view.spanMs), to: at(view.endMs) };
}

function timeFrom(text: string | null): number | undefined {
  if (text === null || text.trim() === '') return undefined;
  const ms = /^\d+$/.test(text) ? Number(text) : Date.parse(text);
  return Number.isFinite(ms) && ms >= 0 && ms < 8.64e15 ? ms : undefined;
}
