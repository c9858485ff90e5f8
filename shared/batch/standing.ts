import type { Batch } from '../wire/batch.ts';
import type { BatchEntry, EntryWhat } from '../wire/entries.ts';
import type { Stage } from '../wire/names.ts';

/** What is noted by hand of a batch, as it stands now. */

type Kind = EntryWhat['kind'];
export type Standing<K extends Kind = Kind> = Omit<BatchEntry, 'what'> & {
  what: Extract<EntryWhat, { kind: K }>;
};

/** Entries of a kind that were not corrected, in the order in which they were noted. */
export const standing = <K extends Kind>(entries: readonly BatchEntry[], kind: K): Standing<K>[] =>
  entries.filter(
    (entry): entry is BatchEntry & Standing<K> => entry.correctedBy === null && entry.what.kind === kind,
  );

type Test = Extract<EntryWhat, { kind: 'test' }>;
/** What of an entry it takes to find the newest test. */
export type Noted = Pick<BatchEntry, 'at' | 'what' | 'result' | 'correctedBy'>;

/** The newest standing test of its kind, by when it was so, from a time on (ISO 8601) to another. */
export function newestTest<Name extends Test['test']>(
  entries: readonly Noted[],
  test: Name,
  { since = '', until = '~' }: { since?: string; until?: string } = {},
): (Omit<Noted, 'what'> & { what: Extract<Test, { test: Name }> }) | undefined {
  let newest: (Noted & { what: Extract<Test, { test: Name }> }) | undefined;
  for (const entry of entries) {
    const { what, at, correctedBy } = entry;
    if (what.kind !== 'test' || what.test !== test) continue;
    if (correctedBy !== null || at < since || at > until || at < (newest?.at ?? '')) continue;
    newest = { ...entry, what: what as Extract<Test, { test: Name }> };
  }
  return newest;
}

/** Stages that leave the fuel as it is: what is measured in them is measured of the same fuel. */
const LEAVE_IT: readonly Stage[] = ['idle', 'methoxide', 'filter', 'test', 'finished', 'rejected', 'void'];

/**
 * Entries of the fuel as it was measured last. Crude fuel and the same when it was washed are not two fuels: of
 * what was noted, that of the last stage that changes the fuel counts, and cans noted within it add up. What is
 * done in a vessel with its glycerol changes no fuel.
 */
export function newestFuel<E extends Standing>(
  { stages, moves }: Pick<Batch, 'stages' | 'moves'>,
  of: readonly E[],
): E[] {
  const changesMs = stages
    .filter(({ stage, vessel, at }) => !LEAVE_IT.includes(stage) && !hadGlycerol(moves, vessel, at))
    .map(({ at }) => Date.parse(at));
  const places = of.map(({ at }) => changesMs.filter((change) => change <= Date.parse(at)).length);
  const last = Math.max(...places);
  return of.filter((_, i) => places[i] === last);
}

/** Whether glycerol was what was moved last into a vessel, by a time. */
export function hadGlycerol(moves: Batch['moves'], vessel: string, by: string): boolean {
  let last: Batch['moves'][number] | undefined;
  for (const move of moves)
    if (move.to === vessel && move.at <= by && move.at >= (last?.at ?? '')) last = move;
  return last?.what === 'glycerol';
}

/** Null, too, where it is not a number that can be told: of next to nothing, or of nothing. */
export function ratio(part: number | null, whole: number | null): number | null {
  const of = part === null || whole === null ? Number.NaN : part / whole;
  return Number.isFinite(of) ? of : null;
}

/** L or kg: sums of decimal fractions are not exact in binary ones. */
export const rounded = (amount: number): number => Math.round(amount * 1e9) / 1e9;

export const sum = (values: readonly number[]): number => values.reduce((total, value) => total + value, 0);
