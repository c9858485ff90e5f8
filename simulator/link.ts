import type { Random } from './random.ts';

/** What a device's way to the broker does to its readings. */
export interface LinkQuality {
  /** Times an hour that everything is lost for up to `longestDropoutS`. */
  dropoutsPerHour: number;
  longestDropoutS: number;
  /** Part of the readings that are lost one by one. */
  lostShare: number;
  /** Part that comes late, by up to `mostLateS`, behind newer ones. */
  lateShare: number;
  mostLateS: number;
  /** Part that is sent twice. */
  twiceShare: number;
  /** How far the device's clock is ahead, s; negative is behind. */
  clockAheadS: number;
}

export const PERFECT_LINK: LinkQuality = {
  dropoutsPerHour: 0,
  longestDropoutS: 0,
  lostShare: 0,
  lateShare: 0,
  mostLateS: 0,
  twiceShare: 0,
  clockAheadS: 0,
};

/** What a small radio device in a shed has every day. Chosen. */
export const ORDINARY_LINK: LinkQuality = {
  ...PERFECT_LINK,
  dropoutsPerHour: 0.5,
  longestDropoutS: 10,
  lostShare: 0.001,
};

/**
 * A device that has just begun to send at another pace is not cut off as well for so long: nobody could
 * tell its silence from the slower pace.
 */
const STEADY_AFTER_PACE_MS = 5 * 60_000;
/** Two dropouts nearer than this would be one longer one, ms. */
const BETWEEN_DROPOUTS_MS = 60_000;

/** One device's link over a run, asked in order of time. */
export class Link {
  #lostUntilMs = Number.NEGATIVE_INFINITY;
  #nextDropoutMs: number;
  #steadyUntilMs = Number.NEGATIVE_INFINITY;
  readonly #quality: LinkQuality;
  readonly #random: Random;

  constructor(quality: LinkQuality, random: Random) {
    this.#quality = quality;
    this.#random = random;
    this.#nextDropoutMs = this.#untilDropoutMs();
  }

  get clockAheadMs(): number {
    return this.#quality.clockAheadS * 1000;
  }

  paceChanges(nowMs: number): void {
    this.#steadyUntilMs = nowMs + STEADY_AFTER_PACE_MS;
  }

  /** How long after now a reading reaches the broker, ms, for each time that it does: none where it is lost. */
  delays(nowMs: number): readonly number[] {
    const { lostShare, lateShare, mostLateS, twiceShare } = this.#quality;
    if (this.#isCutOff(nowMs)) return LOST;
    if (lostShare > 0 && this.#random() < lostShare && nowMs >= this.#steadyUntilMs) return LOST;
    const delayMs = lateShare > 0 && this.#random() < lateShare ? this.#lateMs(mostLateS) : 0;
    if (twiceShare > 0 && this.#random() < twiceShare) return [delayMs, delayMs + this.#lateMs(mostLateS)];
    return delayMs === 0 ? AT_ONCE : [delayMs];
  }

  #isCutOff(nowMs: number): boolean {
    while (this.#nextDropoutMs <= nowMs) {
      const lengthMs = this.#random() * this.#quality.longestDropoutS * 1000;
      if (this.#nextDropoutMs >= this.#steadyUntilMs) this.#lostUntilMs = this.#nextDropoutMs + lengthMs;
      this.#nextDropoutMs += lengthMs + this.#untilDropoutMs();
    }
    return nowMs < this.#lostUntilMs;
  }

  /** Dropouts come without memory, so the waits between them are spread exponentially beyond the least. */
  #untilDropoutMs(): number {
    const { dropoutsPerHour } = this.#quality;
    if (dropoutsPerHour === 0) return Number.POSITIVE_INFINITY;
    return BETWEEN_DROPOUTS_MS - (Math.log(1 - this.#random()) * 3_600_000) / dropoutsPerHour;
  }

  #lateMs(mostS: number): number {
    return Math.ceil(this.#random() * mostS * 1000);
  }
}

const LOST: readonly number[] = [];
const AT_ONCE: readonly number[] = [0];
