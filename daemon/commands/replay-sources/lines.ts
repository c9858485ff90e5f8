import type { Readable } from 'node:stream';

/** A longer line is no line of ours: it is passed over without being kept, characters. */
export const MOST_LINE_LENGTH = 1024 * 1024;

/** Why such a line is refused. */
export const LINE_TOO_LONG = `the line is longer than ${MOST_LINE_LENGTH} characters`;

/**
 * The lines of a text in UTF-8, as many at a time as came together; null for each that is too long. A
 * line ends at a line feed: a carriage return before it is left to whoever reads the line. What follows
 * the last line feed is a line unless it is empty. A byte order mark before the text is none of it.
 */
export async function* readLines(stream: Readable): AsyncGenerator<(string | null)[]> {
  // Whole characters, wherever the chunks are cut.
  stream.setEncoding('utf8');
  let begun = false;
  let rest = '';
  /** The line under way is too long, and what came of it is gone. */
  let tooLong = false;
  for await (const chunk of stream as AsyncIterable<string>) {
    const text = begun ? rest + chunk : chunk.replace(/^\uFEFF/, '');
    begun = true;
    const lines: (string | null)[] = text.split('\n').map(unlessTooLong);
    if (tooLong) lines[0] = null;
    const last = lines.pop()!;
    tooLong = last === null;
    rest = last ?? '';
    if (lines.length > 0) yield lines;
  }
  if (tooLong) yield [null];
  else if (rest !== '') yield [rest];
}

const unlessTooLong = (line: string): string | null => (line.length > MOST_LINE_LENGTH ? null : line);
