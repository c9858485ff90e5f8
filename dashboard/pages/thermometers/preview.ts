import { ICE_POINT_C } from '../../../shared/chemistry/water.ts';
import {
  correctedC,
  errorC,
  type KnownPoint,
  type KnownPoints,
  LARGE_ERROR_C,
  LARGEST_ERROR_C,
  pointOf,
  sentC,
} from '../../../shared/thermometer/correction.ts';
import type { Check } from '../../../shared/wire/thermometers.ts';

/** What a check would make of a thermometer, before it is kept. Pure; °C. */

/** Near where it matters: methanol boils at 64.5 °C. */
const EXAMPLE_C = 60;

export interface Preview {
  /** What it sends less what is true in each bath. */
  errors: readonly { bath: 'ice' | 'boiling'; errorC: number }[];
  /** `exampleC` is shown now; that will be shown then. */
  exampleC: number;
  becomesC: number;
  size: 'ordinary' | 'large' | 'too-large';
}

/** Undefined where there is nothing to be seen yet: no bath, or one that nobody knows the temperature of. */
export function previewOf(
  { ice, boiling }: { ice?: { readC: number } | undefined; boiling?: { readC: number } | undefined },
  standing: Pick<Check, 'ice' | 'boiling'> | null,
  waterC: number | null,
): Preview | undefined {
  const before = standing === null ? null : known(standing.ice, standing.boiling);
  const low = ice === undefined ? null : pointOf(ice.readC, ICE_POINT_C, before);
  const high = boiling === undefined || waterC === null ? null : pointOf(boiling.readC, waterC, before);
  const points = known(low, high);
  if (points === null) return undefined;
  const errors = [
    ...(low === null ? [] : [{ bath: 'ice' as const, errorC: errorC(low) }]),
    ...(high === null ? [] : [{ bath: 'boiling' as const, errorC: errorC(high) }]),
  ];
  const largest = Math.max(...errors.map((one) => Math.abs(one.errorC)));
  return {
    errors,
    exampleC: EXAMPLE_C,
    becomesC: correctedC(points, before === null ? EXAMPLE_C : sentC(before, EXAMPLE_C)),
    size: largest > LARGEST_ERROR_C ? 'too-large' : largest > LARGE_ERROR_C ? 'large' : 'ordinary',
  };
}

function known(low: KnownPoint | null, high: KnownPoint | null): KnownPoints | null {
  if (low === null) return high === null ? null : [high];
  return high === null ? [low] : [low, high];
}
