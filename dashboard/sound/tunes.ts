import type { Alarm } from '../../shared/wire/api.ts';
import { isGraver, PRIORITIES, type Priority } from '../../shared/wire/names.ts';

/** What alarms sound like, and which are to be heard; pure. */

/** `hz` from `atMs` on for `forMs`. */
export interface Note {
  hz: number;
  atMs: number;
  forMs: number;
}

/** So many of one pitch, or of two in turn. */
const notes = (pitches: readonly number[], count: number, forMs: number, pauseMs: number): Note[] =>
  Array.from({ length: count }, (_, i) => ({
    hz: pitches[i % pitches.length]!,
    atMs: i * (forMs + pauseMs),
    forMs,
  }));

/** The graver, the higher, the faster and the more: told apart without looking, by those who hear no high tones too. */
export const TUNES: Readonly<Record<Priority | 'lost', readonly Note[]>> = {
  critical: notes([1100, 740], 8, 130, 50),
  high: notes([830], 4, 180, 120),
  medium: notes([620], 2, 260, 200),
  low: notes([440], 1, 300, 0),
  /** The page is not live any more: nothing can be heard of what happens now. */
  lost: notes([330, 220], 2, 420, 80),
};

/** While a critical alarm stands and nobody has seen it, its tune comes again so often, ms. */
export const AGAIN_MS = 5000;

/** While whoever works alone is asked and has not answered, a warning comes again so often, ms. */
export const ASKED_AGAIN_MS = 20_000;

/** Alarms that somebody has yet to see, by id. */
export type Unseen = ReadonlyMap<string, Priority>;

export const unseenOf = (alarms: readonly Alarm[]): Unseen =>
  new Map(
    alarms
      .filter(({ standing, told, acknowledged }) => standing && told && acknowledged === null)
      .map(({ id, priority }) => [id, priority]),
  );

/** What is to be heard of a change: the gravest that is new, or graver than it was. */
export function newlyHeard(before: Unseen, now: Unseen): Priority | undefined {
  let gravest: Priority | undefined;
  for (const [id, priority] of now) {
    const was = before.get(id);
    if (was !== undefined && !isGraver(priority, was)) continue;
    if (gravest === undefined || isGraver(priority, gravest)) gravest = priority;
  }
  return gravest;
}

export const repeats = (unseen: Unseen): boolean =>
  [...unseen.values()].includes(PRIORITIES[PRIORITIES.length - 1]!);
