import { describe, expect, it } from 'vitest';
import { back, forward, SPANS_MS, type View, windowOf, withSpan } from '../../dashboard/chart/window.ts';

const NOW = Date.UTC(2026, 2, 2, 10, 0, 0);
const [QUARTER, HOUR] = SPANS_MS;
const following: View = { spanMs: HOUR, endMs: null };

describe('the stretch of time a chart shows', () => {
  it('follows the clock until one goes back', () => {
    expect(windowOf(following, NOW)).toEqual({ fromMs: NOW - HOUR, toMs: NOW });
    expect(windowOf(following, NOW + 5000).toMs).toBe(NOW + 5000);
    const earlier = back(following, NOW);
    expect(windowOf(earlier, NOW + 5000).toMs).toBe(NOW - HOUR / 2);
  });

  it('overlaps the stretch before by half', () => {
    const earlier = back(back(following, NOW), NOW);
    expect(windowOf(earlier, NOW)).toEqual({ fromMs: NOW - 2 * HOUR, toMs: NOW - HOUR });
  });

  it('comes back to the present by as many steps forward, though the clock went on', () => {
    const later = NOW + 60_000;
    const earlier = back(back(following, NOW), NOW);
    expect(forward(earlier, later).endMs).not.toBeNull();
    expect(forward(forward(earlier, later), later)).toEqual(following);
    expect(forward(following, later)).toEqual(following);
  });

  it('keeps its end where the span changes', () => {
    expect(withSpan({ spanMs: HOUR, endMs: NOW }, QUARTER)).toEqual({ spanMs: QUARTER, endMs: NOW });
  });
});
