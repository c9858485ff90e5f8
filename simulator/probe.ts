import { approach } from './approach.ts';
import { gaussian, type Random } from './random.ts';

/** One step of a common digital probe, °C. */
export const PROBE_STEP_C = 0.0625;
/** What such a probe reports when it has power but has measured nothing yet, °C. */
export const POWER_UP_C = 85;
/** What its driver reports when the probe does not answer, °C. */
export const UNPLUGGED_C = -127;

/**
 * What goes wrong with a probe. `power-up` and `unplugged` report 85.0 and −127; `fallen-out` hangs in the
 * air; `frozen` repeats its last value; `spike` reads 20 °C too much; `drift` reads less and less, by
 * `DRIFT_C_PER_MIN`; `silent` gives no reading at all; `shared`: another device sends to the same channel what it
 * reads of the room, in turn with this one.
 */
export type ProbeFault =
  | 'power-up'
  | 'unplugged'
  | 'fallen-out'
  | 'frozen'
  | 'spike'
  | 'drift'
  | 'silent'
  | 'shared';

/** Time constants of a probe in a thin pocket, s: in moving liquid, in liquid at rest, in air. Chosen. */
const LAG_S = { moving: 8, resting: 25, air: 90 };
/** Standard deviation of the noise, °C. Chosen: most readings differ by a step at most. */
const NOISE_C = 0.03;
const SPIKE_C = 20;
/** How fast a drifting probe goes off, °C/min: fast, so that a run shows it. Chosen. */
export const DRIFT_C_PER_MIN = 0.25;

export interface ProbePlace {
  liquidC: number;
  airC: number;
  /** The liquid reaches the probe. */
  covered: boolean;
  moving: boolean;
}

/** A digital thermometer: lag, noise, steps of 0.0625 °C, and faults. */
export class TemperatureProbe {
  #sensedC: number;
  #reportedC: number;
  #fault: ProbeFault | null = null;
  #readingsLeft = Number.POSITIVE_INFINITY;
  #driftC = 0;
  #airC: number;
  #isOthersTurn = false;
  readonly #random: Random;
  readonly #noiseC: number;

  /** `noisier`: how much more it scatters than most of its kind. */
  constructor(startC: number, random: Random, noisier = 1) {
    this.#sensedC = startC;
    this.#reportedC = quantised(startC);
    this.#airC = startC;
    this.#random = random;
    this.#noiseC = NOISE_C * noisier;
  }

  /** What it reported last, °C: what a thermostat goes by that shares it. */
  get reportedC(): number {
    return this.#reportedC;
  }

  advance(place: ProbePlace, dtS: number): void {
    this.#airC = place.airC;
    const inLiquid = place.covered && this.#fault !== 'fallen-out';
    const lagS = inLiquid ? (place.moving ? LAG_S.moving : LAG_S.resting) : LAG_S.air;
    this.#sensedC = approach(this.#sensedC, inLiquid ? place.liquidC : place.airC, dtS / lagS);
    this.#driftC = this.#fault === 'drift' ? this.#driftC + (DRIFT_C_PER_MIN / 60) * dtS : 0;
  }

  /** Begins a fault, for so many readings or until the next call; null ends it. */
  fail(fault: ProbeFault | null, readings = Number.POSITIVE_INFINITY): void {
    this.#fault = fault;
    this.#readingsLeft = readings;
  }

  /** °C as reported; undefined where no reading comes. */
  read(): number | undefined {
    // Noise is drawn under a fault too, so that what follows is the same with and without it.
    const measuredC = quantised(this.#sensedC - this.#driftC + this.#noiseC * gaussian(this.#random));
    const reportedC = this.#reported(measuredC);
    if (reportedC !== undefined) this.#reportedC = reportedC;
    this.#readingsLeft -= 1;
    if (this.#readingsLeft <= 0) this.fail(null);
    return reportedC;
  }

  #reported(measuredC: number): number | undefined {
    switch (this.#fault) {
      case 'power-up':
        return POWER_UP_C;
      case 'unplugged':
        return UNPLUGGED_C;
      case 'frozen':
        return this.#reportedC;
      case 'spike':
        return measuredC + SPIKE_C;
      case 'silent':
        return undefined;
      case 'shared':
        this.#isOthersTurn = !this.#isOthersTurn;
        return this.#isOthersTurn ? quantised(this.#airC) : measuredC;
      default:
        return measuredC;
    }
  }
}

const quantised = (celsius: number): number => Math.round(celsius / PROBE_STEP_C) * PROBE_STEP_C;
