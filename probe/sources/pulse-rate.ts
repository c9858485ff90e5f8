import type { ProbeClock } from '../clock.ts';
import type { Measured } from './source.ts';

/** From counts to so many a minute. */
export class PulseRate {
  readonly #clock: ProbeClock;
  readonly #pulsesPerUnit: number;
  #before: { count: number; monotonicMs: number } | null = null;

  /** @param pulsesPerUnit pulses a revolution (1/min comes out) or a litre (L/min) */
  constructor(clock: ProbeClock, pulsesPerUnit: number) {
    this.#clock = clock;
    this.#pulsesPerUnit = pulsesPerUnit;
  }

  /**
   * Units a minute since the last look; null at the first one, and where the count has gone back by something else than
   * a turn-over at `ceiling`: the counter was reset.
   */
  look(count: number, ceiling: number | undefined): Measured | null {
    const before = this.#before;
    const monotonicMs = this.#clock.monotonicMs();
    this.#before = { count, monotonicMs };
    if (before === null || monotonicMs <= before.monotonicMs) return null;
    let pulses = count - before.count;
    if (pulses < 0) {
      // From the upper half to the lower one: it turned over.
      if (ceiling === undefined || before.count < ceiling / 2 || count >= ceiling / 2) return null;
      pulses += ceiling + 1;
    }
    const minutes = (monotonicMs - before.monotonicMs) / 60_000;
    return { value: pulses / this.#pulsesPerUnit / minutes, ageMs: 0 };
  }
}
