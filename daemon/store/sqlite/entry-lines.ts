import type Database from 'better-sqlite3';
import { type ActionRow, type AlarmEventRow, actionLine, alarmEventLine, readingLine } from './chain.ts';

/** A stored entry as it goes into the chain, and where to look for it. */
export interface EntryLine {
  position: number;
  line: string;
  table: 'reading' | 'action' | 'alarm_event';
  atMs: number;
  arrivedMs: number;
  /** `VESSEL/CHANNEL` of a reading. */
  channel: string | null;
  channelId: number | null;
}

type InPositions = [siteId: number, from: number, to: number];
type Positioned<Row> = Row & { position: number };
interface ReadingRow {
  position: number;
  channelId: number;
  /** Null where there is no such channel in the site. */
  vessel: string | null;
  channel: string | null;
  atMs: number;
  stamped: number;
  seq: number | string;
  value: number;
  arrivedMs: number;
  source: 'device' | 'typed';
}

/** What a site has stored from one position to another, in order, as lines of its chain. */
export function* entryLines(
  database: Database.Database,
  ...between: InPositions
): IterableIterator<EntryLine> {
  const sources = [
    readingLines(database, between),
    actionLines(database, between),
    alarmEventLines(database, between),
  ];
  try {
    const next = sources.map((source) => source.next());
    for (;;) {
      let first = -1;
      for (const [i, { done, value }] of next.entries()) {
        if (!done && (first === -1 || value.position < next[first]!.value.position)) first = i;
      }
      if (first === -1) return;
      yield next[first]!.value;
      next[first] = sources[first]!.next();
    }
  } finally {
    // A query that is not read to its end keeps its connection busy.
    for (const source of sources) source.return?.();
  }
}

function* readingLines(database: Database.Database, between: InPositions): IterableIterator<EntryLine> {
  const rows = database
    .prepare<InPositions, ReadingRow>(
      `SELECT position, channel_id AS channelId, vessel, name AS channel, at_ms AS atMs, stamped, seq, value,
              arrived_ms AS arrivedMs, source
       FROM reading LEFT JOIN channel ON channel.id = channel_id AND channel.site_id = reading.site_id
       WHERE reading.site_id = ? AND position BETWEEN ? AND ? ORDER BY position`,
    )
    .iterate(...between);
  for (const { position, channelId, atMs, ...row } of rows) {
    const { vessel, channel, arrivedMs } = row;
    const reading = {
      ...row,
      vessel: vessel ?? '?',
      channel: channel ?? '?',
      stamped: row.stamped === 1,
      // Anything but a number that is there, or '' where there is none, makes another line.
      seq: row.seq === '' ? null : (row.seq as number),
    };
    const line = readingLine(position, reading, atMs);
    const isOdd = (row.stamped !== 0 && row.stamped !== 1) || (row.seq !== '' && typeof row.seq !== 'number');
    yield {
      position,
      line: isOdd ? `${line},odd` : line,
      table: 'reading',
      atMs,
      arrivedMs,
      channel: `${vessel}/${channel}`,
      channelId,
    };
  }
}

function* actionLines(database: Database.Database, between: InPositions): IterableIterator<EntryLine> {
  const rows = database
    .prepare<InPositions, Positioned<ActionRow>>(
      `SELECT position, action, at_ms AS atMs, arrived_ms AS arrivedMs, by, body FROM action
       WHERE site_id = ? AND position BETWEEN ? AND ? ORDER BY position`,
    )
    .iterate(...between);
  for (const row of rows) {
    const { position, atMs, arrivedMs } = row;
    const line = actionLine(position, row);
    yield { position, line, table: 'action', atMs, arrivedMs, channel: null, channelId: null };
  }
}

function* alarmEventLines(database: Database.Database, between: InPositions): IterableIterator<EntryLine> {
  const rows = database
    .prepare<InPositions, Positioned<AlarmEventRow>>(
      `SELECT position, key, id, vessel, alarm, event, priority, at_ms AS atMs, arrived_ms AS arrivedMs, body
       FROM alarm_event WHERE site_id = ? AND position BETWEEN ? AND ? ORDER BY position`,
    )
    .iterate(...between);
  for (const row of rows) {
    const { position, atMs, arrivedMs } = row;
    const line = alarmEventLine(position, row);
    yield { position, line, table: 'alarm_event', atMs, arrivedMs, channel: null, channelId: null };
  }
}
