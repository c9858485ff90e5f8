/** A line of a source that is no line of a run, by its number there. */
export interface RefusedLine {
  type: 'refused';
  line: number;
  because: string;
}

/** A recorded run: its lines, as many at a time as there are, and what had to be passed over. */
export type RunSource = AsyncIterable<readonly (string | RefusedLine)[]>;

export const refusedLine = (line: number, because: string): RefusedLine => ({
  type: 'refused',
  line,
  because,
});
