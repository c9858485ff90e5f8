import { knownAs, type Sender } from '../broker/sender.ts';
import type { ArrivalClock, Clock } from '../clock.ts';
import type { RefusedList } from '../intake/refused-list.ts';
import type { Access } from './access.ts';

/** Of one name at one address the log is told so often, … */
const SAME_EVERY_MS = 600_000;
/** … and in all so often: whoever connects may make names up, and a device tries again every few seconds. */
const MOST_A_MINUTE = 10;

/** Tells of devices that were not let in: the list of what was refused, and the log. */
export class NotLetIn {
  readonly #access: Pick<Access, 'publishers'>;
  readonly #refused: Pick<RefusedList, 'note'>;
  readonly #arrivals: Pick<ArrivalClock, 'nowMs'>;
  readonly #clock: Pick<Clock, 'monotonicMs'>;
  readonly #warn: (message: string) => void;
  /** When the log was told of whom, the oldest first. */
  readonly #told = new Map<string, number>();

  constructor(parts: {
    access: Pick<Access, 'publishers'>;
    refused: Pick<RefusedList, 'note'>;
    arrivals: Pick<ArrivalClock, 'nowMs'>;
    clock: Pick<Clock, 'monotonicMs'>;
    warn: (message: string) => void;
  }) {
    this.#access = parts.access;
    this.#refused = parts.refused;
    this.#arrivals = parts.arrivals;
    this.#clock = parts.clock;
    this.#warn = parts.warn;
  }

  note(sender: Sender): void {
    const { user } = sender;
    const from = knownAs(sender);
    // Names that are made up would fill the list.
    const isKnown = this.#access.publishers().some((device) => device.name === user);
    const topic = isKnown ? `sign-in of ${user}` : 'sign-in';
    this.#refused.note(topic, 'device-not-let-in', this.#arrivals.nowMs(), from);
    if (!this.#mayTell(`${user} ${sender.address}`)) return;
    const why = isKnown ? 'its password is another' : 'no device of that name is set up';
    this.#warn(
      `not let in: ${from.said}: ${why}; \`esterwatch device add NAME\` sets one up or makes a new password`,
    );
  }

  #mayTell(key: string): boolean {
    const nowMs = this.#clock.monotonicMs();
    for (const [told, ms] of this.#told) if (nowMs - ms >= SAME_EVERY_MS) this.#told.delete(told);
    const lately = [...this.#told.values()].filter((ms) => nowMs - ms < 60_000);
    if (this.#told.has(key) || lately.length >= MOST_A_MINUTE) return false;
    this.#told.set(key, nowMs);
    return true;
  }
}
