import { join } from 'node:path';
import { type Source, SourceTrouble } from './source.ts';
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

/** What all channels of a kind share goes by its name: of differences `in_voltage-voltage`, else `in_voltage`. */
function sharedName(input: string, kind: string): string {
  const [, other] = /^in_[a-z]+\d+-([a-z]+)\d+$/.exec(input) ?? [];
  return other === undefined ? `in_${kind}` : `in_${kind}-${other}`;
}

export interface IioPlace {
  chip: string;
  device?: string | undefined;
  input: string;
}

/**
 * A channel of an analogue-to-digital converter, a barometer or a thermometer: °C, hPa, V or A. Either its `_input` has
 * it ready, or it is (raw + offset) × scale, where scale and offset may be those of all channels of the kind. A raw
 * count without a scale is no measurement.
 */
export function iio({ chip, device, input }: IioPlace, root: string): Source {
  const [, kind] = IIO_INPUT.exec(input)!;
  const { factor, unit } = KINDS[kind!]!;
  const shared = sharedName(input, kind!);
  return {
    place: `iio ${chip} ${input}`,
    unit,
    read: async () => {
      const { folder } = await chipNamed(join(root, FOLDER), chip, device);
      const own = (what: string) => readNumberIfThere(join(folder, `${input}_${what}`));
      const ownOrShared = async (what: string) =>
        (await own(what)) ?? (await readNumberIfThere(join(folder, `${shared}_${what}`)));
      const scaled = async () => {
        const raw = await readNumber(join(folder, `${input}_raw`));
        const scale = await ownOrShared('scale');
        if (scale === undefined)
          throw new SourceTrouble(
            `${chip} ${input} has a raw count only: neither ${input}_scale nor ${shared}_scale in ${folder} says what it is in ${unit}; look whether the right driver is loaded, or take an input that has one`,
          );
        return (raw + ((await ownOrShared('offset')) ?? 0)) * scale;
      };
      const value = (await own('input')) ?? (await scaled());
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
