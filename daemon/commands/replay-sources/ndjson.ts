import type { Readable } from 'node:stream';
import { LINE_TOO_LONG, readLines } from './lines.ts';
import { type RefusedLine, type RunSource, refusedLine } from './source.ts';

/** A run as NDJSON. */
export async function* ndjsonRun(stream: Readable): RunSource {
  let before = 0;
  for await (const lines of readLines(stream)) {
    yield lines.includes(null)
      ? lines.flatMap((line, i) => line ?? tooLong(before + i + 1))
      : (lines as string[]);
    before += lines.length;
  }
}

/** With an empty line in its place, so that those after it keep their numbers. */
const tooLong = (line: number): (string | RefusedLine)[] => [refusedLine(line, LINE_TOO_LONG), ''];
