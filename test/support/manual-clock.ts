import type { Clock, Timer } from '../../daemon/clock.ts';

interface Due {
  dueMs: number;
  call: () => void;
}

/** A clock that stands until it is moved on. */
export class ManualClock implements Clock {
  readonly speed = 1;
  #wallMs: number;
  #monotonicMs = 0;
  #timers: Due[] = [];

  constructor(wallMs: number) {
    this.#wallMs = wallMs;
  }

  wallMs(): number {
    return this.#wallMs;
  }

  monotonicMs(): number {
    return this.#monotonicMs;
  }

  after(ms: number, call: () => void): Timer {
    const timer = { dueMs: this.#monotonicMs + ms, call };
    this.#timers.push(timer);
    return { cancel: () => this.#remove(timer) };
  }

  /** Time goes by: every timer that falls due is called, in order and at its own moment. */
  advance(ms: number): void {
    const untilMs = this.#monotonicMs + ms;
    for (;;) {
      // A daemon looks for this and that every second, and tests let days go by: nothing is sorted for each.
      let due: Due | undefined;
      for (const timer of this.#timers) if (due === undefined || timer.dueMs < due.dueMs) due = timer;
      if (due === undefined || due.dueMs > untilMs) break;
      this.#remove(due);
      this.#moveTo(Math.max(this.#monotonicMs, due.dueMs));
      due.call();
    }
    this.#moveTo(untilMs);
  }

  /** Somebody sets the wall clock; no time goes by. */
  setWallBy(ms: number): void {
    this.#wallMs += ms;
  }

  get pendingTimers(): number {
    return this.#timers.length;
  }

  #moveTo(monotonicMs: number): void {
    this.#wallMs += monotonicMs - this.#monotonicMs;
    this.#monotonicMs = monotonicMs;
  }

  #remove(timer: Due): void {
    const at = this.#timers.indexOf(timer);
    if (at >= 0) this.#timers.splice(at, 1);
  }
}
