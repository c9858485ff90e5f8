import { type Decoder, damaged, Encoder } from './entropy-coder.ts';
import {
  type Classes,
  classesFor,
  encodeResiduals,
  MOST_REACH,
  REACH_BITS,
  type Residuals,
  residualDecoder,
} from './residuals.ts';

/**
 * A column of safe integers: as a line where it is one, otherwise as what each differs from its
 * prediction, in steps of the column's own (their greatest common divisor). Zero has one sign here.
 */
export function encodeIntegers(column: ArrayLike<number>, out: Encoder): void {
  const line = lineOf(column);
  if (line !== null) {
    out.bits(FORMS.line, FORM_BITS);
    out.signed(column[0]!);
    out.signed(line);
    return;
  }
  const predicted = predictedColumn(column);
  if (predicted !== null) {
    out.append(predicted);
    return;
  }
  out.bits(FORMS.plain, FORM_BITS);
  for (let i = 0; i < column.length; i++) out.signed(column[i]!);
}

export function decodeIntegers(count: number, from: Decoder): Float64Array {
  const form = from.bits(FORM_BITS);
  if (form === FORMS.line) return decodeLine(count, from);
  if (form === FORMS.predicted) return decodePredicted(count, from);
  if (form !== FORMS.plain) throw damaged('the form of a column');
  return fill(new Float64Array(count), () => from.signed());
}

const FORMS = { line: 0, predicted: 1, plain: 2 } as const;
const FORM_BITS = 2;

function fill(column: Float64Array, next: (i: number) => number): Float64Array {
  for (let i = 0; i < column.length; i++) column[i] = next(i);
  return column;
}

/** What each adds to the one before, where that is always the same. */
function lineOf(column: ArrayLike<number>): number | null {
  const first = column[0]!;
  const step = column.length === 1 ? 0 : column[1]! - first;
  for (let i = 1; i < column.length; i++) {
    if (column[i] !== first + i * step) return null;
  }
  return Number.isSafeInteger(step * column.length) ? step : null;
}

function decodeLine(count: number, from: Decoder): Float64Array {
  const first = from.signed();
  const step = from.signed();
  if (!Number.isSafeInteger(first + (count - 1) * step)) throw damaged('a line');
  return fill(new Float64Array(count), (i) => first + i * step);
}

/** What the prediction of a column goes by. */
interface Track {
  /** In 1/1024: what each adds to the one before, at the beginning. */
  pace: number;
  /** Of each difference, 2 ** -gainShift goes into the next prediction. */
  gainShift: number;
  /** Whether the pace is learnt, too. */
  trend: boolean;
  /** Differences of 2 ** reach and more are jumps. */
  reach: number;
}

const PACE_PARTS = 1024;
const GAIN_BITS = 3;
const GAIN_SHIFTS: readonly number[] = [0, 1, 2, 3, 4, 6];

/**
 * Predicts a number from those before: an alpha-beta filter, its second gain after T. R. Benedict and
 * G. W. Bordner, "Synthesis of an optimal set of radar track-while-scan smoothing equations" (IRE
 * Transactions on Automatic Control, 1962). At first it takes the plain mean. Only operations that
 * IEEE 754 rounds alike on every machine.
 */
class Predictor {
  readonly #pace: number;
  readonly #gain: number;
  readonly #trendGain: number;
  readonly #most: number;
  #slope: number;
  #seen = 0;
  /** What is expected next. */
  level = 0;

  constructor({ pace, gainShift, trend, reach }: Track) {
    this.#pace = pace / PACE_PARTS;
    this.#slope = this.#pace;
    this.#gain = 2 ** -gainShift;
    this.#trendGain = trend ? (this.#gain * this.#gain) / (2 - this.#gain) : 0;
    this.#most = 2 ** reach;
  }

  learn(actual: number): void {
    const difference = actual - this.level;
    if (Math.abs(difference) < this.#most) this.#follow(difference);
    else this.#jump(actual, difference);
    this.level += this.#slope;
  }

  #follow(difference: number): void {
    this.#seen++;
    this.level += Math.max(this.#gain, 1 / this.#seen) * difference;
    this.#slope += this.#trendGain * difference;
  }

  /** After readings that are missing, the grid of the times goes on as it was; otherwise all begins anew. */
  #jump(actual: number, difference: number): void {
    const missing = this.#pace === 0 ? 0 : Math.round(difference / this.#pace) * this.#pace;
    if (Math.abs(difference - missing) < this.#most) {
      this.level += missing;
      this.#follow(difference - missing);
      return;
    }
    this.level = actual;
    this.#slope = this.#pace;
    this.#seen = 1;
  }
}

/** The column in steps of its own from its first, or null where doubles do not hold that. */
function inOwnSteps(column: ArrayLike<number>): { step: number; steps: Float64Array } | null {
  const first = column[0]!;
  const steps = new Float64Array(column.length);
  let step = 0;
  for (let i = 0; i < column.length; i++) {
    const difference = column[i]! - first;
    if (!Number.isSafeInteger(difference)) return null;
    steps[i] = difference;
    if (step !== 1) step = greatestCommonDivisor(step, Math.abs(difference));
  }
  if (step > 1) for (let i = 0; i < steps.length; i++) steps[i] = steps[i]! / step;
  return { step, steps };
}

function greatestCommonDivisor(a: number, b: number): number {
  let [greater, less] = [a, b];
  while (less !== 0) [greater, less] = [less, greater % less];
  return greater;
}

function predictedColumn(column: ArrayLike<number>): Encoder | null {
  const own = inOwnSteps(column);
  if (own === null) return null;
  let best: Encoder | null = null;
  for (const track of tracksFor(own.steps)) {
    const classes = classesFor(track.reach);
    const residuals = residualsOf(own.steps, track, classes);
    if (residuals === null) continue;
    const encoder = new Encoder();
    encoder.bits(FORMS.predicted, FORM_BITS);
    encoder.signed(column[0]!);
    encoder.unsigned(own.step);
    writeTrack(track, encoder);
    encodeResiduals(residuals, classes, encoder);
    if (best === null || encoder.length < best.length) best = encoder;
  }
  return best;
}

/** Null where a difference is too large for a double to hold it exactly. */
function residualsOf(steps: Float64Array, track: Track, { phases }: Classes): Residuals | null {
  const predictor = new Predictor(track);
  const residuals = { differences: new Float64Array(steps.length), phases: new Uint8Array(steps.length) };
  for (let i = 0; i < steps.length; i++) {
    const place = Math.floor(predictor.level * phases + 0.5);
    const base = Math.floor(place / phases);
    const difference = steps[i]! - base;
    if (!Number.isSafeInteger(base) || !Number.isSafeInteger(difference)) return null;
    residuals.differences[i] = difference;
    residuals.phases[i] = place - base * phases;
    predictor.learn(steps[i]!);
  }
  return residuals;
}

function decodePredicted(count: number, from: Decoder): Float64Array {
  const first = from.signed();
  const step = from.unsigned();
  const track = readTrack(from);
  const classes = classesFor(track.reach);
  const { phases } = classes;
  const difference = residualDecoder(classes, from);
  const predictor = new Predictor(track);
  return fill(new Float64Array(count), () => {
    const place = Math.floor(predictor.level * phases + 0.5);
    const base = Math.floor(place / phases);
    if (!Number.isSafeInteger(base)) throw damaged('a prediction');
    const steps = base + difference(place - base * phases);
    const value = first + step * steps;
    if (!Number.isSafeInteger(value)) throw damaged('a number');
    predictor.learn(steps);
    return value;
  });
}

function writeTrack({ pace, gainShift, trend, reach }: Track, out: Encoder): void {
  out.signed(pace);
  out.bits(gainShift, GAIN_BITS);
  out.bits(trend ? 1 : 0, 1);
  out.bits(reach, REACH_BITS);
}

function readTrack(from: Decoder): Track {
  const track = {
    pace: from.signed(),
    gainShift: from.bits(GAIN_BITS),
    trend: from.bits(1) === 1,
    reach: from.bits(REACH_BITS),
  };
  if (track.reach > MOST_REACH) throw damaged('a reach');
  return track;
}

/** Readings by which the prediction is chosen. */
const MOST_TRIED = 1024;
const LEAST_REACH = 2;
/** Jumps are rarer than one of these. */
const REACH_QUANTILES: readonly number[] = [0.9, 0.995];

/** The prediction that fits best, once for each reach that may be worth it. */
function tracksFor(steps: Float64Array): Track[] {
  const changes = steps.subarray(1).map((step, i) => step - steps[i]!);
  const sorted = changes.slice(0, MOST_TRIED).sort();
  const median = sorted[sorted.length >> 1]!;
  const spread = sorted.map((change) => Math.abs(change - median)).sort();
  const reaches = new Set(REACH_QUANTILES.map((q) => reachFor(spread[Math.floor(q * spread.length)]!)));
  const tried = steps.subarray(0, MOST_TRIED);
  const paces = new Set([0, paceOf(changes, median)]);
  const [best] = [...paces]
    .flatMap((pace) => tracksAt(pace, Math.min(...reaches)))
    .map((track) => ({ track, misfit: misfitOf(tried, track) }))
    .sort((a, b) => a.misfit - b.misfit);
  return [...reaches].map((reach) => ({ ...best!.track, reach }));
}

const reachFor = (change: number): number =>
  Math.min(MOST_REACH, Math.max(LEAST_REACH, Math.ceil(Math.log2(2 * change + 2))));

const tracksAt = (pace: number, reach: number): Track[] =>
  GAIN_SHIFTS.flatMap((gainShift) => [false, true].map((trend) => ({ pace, gainShift, trend, reach })));

/** The mean change from one to the next, not counting those that are missing in between. */
function paceOf(changes: Float64Array, median: number): number {
  if (median === 0) return 0;
  let whole = 0;
  let total = 0;
  for (const change of changes) {
    whole += Math.round(change / median);
    total += change;
  }
  const pace = Math.round((total / whole) * PACE_PARTS);
  return Number.isSafeInteger(pace) ? pace : 0;
}

/** Nearly the bits that the differences will take. */
function misfitOf(steps: Float64Array, track: Track): number {
  const predictor = new Predictor(track);
  let misfit = 0;
  // Of eight at once: logarithms are what takes the time.
  for (let i = 0; i < steps.length; ) {
    let product = 1;
    for (const end = Math.min(i + 8, steps.length); i < end; i++) {
      product *= 0.5 + Math.abs(steps[i]! - predictor.level);
      predictor.learn(steps[i]!);
    }
    misfit += Math.log2(product);
  }
  return misfit;
}
