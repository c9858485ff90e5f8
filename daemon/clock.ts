/** The one clock of the daemon: wall, monotonic and timers. Everything in the daemon gets its time from here. */
export interface Clock {
  /** Epoch ms; may be set forward or back at any moment. */
  wallMs(): number;
  /** ms since any moment; never goes back. */
  monotonicMs(): number;
  /** Daemon seconds a second of real time: 1 but in a demonstration. */
  readonly speed: number;
  /** Calls back once after `ms` of this clock. */
  after(ms: number, call: () => void): Timer;
}

export interface Timer {
  cancel(): void;
}

/** The machine's own clock, or one that starts now and runs `speed` times as fast. */
export function machineClock(speed = 1): Clock {
  const startWallMs = Date.now();
  const startMs = performance.now();
  const sinceStartMs = () => (performance.now() - startMs) * speed;
  return {
    speed,
    wallMs: speed === 1 ? () => Date.now() : () => startWallMs + sinceStartMs(),
    monotonicMs: sinceStartMs,
    after(ms, call) {
      const handle = setTimeout(call, ms / speed);
      return { cancel: () => clearTimeout(handle) };
    },
  };
}

/** Calls every `ms` of the clock until cancelled. */
export function every(clock: Clock, ms: number, call: () => void): Timer {
  let timer: Timer;
  const next = () => {
    timer = clock.after(ms, () => {
      next();
      call();
    });
  };
  next();
  return { cancel: () => timer.cancel() };
}

/** Wall and monotonic clock apart by more than this: somebody has set the wall clock, ms. */
const STEP_MS = 2000;

/**
 * The time that arrivals are stamped with: wall time carried on by the monotonic clock, so that it
 * never jumps unseen. A step of the wall clock is followed, and told before anything is stamped anew.
 */
export class ArrivalClock {
  readonly #clock: Clock;
  #offsetMs: number;
  #steps = 0;
  #lastStepMs: number | null = null;
  /** Told of a step, ms forward (or back), before the first stamp after it. */
  onStep: (stepMs: number) => void = () => {};

  constructor(clock: Clock) {
    this.#clock = clock;
    this.#offsetMs = clock.wallMs() - clock.monotonicMs();
  }

  nowMs(): number {
    const offsetMs = this.#clock.wallMs() - this.#clock.monotonicMs();
    const stepMs = Math.round(offsetMs - this.#offsetMs);
    if (Math.abs(stepMs) > STEP_MS) {
      this.#offsetMs = offsetMs;
      this.#steps++;
      this.#lastStepMs = stepMs;
      this.onStep(stepMs);
    }
    return Math.floor(this.#clock.monotonicMs() + this.#offsetMs);
  }

  get steps(): { count: number; lastMs: number | null } {
    return { count: this.#steps, lastMs: this.#lastStepMs };
  }
}
