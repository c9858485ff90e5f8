/** A value that was read, with all that tells it from any other. */
export interface Reading {
  /** `VESSEL/CHANNEL`: the site is the probe's. */
  to: string;
  /** In the channel's unit. */
  value: number;
  /** Epoch ms. */
  atMs: number;
  /** Rises by one with each reading of `to`; see `numbers.ts`. */
  seq: number;
}

/** What tells of trouble and of its end, for a person. */
export interface Log {
  info(text: string): void;
  warn(text: string): void;
}
