import {
  bitsOf,
  type Decoder,
  type DecodingTable,
  damaged,
  decodingTable,
  type Encoder,
  type FrequencyTable,
  frequencyTable,
  SCALE,
} from './entropy-coder.ts';

/**
 * How the differences between what was predicted and what came are coded. Those within ±2 ** reach are
 * sorted into at most 128 classes of equal width, coded by frequency, with their place in the class as plain
 * bits; rarer, larger ones are an escape and the number itself.
 *
 * Where the classes are few, noise is not much wider than a step, and it matters where between two steps
 * the prediction lies: there are frequencies for each eighth then.
 */
export interface Classes {
  /** Classes on either side of zero; the escape comes after all of them. */
  half: number;
  width: number;
  /** Bits of the place in a class. */
  widthBits: number;
  /** Parts of a step that a prediction is rounded to. */
  phases: number;
}

const MOST_HALF_BITS = 6;
const FEW_HALF_BITS = 4;
const PHASES = 8;
/** Of the number `reach`. */
export const REACH_BITS = 6;
export const MOST_REACH = 52;

export function classesFor(reach: number): Classes {
  const widthBits = Math.max(0, reach - MOST_HALF_BITS);
  return {
    half: 2 ** (reach - widthBits),
    width: 2 ** widthBits,
    widthBits,
    phases: reach <= FEW_HALF_BITS ? PHASES : 1,
  };
}

/** Differences of a column, each with the phase of its prediction. */
export interface Residuals {
  differences: Float64Array;
  phases: Uint8Array;
}

const escapeOf = ({ half }: Classes): number => 2 * half;

function classOf(difference: number, { half, width }: Classes): number {
  const symbol = Math.floor(difference / width) + half;
  return symbol >= 0 && symbol < 2 * half ? symbol : 2 * half;
}

/** Writes the frequencies, then the residuals, in whichever form of the two is the shorter. */
export function encodeResiduals(residuals: Residuals, classes: Classes, out: Encoder): void {
  const counts = countsOf(residuals, classes);
  const counted = countedTable(counts, classes);
  const bell = bestBell(counts, classes);
  const tables = bell.bits < counted.bits ? bell.tables : [counted.table];
  if (bell.bits < counted.bits) writeBell(bell, out);
  else writeCounted(counted, out);
  const { differences, phases } = residuals;
  for (let i = 0; i < differences.length; i++) {
    const symbol = classOf(differences[i]!, classes);
    out.symbol(tables[tables.length === 1 ? 0 : phases[i]!]!, symbol);
    if (symbol === escapeOf(classes)) out.signed(differences[i]!);
    else out.bits(differences[i]! - (symbol - classes.half) * classes.width, classes.widthBits);
  }
}

/** Reads the frequencies; what it returns reads one difference after another, given its phase. */
export function residualDecoder(classes: Classes, from: Decoder): (phase: number) => number {
  const tables = readTables(classes, from).map(decodingTable);
  const { half, width, widthBits } = classes;
  const difference = (table: DecodingTable): number => {
    const symbol = from.symbol(table);
    if (symbol === 2 * half) return from.signed();
    return (symbol - half) * width + (widthBits === 0 ? 0 : from.bits(widthBits));
  };
  const [only] = tables;
  return tables.length === 1 ? () => difference(only!) : (phase) => difference(tables[phase]!);
}

/** How often each class comes, for each phase. */
function countsOf({ differences, phases }: Residuals, classes: Classes): Float64Array[] {
  const counts = Array.from({ length: classes.phases }, () => new Float64Array(escapeOf(classes) + 1));
  for (let i = 0; i < differences.length; i++) counts[phases[i]!]![classOf(differences[i]!, classes)]!++;
  return counts;
}

function bitsFor(counts: readonly Float64Array[], tables: readonly FrequencyTable[]): number {
  let bits = 0;
  counts.forEach((ofPhase, phase) => {
    const table = tables[tables.length === 1 ? 0 : phase]!;
    for (let symbol = 0; symbol < ofPhase.length; symbol++) {
      if (ofPhase[symbol]! > 0) bits += ofPhase[symbol]! * bitsOf(table, symbol);
    }
  });
  return bits;
}

function readTables(classes: Classes, from: Decoder): FrequencyTable[] {
  return from.bits(1) === 1 ? readBell(classes, from) : [readCounted(classes, from)];
}

// Frequencies as they were counted, each rounded to the next of 1, 1.5, 2, 3, 4, 6 …: what the rounding
// loses, about 0.01 bits a reading, is less than exact counts would take.

const GRADE_BITS = 5;
const MOST_GRADE = 29;
const CLASS_BITS = 8;

interface Counted {
  first: number;
  /** Of the classes from the first to the last that comes, then of the escape. */
  grades: number[];
  table: FrequencyTable;
  bits: number;
}

const weightOfGrade = (grade: number): number =>
  grade === 0 ? 0 : ((grade - 1) % 2 === 0 ? 2 : 3) * 2 ** ((grade - 1) >> 1);

function gradeOf(count: number, total: number): number {
  if (count === 0) return 0;
  const wanted = (count / total) * weightOfGrade(MOST_GRADE);
  return Math.min(MOST_GRADE, Math.max(1, 1 + Math.round(2 * Math.log2(wanted / 2))));
}

function countedTable(counts: readonly Float64Array[], classes: Classes): Counted {
  const sums = counts.reduce((sum, ofPhase) => sum.map((count, i) => count + ofPhase[i]!));
  const total = sums.reduce((a, b) => a + b);
  const beyond = escapeOf(classes);
  const within = sums.subarray(0, beyond);
  const first = Math.max(
    0,
    within.findIndex((count) => count > 0),
  );
  const end = within.findLastIndex((count) => count > 0) + 1;
  const grades = [...within.slice(first, end), sums[beyond]!].map((count) => gradeOf(count, total));
  const table = tableOfGrades(first, grades, classes);
  const headerBits = 2 * CLASS_BITS + GRADE_BITS * grades.length;
  return { first, grades, table, bits: headerBits + bitsFor(counts, [table]) };
}

function tableOfGrades(first: number, grades: readonly number[], classes: Classes): FrequencyTable {
  const weights = new Float64Array(escapeOf(classes) + 1);
  grades.forEach((grade, i) => {
    weights[i === grades.length - 1 ? escapeOf(classes) : first + i] = weightOfGrade(grade);
  });
  return frequencyTable(weights);
}

function writeCounted({ first, grades }: Counted, out: Encoder): void {
  out.bits(0, 1);
  out.bits(first, CLASS_BITS);
  out.bits(grades.length, CLASS_BITS);
  for (const grade of grades) out.bits(grade, GRADE_BITS);
}

function readCounted(classes: Classes, from: Decoder): FrequencyTable {
  const first = from.bits(CLASS_BITS);
  const count = from.bits(CLASS_BITS);
  if (count < 1 || first + count - 1 > escapeOf(classes)) throw damaged('its frequencies');
  return tableOfGrades(
    first,
    Array.from({ length: count }, () => from.bits(GRADE_BITS)),
    classes,
  );
}

// Frequencies of a bell: three small numbers say all of them. Its form is that of Student's t, (1 + z²/2m) ** -m
// with m a power of two, from nearly normal to heavy-tailed. It needs no exponential function, which machines
// round differently.

interface BellShape {
  /** In eighths of a power of two, from 1/8 of a class. */
  spread: number;
  tail: number;
  /** The escape has 2 ** this in `SCALE`, nearly. */
  escapes: number;
}

interface Bell extends BellShape {
  tables: FrequencyTable[];
  bits: number;
}

const SPREAD_BITS = 7;
/** How often the base is squared, by number of the tail. */
const TAILS: readonly number[] = [0, 1, 3, 8];
const TAIL_BITS = 2;
const ESCAPE_BITS = 4;
const MOST_ESCAPE = 13;
/** Places in a class at which the curve is taken. */
const SAMPLES = 4;
/** So that a class far out can be coded at all. */
const LEAST_WEIGHT = 1e-12;

/** About 2 ** (n / 8), in figures that every machine reads alike. */
const EIGHTH_POWERS: readonly number[] = [1, 1.09, 1.19, 1.3, 1.41, 1.54, 1.68, 1.83];

function bellTables({ spread, tail, escapes }: BellShape, classes: Classes): FrequencyTable[] {
  const deviation = EIGHTH_POWERS[spread % 8]! * 2 ** ((spread >> 3) - 3);
  // The middle of a class of whole numbers, from its lower end.
  const middle = (1 - 1 / classes.width) / 2;
  return Array.from({ length: classes.phases }, (_, phase) => {
    const weights = new Float64Array(escapeOf(classes) + 1);
    let total = 0;
    for (let i = 0; i < 2 * classes.half; i++) {
      const centre = i - classes.half + middle - phase / classes.phases;
      weights[i] = LEAST_WEIGHT + bellWeight(centre, deviation, TAILS[tail]!);
      total += weights[i]!;
    }
    weights[escapeOf(classes)] = (total * 2 ** escapes) / SCALE;
    return frequencyTable(weights);
  });
}

function bellWeight(centre: number, deviation: number, squarings: number): number {
  let sum = 0;
  for (let sample = 0; sample < SAMPLES; sample++) {
    const z = (centre + (sample + 0.5) / SAMPLES - 0.5) / deviation;
    let weight = 1 / (1 + (z * z) / (2 * 2 ** squarings));
    for (let i = 0; i < squarings; i++) weight *= weight;
    sum += weight;
  }
  return sum;
}

/** The bell that takes the fewest bits, looked for about the deviation of what was counted. */
function bestBell(counts: readonly Float64Array[], classes: Classes): Bell {
  const escapes = escapeGrade(counts, classes);
  const start = spreadOf(counts, classes);
  const bellOf = (spread: number, tail: number): Bell => {
    const tables = bellTables({ spread, tail, escapes }, classes);
    const bits = SPREAD_BITS + TAIL_BITS + ESCAPE_BITS + bitsFor(counts, tables);
    return { spread, tail, escapes, tables, bits };
  };
  let best = bellOf(start, TAILS.length - 1);
  const tryAt = (spread: number, tail: number): boolean => {
    if (spread < 0 || spread >= 2 ** SPREAD_BITS) return false;
    const bell = bellOf(spread, tail);
    if (bell.bits >= best.bits) return false;
    best = bell;
    return true;
  };
  for (let tail = TAILS.length - 1; tail >= 0; tail--) {
    // A heavier tail goes with a narrower bell.
    while (tryAt(best.spread - 2, tail) || tryAt(best.spread + 2, tail));
    if (best.tail !== tail) break;
  }
  if (!tryAt(best.spread - 1, best.tail)) tryAt(best.spread + 1, best.tail);
  return best;
}

function escapeGrade(counts: readonly Float64Array[], classes: Classes): number {
  let total = 0;
  let escapes = 0;
  for (const ofPhase of counts) {
    total += ofPhase.reduce((a, b) => a + b);
    escapes += ofPhase[escapeOf(classes)]!;
  }
  if (escapes === 0) return 0;
  return Math.min(MOST_ESCAPE, Math.max(0, Math.round(Math.log2((escapes / total) * SCALE))));
}

function spreadOf(counts: readonly Float64Array[], classes: Classes): number {
  let total = 0;
  let squares = 0;
  counts.forEach((ofPhase, phase) => {
    for (let i = 0; i < 2 * classes.half; i++) {
      total += ofPhase[i]!;
      squares += ofPhase[i]! * (i - classes.half - phase / classes.phases) ** 2;
    }
  });
  const deviation = Math.sqrt(squares / Math.max(1, total));
  return Math.min(
    2 ** SPREAD_BITS - 1,
    Math.max(0, Math.round(8 * Math.log2(8 * Math.max(deviation, 1 / 8)))),
  );
}

function writeBell({ spread, tail, escapes }: BellShape, out: Encoder): void {
  out.bits(1, 1);
  out.bits(spread, SPREAD_BITS);
  out.bits(tail, TAIL_BITS);
  out.bits(escapes, ESCAPE_BITS);
}

function readBell(classes: Classes, from: Decoder): FrequencyTable[] {
  const spread = from.bits(SPREAD_BITS);
  const tail = from.bits(TAIL_BITS);
  const escapes = from.bits(ESCAPE_BITS);
  if (escapes > MOST_ESCAPE) throw damaged('its frequencies');
  return bellTables({ spread, tail, escapes }, classes);
}
