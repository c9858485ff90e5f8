/** A stream of numbers in [0, 1), the same for the same seed. */
export type Random = () => number;

/**
 * Seeded stream: mulberry32 by Tommy Ettinger (public domain). Fast and even enough for sensor noise,
 * not for secrets. `name` gives each user of a seed a stream of its own, so that one more sensor does not
 * change what the others read.
 */
export function seededRandom(seed: number, name: string): Random {
  let state = hash(`${seed}/${name}`);
  return () => {
    state = (state + 0x6d2b79f5) | 0;
    let mixed = Math.imul(state ^ (state >>> 15), 1 | state);
    mixed = (mixed + Math.imul(mixed ^ (mixed >>> 7), 61 | mixed)) ^ mixed;
    return ((mixed ^ (mixed >>> 14)) >>> 0) / 4294967296;
  };
}

/** A number of the normal distribution with mean 0 and standard deviation 1 (Box and Muller 1958). */
export const gaussian = (random: Random): number =>
  Math.sqrt(-2 * Math.log(1 - random())) * Math.cos(2 * Math.PI * random());

/** FNV-1a, 32 bits. */
function hash(text: string): number {
  let value = 0x811c9dc5;
  for (let i = 0; i < text.length; i++) value = Math.imul(value ^ text.charCodeAt(i), 0x01000193);
  return value;
}
