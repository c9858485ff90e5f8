import { expect } from 'vitest';
import type { StoredEntry } from '../../daemon/store/store.ts';
import { Replay } from '../../shared/engine/replay.ts';
import type { LiveMessage } from '../../shared/wire/api.ts';
import { isGraver, type Priority } from '../../shared/wire/names.ts';
import { isoTime } from '../../shared/wire/time.ts';

/** An alarm that was raised or cleared, as a replay writes it. */
export interface AlarmLine {
  at: string;
  vessel: string;
  alarm: string;
  event: string;
  priority: string;
  late: boolean;
  value: number | null;
  limit: number | null;
  because: string;
  explainedBy: string | null;
}

const alarmLine = (line: AlarmLine): AlarmLine => {
  const { at, vessel, alarm, event, priority, late, value, limit, because, explainedBy } = line;
  return { at, vessel, alarm, event, priority, late, value, limit, because, explainedBy };
};

const isJudgement = ({ event }: { event: string }): boolean => event === 'raised' || event === 'cleared';

/** What the daemon stored. */
export const storedAlarms = (entries: readonly StoredEntry[]): AlarmLine[] =>
  entries.flatMap((entry) =>
    entry.kind === 'alarm' && isJudgement(entry)
      ? [alarmLine({ ...(entry.body as AlarmLine), ...entry, at: isoTime(entry.atMs) })]
      : [],
  );

/** What viewers were told of a site, each thing once: what is back from the shelf or speaks for itself, they hear again. */
export function toldAlarms(told: readonly LiveMessage[], site: string): AlarmLine[] {
  const lines: AlarmLine[] = [];
  const standing = new Map<string, Priority>();
  for (const message of told) {
    if (message.type !== 'alarm' || message.site !== site) continue;
    const before = standing.get(message.id);
    if (message.event === 'cleared') standing.delete(message.id);
    else if (before === undefined || isGraver(message.priority, before)) {
      standing.set(message.id, message.priority);
    } else continue;
    lines.push(alarmLine(message));
  }
  return lines;
}

/** Raised before a viewer can be there, who hears of it only where it comes back from the shelf. */
export const canBeSeen = ({ alarm, event }: AlarmLine): boolean =>
  alarm !== 'not-watching' || event !== 'raised';

/** What the rules say to the lines of a run, none of which may be refused. */
export function replayedAlarms(lines: readonly string[]): AlarmLine[] {
  const replay = new Replay();
  const out = [...lines.flatMap((line) => replay.push(line)), ...replay.end()] as ({
    type: string;
  } & AlarmLine)[];
  expect(out.filter(({ type }) => type !== 'alarm' && type !== 'summary')).toEqual([]);
  return out.filter(({ type }) => type === 'alarm').map(alarmLine);
}
