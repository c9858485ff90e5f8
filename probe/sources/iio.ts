import { join } from 'node:path';
import type { Source } from './source.ts';
import { type Chip, chipNamed, chipsIn, namesIn, readNumber, readNumberIfThere } from './sysfs.ts';

const FOLDER = 'sys/bus/iio/devices';

/** What a channel's kind is multiplied by for our units (kernel: Documentation/ABI/testing/sysfs-bus-iio). */
const KINDS: Readonly<Record<string, { factor: number; unit: string }>> = {
  // From thousandths of °C.
  temp: { factor: 1e-3, unit: '°C' },
  // From kPa.
  pressure: { factor: 10, unit: 'hPa' },
  // From mV and mA.
  voltage: { factor: 1e-3, unit: 'V' },
  current: { factor: 1e-3, unit: 'A' },
};

/** `in_temp`, `in_temp_ambient`, `in_voltage0`, `in_voltage0-voltage1`. */
export const IIO_INPUT = /^in_(temp|pressure|voltage|current)[\w-]*$/;

export interface IioPlace {
  chip: string;
  device?: string | undefined;
  input: string;
}

/**
 * A channel of an analogue-to-digital converter, a barometer or a thermometer: °C, hPa, V or A. Either its `_input` has
 * it ready, or it is (raw + offset) × scale, where scale and offset may be those of all channels of the kind.
 */
export function iio({ chip, device, input }: IioPlace, root: string): Source {
  const [, kind] = IIO_INPUT.exec(input)!;
  const { factor, unit } = KINDS[kind!]!;
  return {
    place: `iio ${chip} ${input}`,
    unit,
    read: async () => {
      const { folder } = await chipNamed(join(root, FOLDER), chip, device);
      const own = (what: string) => readNumberIfThere(join(folder, `${input}_${what}`));
      const ownOrShared = async (what: string) =>
        (await own(what)) ?? (await readNumberIfThere(join(folder, `in_${kind}_${what}`)));
      const ready = await own('input');
      const value =
        ready ??
        ((await readNumber(join(folder, `${input}_raw`))) + ((await ownOrShared('offset')) ?? 0)) *
          ((await ownOrShared('scale')) ?? 1);
      return { value: value * factor, ageMs: 0 };
    },
    close: () => {},
  };
}

export async function findIio(root: string): Promise<{ chip: Chip; input: string }[]> {
  const found: { chip: Chip; input: string }[] = [];
  for (const chip of await chipsIn(join(root, FOLDER))) {
    const inputs = new Set<string>();
    for (const file of await namesIn(chip.folder)) {
      const [, input] = /^(in_.+)_(?:raw|input)$/.exec(file) ?? [];
      if (input !== undefined && IIO_INPUT.test(input)) inputs.add(input);
    }
    for (const input of inputs) found.push({ chip, input });
  }
  return found;
}
