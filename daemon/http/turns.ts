/**
 * Lets requests in one a turn of the event loop while there is something to take in: what has come from devices in the
 * meantime is taken in and judged before the next. Without this, many who ask for much at once keep alarms waiting.
 */
export class Turns {
  readonly #waiting: (() => void)[] = [];
  readonly #isBusy: () => boolean;

  /** `isBusy` says whether there is something to take in. */
  constructor(isBusy: () => boolean) {
    this.#isBusy = isBusy;
  }

  /** Resolves when it is the turn of whoever calls. */
  async next(): Promise<void> {
    if (this.#waiting.length === 0 && !this.#isBusy()) return;
    await new Promise<void>((resolve) => {
      this.#waiting.push(resolve);
      if (this.#waiting.length === 1) setImmediate(() => this.#letIn());
    });
  }

  #letIn(): void {
    this.#waiting.shift()?.();
    // Not before what the sockets have brought until then: this is for the turn after.
    if (this.#waiting.length > 0) setImmediate(() => this.#letIn());
  }
}
