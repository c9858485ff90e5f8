import { describe, expect, it } from 'vitest';
import { daemonNowMs, elapsedMs, LOST_AFTER_MS, oldAfterMs, retryAfterMs } from '../../dashboard/link.ts';

const at = (monotonicMs: number, wallMs: number) => ({ monotonicMs, wallMs });

describe('the live link', () => {
  it('says within 5 s that it is lost', () => {
    expect(LOST_AFTER_MS).toBeLessThan(5_000);
  });

  it('tries again ever later, within 15 s, and not at once with all others', () => {
    expect(retryAfterMs(0, 0)).toBe(500);
    expect(retryAfterMs(3, 0)).toBe(4_000);
    expect(retryAfterMs(50, 0)).toBe(15_000);
    expect(retryAfterMs(50, 1)).toBe(10_000);
  });

  it('misses no sleep, in which monotonic time may stand still', () => {
    expect(elapsedMs(at(100, 1_000), at(200, 61_000))).toBe(60_000);
    expect(elapsedMs(at(100, 1_000), at(7_100, 1_500))).toBe(7_000);
    expect(elapsedMs(at(100, 1_000), at(200, -50_000))).toBe(100);
  });

  it('carries the daemon’s clock on at its own speed', () => {
    const beat = { daemonMs: 5_000_000, speed: 30, heard: at(0, 900) };
    expect(daemonNowMs(beat, at(2_000, 2_900))).toBe(5_060_000);
    expect(daemonNowMs(undefined, at(2_000, 2_900))).toBe(2_900);
  });

  it('calls a reading old after 15 s, later only where time runs faster', () => {
    expect(oldAfterMs(1)).toBe(15_000);
    expect(oldAfterMs(60)).toBeGreaterThan(60 * 2_000);
  });
});
