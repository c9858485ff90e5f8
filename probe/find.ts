import { LONGEST_NAME, nameFrom } from '../shared/wire/name-from.ts';
import type { SourceConfiguration } from './configuration.ts';
import { findCounters } from './sources/counter.ts';
import { findHwmon } from './sources/hwmon.ts';
import { findIio } from './sources/iio.ts';
import { findOneWire } from './sources/one-wire.ts';
import { findSerial } from './sources/serial.ts';
import type { Chip } from './sources/sysfs.ts';

/** A source without what has a default. */
type Proposed = Record<string, string | number> & { kind: SourceConfiguration['kind']; channel: string };

/** Inputs of `iio` that are for the air's pressure. */
const BAROMETERS = /^in_pressure$/;

/**
 * What is connected, with a name proposed for each: those that the rules know where there is little doubt (a 1-Wire
 * thermometer is in the liquid, a barometer is for the air, the first counter is the stirrer), else one that says where
 * it comes from, which no rule reads: a person gives it the right one. Pins cannot be found: nobody can see what hangs
 * on them.
 */
export async function findSources(root: string): Promise<Proposed[]> {
  const names = new Names();
  const found: Proposed[] = [];
  for (const id of await findOneWire(root))
    found.push({ kind: 'one-wire', id, channel: names.take('liquid-temperature') });
  const counters = await findCounters(root);
  for (const { chip, count } of counters)
    found.push({
      kind: 'counter',
      ...placeOf(chip, counters),
      count,
      pulsesPerUnit: 1,
      channel: names.take('stirrer-speed', `${chip.name}-${count}`),
    });
  const iio = await findIio(root);
  for (const { chip, input } of iio) {
    const own = `${chip.name}-${input.replace(/^in_/, '').replace(/^temp\b/, 'temperature')}`;
    const channel = BAROMETERS.test(input) ? names.take('ambient-pressure', own) : names.take(own);
    found.push({ kind: 'iio', ...placeOf(chip, iio), input, channel });
  }
  for (const port of await findSerial(root))
    found.push({ kind: 'serial', port, channel: names.take('serial') });
  const hwmon = await findHwmon(root);
  for (const { chip, input, label } of hwmon)
    found.push({
      kind: 'hwmon',
      ...placeOf(chip, hwmon),
      input,
      channel: names.take(`${chip.name}-${label}`),
    });
  return found;
}

/** With the device where another chip of those found has the same name. */
function placeOf(
  { name, device, folder }: Chip,
  all: readonly { chip: Chip }[],
): { chip: string; device?: string } {
  const isAlone = all.every(({ chip }) => chip.folder === folder || chip.name !== name);
  return isAlone ? { chip: name } : { chip: name, device };
}

/** Names of channels, each once. */
class Names {
  readonly #taken = new Set<string>();

  /** The wanted name; where it is taken the other one, else the wanted one with a number: `liquid-temperature-2`. */
  take(wanted: string, other?: string): string {
    const plain = nameFrom(wanted) ?? 'sensor';
    if (this.#taken.has(plain) && other !== undefined) return this.take(other);
    let name = plain;
    for (let i = 2; this.#taken.has(name); i++) {
      const ending = `-${i}`;
      name = plain.slice(0, LONGEST_NAME - ending.length) + ending;
    }
    this.#taken.add(name);
    return name;
  }
}
