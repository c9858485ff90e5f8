import { join } from 'node:path';
import type { ProbeClock } from '../clock.ts';
import { PulseRate } from './pulse-rate.ts';
import type { Source } from './source.ts';
import { type Chip, chipNamed, chipsIn, namesIn, readNumber, readNumberIfThere } from './sysfs.ts';

const FOLDER = 'sys/bus/counter/devices';

export interface CounterPlace {
  chip: string;
  device?: string | undefined;
  /** `count0`. */
  count: string;
  /** Pulses a revolution, or a litre. */
  pulsesPerUnit: number;
}

/**
 * Pulses that the kernel counts (Documentation/driver-api/generic-counter), as so many a minute: a stirrer's 1/min, a
 * pump's L/min. One pulse more or less in a look is all that it resolves: 60 / (pulses a unit × seconds between looks).
 */
export function counter(
  { chip, device, count, pulsesPerUnit }: CounterPlace,
  root: string,
  clock: ProbeClock,
): Source {
  const rate = new PulseRate(clock, pulsesPerUnit);
  return {
    place: `counter ${chip} ${count}`,
    unit: 'a minute',
    read: async () => {
      const { folder } = await chipNamed(join(root, FOLDER), chip, device);
      const ceiling = await readNumberIfThere(join(folder, count, 'ceiling'));
      return rate.look(await readNumber(join(folder, count, 'count')), ceiling);
    },
    close: () => {},
  };
}

export async function findCounters(root: string): Promise<{ chip: Chip; count: string }[]> {
  const found: { chip: Chip; count: string }[] = [];
  for (const chip of await chipsIn(join(root, FOLDER))) {
    for (const count of await namesIn(chip.folder)) if (/^count\d+$/.test(count)) found.push({ chip, count });
  }
  return found;
}
