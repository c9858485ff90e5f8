import { join } from 'node:path';
import type { ProbeClock } from '../clock.ts';
import type { SourceConfiguration } from '../configuration.ts';
import { counter } from './counter.ts';
import { gpio } from './gpio.ts';
import { hwmon } from './hwmon.ts';
import { iio } from './iio.ts';
import { oneWire } from './one-wire.ts';
import { serial } from './serial.ts';
import { SerialLine } from './serial-line.ts';
import type { Source } from './source.ts';

/**
 * Opens sources in their order; nothing is looked at yet, and what is not there may come later.
 * @param root `/`, or a folder with copies of such files
 */
export function openSources(
  configurations: readonly SourceConfiguration[],
  root: string,
  clock: ProbeClock,
): Source[] {
  const lines = new Map<string, SerialLine>();
  const lineOf = (port: string, baud: number): SerialLine => {
    const line = lines.get(port) ?? new SerialLine(join(root, port), baud, clock);
    lines.set(port, line);
    return line;
  };
  return configurations.map((one) => openSource(one, root, clock, lineOf));
}

function openSource(
  one: SourceConfiguration,
  root: string,
  clock: ProbeClock,
  lineOf: (port: string, baud: number) => SerialLine,
): Source {
  switch (one.kind) {
    case 'one-wire':
      return oneWire(one, root);
    case 'hwmon':
      return hwmon(one, root);
    case 'iio':
      return iio(one, root);
    case 'serial':
      return serial(one, lineOf(one.port, one.baud), clock);
    case 'counter':
      return counter(one, root, clock);
    case 'gpio':
      return gpio(one, clock);
  }
}
