import type { Told } from './recorded-run.ts';

/** From when to when an alarm stood in a run, epoch ms; null where it stood to the end. */
export interface Episode {
  raisedMs: number;
  clearedMs: number | null;
}

/** When one alarm of one vessel came and went. One that becomes graver is raised again, and stands on. */
export function episodesOf(told: readonly Told[], of: { vessel: string; alarm: string }): Episode[] {
  const episodes: Episode[] = [];
  for (const { vessel, alarm, event, at } of told) {
    if (vessel !== of.vessel || alarm !== of.alarm) continue;
    const last = episodes.at(-1);
    const stands = last !== undefined && last.clearedMs === null;
    if (event === 'raised' && !stands) episodes.push({ raisedMs: Date.parse(at), clearedMs: null });
    if (event === 'cleared' && stands) last.clearedMs = Date.parse(at);
  }
  return episodes;
}

/**
 * What stands in place of an alarm where other limits are played: the one that stands at its time; else the next
 * one, as long as no later alarm of before is meant by it; else the last one since the alarm before was over.
 * Null: it would not have come.
 */
export function insteadOf(own: readonly Episode[], atMs: number, other: readonly Episode[]): Episode | null {
  const fromMs = own.findLast(({ raisedMs }) => raisedMs < atMs)?.clearedMs ?? Number.NEGATIVE_INFINITY;
  const toMs = own.find(({ raisedMs }) => raisedMs > atMs)?.raisedMs ?? Number.POSITIVE_INFINITY;
  return (
    other.find(({ raisedMs, clearedMs }) => raisedMs <= atMs && (clearedMs === null || clearedMs > atMs)) ??
    other.find(({ raisedMs }) => raisedMs >= atMs && raisedMs < toMs) ??
    other.findLast(({ raisedMs }) => raisedMs < atMs && raisedMs >= fromMs) ??
    null
  );
}
