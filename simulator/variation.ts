import { seededRandom } from './random.ts';

/**
 * How one run of a story differs from another: a number from −`spread` to `spread`, the same for the same
 * name. Each name has a stream of its own, so that one more thing that varies leaves the others as they are.
 */
export type Vary = (name: string, spread: number) => number;

/** The story just as it is written. */
export const asWritten: Vary = () => 0;

export const variedBy =
  (seed: number): Vary =>
  (name, spread) =>
    (2 * seededRandom(seed, `story/${name}`)() - 1) * spread;
