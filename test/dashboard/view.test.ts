import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import {
  type Fetched,
  keyed,
  LEAST_SPAN_MS,
  MOST_SPAN_MS,
  momentAt,
  panned,
  pinched,
  queryOfView,
  shareOf,
  steppedNow,
  type View,
  viewFromQuery,
  viewOf,
  viewOfRange,
  wantedFor,
  windowOf,
  withSpan,
  zoomed,
} from '../../dashboard/chart/view.ts';

const NOW = Date.UTC(2026, 2, 2, 12);
const HOUR = 3_600_000;

const spans = fc.integer({ min: 10_000, max: 365 * 24 * HOUR });
const views: fc.Arbitrary<View> = fc.oneof(
  spans.map((spanMs) => ({ spanMs, endMs: null })),
  fc.record({ spanMs: spans, endMs: fc.integer({ min: NOW - 1000 * 24 * HOUR, max: NOW }) }),
);
const shares = fc.double({ min: 0, max: 1, noNaN: true });

describe('pixels and moments', () => {
  it('lead back to each other', () => {
    fc.assert(
      fc.property(views, shares, (view, share) => {
        const window = windowOf(view, NOW);
        expect(shareOf(momentAt(share, window), window)).toBeCloseTo(share, 6);
      }),
    );
  });

  it('the present is never behind, and moves a pixel at a time, or ten seconds', () => {
    fc.assert(
      fc.property(
        spans,
        fc.integer({ min: 200, max: 4000 }),
        fc.integer({ min: 0, max: 1e7 }),
        (span, width, ms) => {
          const shown = steppedNow(NOW + ms, span, width);
          expect(shown).toBeGreaterThanOrEqual(NOW + ms);
          expect(shown - (NOW + ms)).toBeLessThan(Math.min(10_000, Math.max(100, span / width)) + 1);
        },
      ),
    );
  });
});

describe('zooming', () => {
  it('keeps the moment under the pointer where it is, until the present stands at the end', () => {
    fc.assert(
      fc.property(views, fc.double({ min: 0.1, max: 10, noNaN: true }), shares, (view, factor, anchor) => {
        const before = windowOf(view, NOW);
        const after = windowOf(zoomed(view, factor, anchor, NOW), NOW);
        fc.pre(after.toMs < NOW);
        const moved = Math.abs(momentAt(anchor, after) - momentAt(anchor, before));
        expect(moved).toBeLessThan(1e-6 * (before.toMs - before.fromMs) + 1);
      }),
    );
  });

  it('never shows the future, nor less than two seconds, nor more than ten years', () => {
    fc.assert(
      fc.property(views, fc.double({ min: 1e-9, max: 1e9, noNaN: true }), shares, (view, factor, anchor) => {
        const next = zoomed(view, factor, anchor, NOW);
        expect(windowOf(next, NOW).toMs).toBeLessThanOrEqual(NOW);
        expect(next.spanMs).toBeGreaterThanOrEqual(LEAST_SPAN_MS);
        expect(next.spanMs).toBeLessThanOrEqual(MOST_SPAN_MS);
      }),
    );
  });

  it('at the end of what follows the clock follows it still', () => {
    expect(zoomed({ spanMs: HOUR, endMs: null }, 0.5, 1, NOW)).toEqual({ spanMs: HOUR / 2, endMs: null });
    expect(zoomed({ spanMs: HOUR, endMs: null }, 0.5, 0.5, NOW)).toEqual({
      spanMs: HOUR / 2,
      endMs: NOW - HOUR / 4,
    });
  });

  it('with two fingers keeps both moments under them', () => {
    const view = { spanMs: HOUR, endMs: NOW - 10 * HOUR };
    const { fromMs } = windowOf(view, NOW);
    const t0 = fromMs + HOUR * 0.4;
    const t1 = fromMs + HOUR * 0.6;
    const window = windowOf(pinched({ x0: 0.1, t0, x1: 0.9, t1 }, view, NOW), NOW);
    expect(momentAt(0.1, window)).toBeCloseTo(t0, 0);
    expect(momentAt(0.9, window)).toBeCloseTo(t1, 0);
    expect(pinched({ x0: 0.5, t0, x1: 0.5, t1 }, view, NOW)).toBe(view);
    expect(pinched({ x0: 0.9, t0, x1: 0.1, t1 }, view, NOW)).toBe(view);
  });
});

describe('moving', () => {
  it('back and forth is where it was, and forward ends at the clock', () => {
    const view = { spanMs: HOUR, endMs: NOW - 5 * HOUR };
    expect(panned(panned(view, -0.25, NOW), 0.25, NOW)).toEqual(view);
    expect(panned({ spanMs: HOUR, endMs: null }, -0.5, NOW)).toEqual({ spanMs: HOUR, endMs: NOW - HOUR / 2 });
    expect(panned(view, 100, NOW)).toEqual({ spanMs: HOUR, endMs: null });
  });

  it('another span ends where the last one did', () => {
    expect(withSpan({ spanMs: HOUR, endMs: NOW - HOUR }, 2 * HOUR)).toEqual({
      spanMs: 2 * HOUR,
      endMs: NOW - HOUR,
    });
  });

  it('by keys', () => {
    const view = { spanMs: HOUR, endMs: NOW - 5 * HOUR };
    const pressed = (key: string) => keyed(key, view, NOW, NOW - 100 * HOUR);
    expect(pressed('ArrowLeft')).toEqual({ spanMs: HOUR, endMs: NOW - 5.25 * HOUR });
    expect(pressed('ArrowRight')).toEqual({ spanMs: HOUR, endMs: NOW - 4.75 * HOUR });
    expect(pressed('+')).toEqual({ spanMs: HOUR / 2, endMs: NOW - 5.25 * HOUR });
    expect(pressed('-')).toEqual({ spanMs: 2 * HOUR, endMs: NOW - 4.5 * HOUR });
    expect(pressed('Home')).toEqual({ spanMs: HOUR, endMs: NOW - 99 * HOUR });
    expect(pressed('End')).toEqual({ spanMs: HOUR, endMs: null });
    expect(pressed('a')).toBeUndefined();
  });
});

describe('an address', () => {
  it('gives back the view that it was made of', () => {
    fc.assert(
      fc.property(views, (view) => {
        const back = viewFromQuery(new URLSearchParams(queryOfView(view)), NOW)!;
        if (view.endMs === null)
          expect(back).toEqual({ spanMs: Math.round(view.spanMs / 1000) * 1000, endMs: null });
        else expect(back).toEqual({ spanMs: view.spanMs, endMs: view.endMs >= NOW ? null : view.endMs });
      }),
    );
  });

  it('or a range that ends beyond now keeps its start', () => {
    const range = { fromMs: NOW - HOUR, toMs: NOW + 5 * HOUR };
    expect(viewOfRange(range, NOW)).toEqual({ spanMs: HOUR, endMs: null });
    const query = new URLSearchParams({ from: String(range.fromMs), to: String(range.toMs) });
    expect(viewFromQuery(query, NOW)).toEqual({ spanMs: HOUR, endMs: null });
    expect(viewOfRange({ fromMs: NOW - HOUR, toMs: NOW - 1 }, NOW)).toEqual({
      spanMs: HOUR - 1,
      endMs: NOW - 1,
    });
    expect(viewOfRange({ fromMs: NOW + 1, toMs: NOW + HOUR }, NOW)).toBeUndefined();
  });

  it('takes times as epoch ms too, and nothing that is no range', () => {
    const of = (query: string) => viewFromQuery(new URLSearchParams(query), NOW);
    expect(of(`from=${NOW - HOUR}&to=${NOW - 1000}`)).toEqual({ spanMs: HOUR - 1000, endMs: NOW - 1000 });
    for (const bad of ['', 'from=1', `from=${NOW}&to=${NOW}`, 'from=x&to=y', 'last=-1', 'last=x', 'last=0'])
      expect(of(bad), bad).toBeUndefined();
  });
});

describe('what is fetched', () => {
  const look = { width: 1000, nowMs: NOW, margin: true };
  const window = { fromMs: NOW - 10 * 24 * HOUR, toMs: NOW - 9 * 24 * HOUR };
  const coming = (have: ReturnType<typeof wantedFor>, stepMs: number, open = false): Fetched => ({
    fromMs: have!.fromMs,
    toMs: have!.toMs,
    stepMs,
    open,
  });

  it('is nothing where it was fetched already, whatever the view', () => {
    fc.assert(
      fc.property(views, fc.integer({ min: 100, max: 2000 }), fc.boolean(), (view, width, margin) => {
        const shown = windowOf(view, NOW);
        const wanted = wantedFor(shown, undefined, { width, nowMs: NOW, margin })!;
        const span = wanted.toMs - wanted.fromMs;
        // The store's steps are up to three and a half times apart.
        for (const coarser of [1, 3.5]) {
          const stepMs = wanted.points === 'raw' ? 0 : (span / wanted.points) * coarser;
          const open = wanted.toMs >= NOW;
          expect(wantedFor(shown, { ...wanted, stepMs, open }, { width, nowMs: NOW, margin })).toBeNull();
        }
      }),
    );
  });

  it('comes with its surroundings, so that a drag finds something, and is sharp', () => {
    const wanted = wantedFor(window, undefined, look)!;
    expect(wanted).toEqual({
      fromMs: window.fromMs - 12 * HOUR,
      toMs: window.toMs + 12 * HOUR,
      points: 2000,
    });
    const dragged = { fromMs: window.fromMs - 6 * HOUR, toMs: window.toMs - 6 * HOUR };
    expect(wantedFor(dragged, coming(wanted, 90_000), look)).toBeNull();
    const away = { fromMs: window.fromMs - 13 * HOUR, toMs: window.toMs - 13 * HOUR };
    expect(wantedFor(away, coming(wanted, 90_000), look)).not.toBeNull();
  });

  it('is finer when zoomed in, coarser when zoomed far out, and single readings where a pixel has one each', () => {
    const have = coming(wantedFor(window, undefined, look), 120_000);
    const near = { fromMs: window.fromMs, toMs: window.fromMs + HOUR };
    expect(wantedFor(near, have, look)?.points).toBe(2000);
    expect(
      wantedFor({ fromMs: NOW - HOUR, toMs: NOW - HOUR / 2 }, have, { ...look, width: 2000 })?.points,
    ).not.toBe('raw');
    expect(wantedFor({ fromMs: window.fromMs, toMs: window.fromMs + HOUR / 4 }, have, look)?.points).toBe(
      'raw',
    );
    const all = { fromMs: window.fromMs - 9 * HOUR, toMs: window.toMs + 9 * HOUR };
    expect(wantedFor(all, { ...have, stepMs: 0 }, look)).not.toBeNull();
  });

  it('does not ask for what is after now, and what live readings are added to has no end', () => {
    const live = { fromMs: NOW - HOUR, toMs: NOW };
    const wanted = wantedFor(live, undefined, look)!;
    expect(wanted.toMs).toBe(NOW);
    const have = coming(wanted, 5000, true);
    expect(wantedFor({ fromMs: NOW, toMs: NOW + HOUR }, have, { ...look, nowMs: NOW + HOUR })).toBeNull();
    expect(
      wantedFor({ fromMs: NOW, toMs: NOW + HOUR }, { ...have, open: false }, { ...look, nowMs: NOW + HOUR }),
    ).not.toBeNull();
  });

  it('a view that comes up to now follows the clock', () => {
    expect(viewOf({ fromMs: NOW - HOUR, toMs: NOW + 5 }, NOW)).toEqual({ spanMs: HOUR + 5, endMs: null });
  });
});
