/** Which stretch of time a chart shows. */

const MINUTE = 60_000;

export const SPANS_MS = [15 * MINUTE, 60 * MINUTE, 360 * MINUTE, 1440 * MINUTE] as const;
export type SpanMs = (typeof SPANS_MS)[number];

/** `endMs` null follows the clock; otherwise the view stands still on history. */
export interface View {
  spanMs: SpanMs;
  endMs: number | null;
}

export interface Window {
  fromMs: number;
  toMs: number;
}

export function windowOf(view: View, nowMs: number): Window {
  const toMs = view.endMs ?? nowMs;
  return { fromMs: toMs - view.spanMs, toMs };
}

/** One step back into history: half a view, so that the eye finds its place again. */
export const back = (view: View, nowMs: number): View => ({
  ...view,
  endMs: (view.endMs ?? nowMs) - view.spanMs / 2,
});

/** One step forward; a step that comes near the present, which moved on meanwhile, follows the clock again. */
export function forward(view: View, nowMs: number): View {
  if (view.endMs === null) return view;
  const endMs = view.endMs + view.spanMs / 2;
  return { ...view, endMs: endMs > nowMs - view.spanMs / 4 ? null : endMs };
}

/** Another span with the same end. */
export const withSpan = (view: View, spanMs: SpanMs): View => ({ ...view, spanMs });
