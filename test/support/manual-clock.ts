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
      const [due] = this.#timers.filter(({ dueMs }) => dueMs <= untilMs).sort((a, b) => a.dueMs - b.dueMs);
      if (due === undefined) break;
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
    this.#timers = this.#timers.filter((other) => other !== timer);
  }
}
