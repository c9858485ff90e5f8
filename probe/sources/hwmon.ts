import { join } from 'node:path';
import { type Source, SourceTrouble } from './source.ts';
import { type Chip, chipNamed, chipsIn, namesIn, readNumber, readTextIfThere } from './sysfs.ts';

const FOLDER = 'sys/class/hwmon';
/** Chips that another kind of source reads better. */
const READ_ELSEWHERE: ReadonlySet<string> = new Set(['w1_slave_temp', 'iio_hwmon']);

export const HWMON_INPUT = /^(temp|fan)\d+$/;

export interface HwmonPlace {
  chip: string;
  device?: string | undefined;
  /** `temp1`, in thousandths of °C in its file, or `fan1`, in 1/min (kernel: Documentation/hwmon/sysfs-interface). */
  input: string;
}

/** A thermometer (°C) or a speed input (1/min) of a monitoring chip. */
export function hwmon({ chip, device, input }: HwmonPlace, root: string): Source {
  const isTemperature = input.startsWith('temp');
  return {
    place: `hwmon ${chip} ${input}`,
    unit: isTemperature ? '°C' : '1/min',
    read: async () => {
      const { folder } = await chipNamed(join(root, FOLDER), chip, device);
      if ((await readTextIfThere(join(folder, `${input}_fault`))) === '1')
        throw new SourceTrouble(
          `${chip} ${input} says that its sensor is faulty: look whether it is plugged in`,
        );
      const value = await readNumber(join(folder, `${input}_input`));
      return { value: isTemperature ? value / 1000 : value, ageMs: 0 };
    },
    close: () => {},
  };
}

/** Every input that is there, with what the board calls it. */
export async function findHwmon(root: string): Promise<{ chip: Chip; input: string; label: string }[]> {
  const found: { chip: Chip; input: string; label: string }[] = [];
  for (const chip of await chipsIn(join(root, FOLDER))) {
    if (READ_ELSEWHERE.has(chip.name)) continue;
    for (const file of await namesIn(chip.folder)) {
      const [, input] = /^((?:temp|fan)\d+)_input$/.exec(file) ?? [];
      if (input === undefined) continue;
      const label = await readTextIfThere(join(chip.folder, `${input}_label`)).catch(() => undefined);
      found.push({ chip, input, label: label ?? input });
    }
  }
  return found;
}
