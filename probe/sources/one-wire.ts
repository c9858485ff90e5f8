import { join } from 'node:path';
import { type Source, SourceTrouble } from './source.ts';
import { namesIn, readNumber, readTextIfThere } from './sysfs.ts';

const FOLDER = 'sys/bus/w1/devices';
/**
 * Family codes of the thermometers that the kernel's `w1_therm` reads (Documentation/w1/slaves/w1_therm): DS18S20,
 * DS1822, DS18B20, DS1825, DS28EA00.
 */
export const THERMOMETER = /^(10|22|28|3b|42)-[0-9a-f]{12}$/;

/**
 * A 1-Wire thermometer, °C. Each look makes it measure, 0.75 s at full resolution.
 *
 * What the bus garbled is no reading: at `crc=… NO` the kernel prints the value of an earlier look. A probe that does
 * not answer may pass the checksum with nine zero bytes, 0 °C; no thermometer sends them, since a part of its
 * configuration is always ones (DS18B20 data sheet, configuration register; DS18S20, reserved bytes). Both end in the
 * daemon as a reading that fails to come. 85 °C, which a probe shows when it has just got power, and -127 °C are handed
 * on: the daemon has rules for them, and 85 °C may be true.
 */
export function oneWire({ id }: { id: string }, root: string): Source {
  const folder = join(root, FOLDER, id);
  return {
    place: `1-Wire ${id}`,
    unit: '°C',
    read: async () => {
      const text = await readTextIfThere(join(folder, 'w1_slave'));
      const milliC = text === undefined ? await readNumber(join(folder, 'temperature')) : parse(text, id);
      return { value: milliC / 1000, ageMs: 0 };
    },
    close: () => {},
  };
}

/** Thousandths of °C in the two lines of `w1_slave`. */
function parse(text: string, id: string): number {
  const found = /^((?:[0-9a-f]{2} ){9}): crc=[0-9a-f]{2} (YES|NO)\n.*\bt=(-?\d+)$/.exec(text);
  if (found === null)
    throw new SourceTrouble(
      `${id} gave "${text.slice(0, 40)}", which is no measurement: look at its wires`,
      'no-measurement',
    );
  const [, bytes, verdict, milliC] = found;
  if (verdict === 'NO')
    throw new SourceTrouble(
      `${id} was not understood (checksum): look at its wires, their length, and the pull-up resistor`,
    );
  if (/^(00 ){9}$/.test(bytes!))
    throw new SourceTrouble(`${id} answers with nothing but zeros: look at its supply and its data wire`);
  return Number(milliC);
}

/** The ids of those that are there. */
export const findOneWire = async (root: string): Promise<string[]> =>
  (await namesIn(join(root, FOLDER))).filter((name) => THERMOMETER.test(name));
