import type { ComparedBatch } from '../../../shared/wire/comparison.ts';
import { isLiquidTemperature } from '../../../shared/wire/names.ts';

/** Two batches on one axis of minutes from where they are laid over each other. Pure. */

/** Minutes ascending; null is a gap, undefined where a line has no point of its own and goes on. */
export interface Overlay {
  minutes: number[];
  lines: (number | null | undefined)[][];
}

interface Points {
  minutes: number[];
  value: (number | null)[];
}

/** So many steps without a reading are a gap. */
const GAP_STEPS = 3;

/**
 * The liquid of a batch as one line: of the vessel that its stages name at each time, since a batch goes from
 * one to another. `mixing` instead: what tells of stirring or pumping.
 */
export function lineOf(side: ComparedBatch, channel: 'temperature' | 'mixing'): Points {
  const points = side.series
    .filter(({ channel: name }) => (channel === 'temperature') === isLiquidTemperature(name))
    .flatMap(({ vessel, minutes, mean, stepMinutes }) =>
      minutes.map((minute, i) => ({ vessel, minute, value: mean[i]!, step: stepMinutes })),
    )
    .filter(({ vessel, minute }) => vessel === vesselAt(side, minute))
    .sort((a, b) => a.minute - b.minute);
  const line: Points = { minutes: [], value: [] };
  points.forEach(({ minute, value, step }, i) => {
    const before = points[i - 1];
    // Two probes of a vessel have readings at the same time: the first told stays.
    if (before !== undefined && minute <= before.minute) return;
    if (before !== undefined && minute - before.minute > GAP_STEPS * Math.max(step, before.step)) {
      line.minutes.push((minute + before.minute) / 2);
      line.value.push(null);
    }
    line.minutes.push(minute);
    line.value.push(value);
  });
  return line;
}

/** Where the batch itself was: methoxide is mixed beside it. */
function vesselAt({ stages }: ComparedBatch, minute: number): string | undefined {
  const own = stages.filter(({ stage }) => stage !== 'methoxide');
  return (own.findLast((one) => one.minutes <= minute) ?? own[0])?.vessel;
}

/** All lines over the minutes of all. */
export function overlay(lines: readonly Points[]): Overlay {
  const minutes = [...new Set(lines.flatMap((line) => line.minutes))].sort((a, b) => a - b);
  const place = new Map(minutes.map((minute, i) => [minute, i]));
  return {
    minutes,
    lines: lines.map((line) => {
      const column = new Array<number | null | undefined>(minutes.length).fill(undefined);
      line.minutes.forEach((minute, i) => {
        column[place.get(minute)!] = line.value[i]!;
      });
      return column;
    }),
  };
}
