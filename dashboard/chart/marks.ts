import { isGraver, type Priority } from '../../shared/wire/names.ts';

/** Marks on a time axis: those that would lie on each other are gathered. Pure. */

export interface Mark {
  id: string;
  ms: number;
  /** Null of what somebody did. */
  priority: Priority | null;
}

export interface Gathered<M extends Mark> {
  /** Where it stands: the middle of what it gathers. */
  ms: number;
  fromMs: number;
  toMs: number;
  /** The gravest of them; null where none is an alarm. */
  priority: Priority | null;
  marks: M[];
}

/** Gathers marks that are nearer to the first of a group than `apartMs`. They come in the order of time. */
export function gather<M extends Mark>(marks: readonly M[], apartMs: number): Gathered<M>[] {
  const groups: Gathered<M>[] = [];
  for (const mark of marks) {
    const last = groups.at(-1);
    if (last !== undefined && mark.ms - last.fromMs < apartMs) {
      last.marks.push(mark);
      last.toMs = Math.max(last.toMs, mark.ms);
      last.ms = (last.fromMs + last.toMs) / 2;
      if (mark.priority !== null && (last.priority === null || isGraver(mark.priority, last.priority)))
        last.priority = mark.priority;
    } else {
      groups.push({ ms: mark.ms, fromMs: mark.ms, toMs: mark.ms, priority: mark.priority, marks: [mark] });
    }
  }
  return groups;
}
