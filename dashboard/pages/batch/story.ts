import type { Batch } from '../../../shared/wire/batch.ts';

/** What happened to a batch, in order: stages as chapters, and in each what was noted, drawn and moved. Pure. */

export type Item = { at: string } & (
  | { kind: 'entry'; entry: Batch['entries'][number] }
  | { kind: 'draw'; draw: Batch['draws'][number] }
  | { kind: 'move'; move: Batch['moves'][number] }
);

export interface Chapter {
  /** Undefined before the first stage. */
  stage: Batch['stages'][number] | undefined;
  at: string;
  /** When the next began; undefined of the last. */
  until: string | undefined;
  items: Item[];
}

const inTime = <T extends { at: string }>(list: readonly T[]): T[] =>
  list.toSorted((a, b) => Date.parse(a.at) - Date.parse(b.at));

export function storyOf(batch: Pick<Batch, 'opened' | 'stages' | 'entries' | 'draws' | 'moves'>): Chapter[] {
  const stages = inTime(batch.stages);
  const chapters: Chapter[] = [undefined, ...stages].map((stage, i) => ({
    stage,
    at: stage?.at ?? batch.opened,
    until: stages[i]?.at,
    items: [],
  }));
  const items = inTime<Item>([
    ...batch.draws.map((draw): Item => ({ kind: 'draw', at: draw.at, draw })),
    ...batch.entries.map((entry): Item => ({ kind: 'entry', at: entry.at, entry })),
    ...batch.moves.map((move): Item => ({ kind: 'move', at: move.at, move })),
  ]);
  for (const item of items) {
    const begun = chapters.findLastIndex(
      ({ stage, at }) => stage !== undefined && Date.parse(at) <= Date.parse(item.at),
    );
    chapters[Math.max(0, begun)]!.items.push(item);
  }
  return chapters.filter(({ stage, items: found }) => stage !== undefined || found.length > 0);
}
