/**
 * The three reversible steps in one pot, integrated. The equations are stiff (the second step is ten
 * times faster than the first), so the method is a Rosenbrock one: Kaps & Rentrop, order 4 with an
 * error estimate of order 3, with the parameters of Shampine 1982 (ACM Trans. Math. Softw. 8:93).
 */

/** What is in the pot, mol for each mol of oil. */
export interface Pot {
  tri: number;
  di: number;
  mono: number;
  glycerol: number;
  ester: number;
  methanol: number;
}

/** Speed of the three steps, for amounts in `Pot`'s unit, each minute; equilibrium constants. */
export interface Steps {
  readonly rates: Vector;
  readonly equilibria: Vector;
}

type Vector = readonly [number, number, number];
const NONE: Vector = [0, 0, 0];

/** Largest error of a step, mol for each mol of oil. */
const TOLERANCE = 1e-5;
/** Less than this is no time, and no step is cut shorter for its error. */
const SHORTEST_MINUTES = 1e-9;

/**
 * Lets the pot react for so many minutes (0 or more), or until there is so much ester; changes it.
 * Returns the minutes that went by.
 */
export function react(
  pot: Pot,
  steps: Steps,
  minutes: number,
  untilEster = Number.POSITIVE_INFINITY,
): number {
  if (pot.ester >= untilEster) return 0;
  let t = 0;
  let h = Math.min(minutes, 0.01);
  while (minutes - t > SHORTEST_MINUTES) {
    const taken = Math.min(h, minutes - t);
    const { done, error } = step(pot, steps, taken);
    if (error > TOLERANCE && taken > SHORTEST_MINUTES) {
      h = taken * Math.max(0.1, 0.9 * (TOLERANCE / error) ** (1 / 3));
      continue;
    }
    if (esterAfter(pot, done) >= untilEster) {
      const last = timeToEster(pot, steps, taken, untilEster);
      advance(pot, step(pot, steps, last).done);
      return t + last;
    }
    advance(pot, done);
    t += taken;
    h = taken * Math.min(4, 0.9 * (TOLERANCE / Math.max(error, 1e-300)) ** 0.25);
  }
  return minutes;
}

/**
 * Ester at which a pot of one mol of oil and so much methanol comes to rest, mol, by bisection: how the
 * four glycerides share themselves out follows from the ratio of methanol to ester.
 */
export function esterAtRest(methanol: number, equilibria: Vector): number {
  let [low, high] = [0, Math.min(3, methanol)];
  for (let i = 0; i < 60; i++) {
    const ester = (low + high) / 2;
    const ratio = (methanol - ester) / ester;
    const di = equilibria[0] * ratio;
    const mono = di * equilibria[1] * ratio;
    const glycerol = mono * equilibria[2] * ratio;
    if ((di + 2 * mono + 3 * glycerol) / (1 + di + mono + glycerol) > ester) low = ester;
    else high = ester;
  }
  return low;
}

/** By bisection: the part of a step after which there is so much ester. */
function timeToEster(pot: Pot, steps: Steps, most: number, ester: number): number {
  let [low, high] = [0, most];
  while (high - low > 1e-4 * high) {
    const middle = (low + high) / 2;
    if (esterAfter(pot, step(pot, steps, middle).done) >= ester) high = middle;
    else low = middle;
  }
  return high;
}

const esterAfter = (pot: Pot, [x1, x2, x3]: Vector): number => pot.ester + x1 + x2 + x3;

/** Carries each step on by so many mol. */
function advance(pot: Pot, [x1, x2, x3]: Vector): void {
  pot.tri -= x1;
  pot.di += x1 - x2;
  pot.mono += x2 - x3;
  pot.glycerol += x3;
  pot.ester += x1 + x2 + x3;
  pot.methanol -= x1 + x2 + x3;
}

/** How far each of the three reactions goes in `h` minutes, mol, and the error of that. */
function step(pot: Pot, steps: Steps, h: number): { done: Vector; error: number } {
  const inverse = invert(pot, steps, 1 / (0.5 * h));
  const g1 = times(inverse, speeds(pot, steps, NONE));
  const f2 = speeds(pot, steps, sum(2, g1));
  const g2 = times(inverse, sum(1, f2, -8 / h, g1));
  const f3 = speeds(pot, steps, sum(48 / 25, g1, 6 / 25, g2));
  const g3 = times(inverse, sum(1, f3, 372 / 25 / h, g1, 12 / 5 / h, g2));
  const g4 = times(inverse, sum(1, f3, -112 / 125 / h, g1, -54 / 125 / h, g2, -2 / 5 / h, g3));
  const done = sum(19 / 9, g1, 1 / 2, g2, 25 / 108, g3, 125 / 108, g4);
  const [e1, e2, e3] = sum(17 / 54, g1, 7 / 36, g2, 125 / 108, g4);
  return { done, error: Math.max(Math.abs(e1), Math.abs(e2), Math.abs(e3)) };
}

/** mol of each of the three reactions in a minute, once they have gone on by `x` from the pot's state. */
function speeds(pot: Pot, { rates, equilibria }: Steps, [x1, x2, x3]: Vector): Vector {
  const tri = pot.tri - x1;
  const di = pot.di + x1 - x2;
  const mono = pot.mono + x2 - x3;
  const glycerol = pot.glycerol + x3;
  const ester = pot.ester + x1 + x2 + x3;
  const methanol = pot.methanol - x1 - x2 - x3;
  return [
    rates[0] * (tri * methanol - (di * ester) / equilibria[0]),
    rates[1] * (di * methanol - (mono * ester) / equilibria[1]),
    rates[2] * (mono * methanol - (glycerol * ester) / equilibria[2]),
  ];
}

type Matrix = readonly [Vector, Vector, Vector];

/** Inverse of `diagonal` · 1 − J, J being the derivative of `speeds` at the pot's state. */
function invert(pot: Pot, { rates, equilibria }: Steps, diagonal: number): Matrix {
  const { tri, di, mono, glycerol, ester, methanol } = pot;
  const [k1, k2, k3] = rates;
  const [e1, e2, e3] = equilibria;
  // What every reaction does to each speed through ester and methanol.
  const s1 = k1 * (-tri - di / e1);
  const s2 = k2 * (-di - mono / e2);
  const s3 = k3 * (-mono - glycerol / e3);
  const a = diagonal - (s1 + k1 * (-methanol - ester / e1));
  const b = -(s1 + (k1 * ester) / e1);
  const c = -s1;
  const d = -(s2 + k2 * methanol);
  const e = diagonal - (s2 + k2 * (-methanol - ester / e2));
  const f = -(s2 + (k2 * ester) / e2);
  const g = -s3;
  const i = -(s3 + k3 * methanol);
  const j = diagonal - (s3 + k3 * (-methanol - ester / e3));
  const det = a * (e * j - f * i) - b * (d * j - f * g) + c * (d * i - e * g);
  return [
    [(e * j - f * i) / det, (c * i - b * j) / det, (b * f - c * e) / det],
    [(f * g - d * j) / det, (a * j - c * g) / det, (c * d - a * f) / det],
    [(d * i - e * g) / det, (b * g - a * i) / det, (a * e - b * d) / det],
  ];
}

const times = ([a, b, c]: Matrix, v: Vector): Vector => [dot(a, v), dot(b, v), dot(c, v)];

const dot = (a: Vector, b: Vector): number => a[0] * b[0] + a[1] * b[1] + a[2] * b[2];

/** Multiples of up to four vectors, added up. This runs a thousand times a plan, hence without lists. */
const sum = (a: number, p: Vector, b = 0, q = NONE, c = 0, r = NONE, d = 0, s = NONE): Vector => [
  a * p[0] + b * q[0] + c * r[0] + d * s[0],
  a * p[1] + b * q[1] + c * r[1] + d * s[1],
  a * p[2] + b * q[2] + c * r[2] + d * s[2],
];
