import { parseArgs } from 'node:util';
import { UsageError } from './usage.ts';

/** Where everything is kept unless `--data` says otherwise. */
export const DEFAULT_DATA = './data';

type Kinds = Record<string, { type: 'string' | 'boolean' }>;
type Values<T extends Kinds> = { [K in keyof T]?: T[K]['type'] extends 'string' ? string : boolean };

/**
 * The options of a verb, or null where only its help was asked for (and printed).
 * @throws UsageError for anything that it does not know.
 */
export function readOptions<T extends Kinds>(args: string[], options: T, help: string): Values<T> | null {
  try {
    const { values } = parseArgs({
      args,
      options: { ...options, help: { type: 'boolean', short: 'h' } },
      strict: true,
      allowPositionals: false,
    });
    if ((values as { help?: boolean }).help === true) {
      process.stdout.write(help);
      return null;
    }
    return values as Values<T>;
  } catch (error) {
    throw new UsageError((error as Error).message.split('\n')[0]!);
  }
}

/** The words before the first option, at most so many, and what follows them. */
export function takeWords(args: string[], most: number): { words: string[]; rest: string[] } {
  const firstOption = args.findIndex((arg) => arg.startsWith('-'));
  const count = Math.min(most, firstOption === -1 ? args.length : firstOption);
  return { words: args.slice(0, count), rest: args.slice(count) };
}

/** @throws UsageError where the text is not a number of the range. */
export function readNumber(
  text: string | undefined,
  option: string,
  least: number,
  most: number,
): number | undefined {
  if (text === undefined) return undefined;
  const number = text.trim() === '' ? Number.NaN : Number(text);
  if (!(number >= least && number <= most)) {
    throw new UsageError(`${option} wants a number from ${least} to ${most}, not ${text}`);
  }
  return number;
}
