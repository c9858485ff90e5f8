import { join } from 'node:path';
import type { ProbeClock } from '../clock.ts';
import type { SerialLine } from './serial-line.ts';
import { type Source, SourceTrouble } from './source.ts';
import { namesIn } from './sysfs.ts';

export interface SerialPlace {
  port: string;
  /** Where in a line the number stands: the group `value`. */
  pattern?: string | undefined;
  /** Where in a JSON line it stands, keys joined by dots. */
  path?: string | undefined;
}

const DECIMAL = /^[+-]?(\d+\.?\d*|\.\d+)([eE][+-]?\d+)?$/;

/**
 * A number that a device prints on a serial line: a line is the number itself, or JSON that has it at `path` (`value`
 * unless said otherwise), or whatever `pattern` finds it in. The newest line since the last look that fits counts,
 * whatever came after it: a device may print several lines a round, each of them another source's. One that prints
 * nothing gives nothing. With a pattern, lines that do not fit it are passed over; without, they are trouble where no
 * line fitted since the last look.
 */
export function serial({ port, pattern, path }: SerialPlace, line: SerialLine, clock: ProbeClock): Source {
  const fits = pattern === undefined ? undefined : new RegExp(pattern);
  let newest: { value: number; monotonicMs: number } | null = null;
  let trouble: SourceTrouble | null = null;
  line.onLine(({ text, monotonicMs }) => {
    try {
      const value = fits === undefined ? inLine(text, path, port) : inPattern(text, fits, port);
      if (value !== null) newest = { value, monotonicMs };
    } catch (error) {
      if (!(error instanceof SourceTrouble)) throw error;
      trouble = error;
    }
  });
  const taken = (): { value: number; monotonicMs: number } | null => {
    const [found, why] = [newest, trouble];
    newest = null;
    trouble = null;
    if (found === null && why !== null) throw why;
    return found;
  };
  return {
    place: `serial ${port}${path === undefined ? '' : ` ${path}`}`,
    unit: '',
    read: async () => {
      await line.opened();
      const found = taken();
      return found && { value: found.value, ageMs: clock.monotonicMs() - found.monotonicMs };
    },
    close: () => line.close(),
  };
}

function inPattern(text: string, pattern: RegExp, port: string): number | null {
  const found = pattern.exec(text)?.groups?.value;
  if (found === undefined) return null;
  if (!DECIMAL.test(found)) throw noNumber(found, port, '"pattern" should find nothing but a number');
  return Number(found);
}

function inLine(text: string, path: string | undefined, port: string): number {
  if (DECIMAL.test(text)) {
    if (path === undefined) return Number(text);
    throw noNumber(text, port, 'it is no JSON: leave "path" out');
  }
  let at: unknown;
  try {
    at = JSON.parse(text);
  } catch {
    throw noNumber(text, port, 'say by "pattern" where the number stands, or look at "baud"');
  }
  for (const key of (path ?? 'value').split('.'))
    at =
      typeof at === 'object' && at !== null && Object.hasOwn(at, key)
        ? (at as Record<string, unknown>)[key]
        : undefined;
  if (typeof at !== 'number' || !Number.isFinite(at))
    throw noNumber(text, port, `no number at "${path ?? 'value'}": say by "path" where it stands`);
  return at;
}

const noNumber = (text: string, port: string, hint: string): SourceTrouble =>
  new SourceTrouble(`${port} sent ${JSON.stringify(text.slice(0, 60))}: ${hint}`, 'no-number');

/** Ports that something is plugged into, by a name that stays where there is one. */
export async function findSerial(root: string): Promise<string[]> {
  const named = (await namesIn(join(root, 'dev/serial/by-id'))).map((name) => `/dev/serial/by-id/${name}`);
  if (named.length > 0) return named;
  return (await namesIn(join(root, 'dev')))
    .filter((name) => /^tty(USB|ACM)\d+$/.test(name))
    .map((name) => `/dev/${name}`);
}
