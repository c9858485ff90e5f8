import type Database from 'better-sqlite3';
import { type ActionRow, type AlarmEventRow, actionLine, alarmEventLine } from './chain.ts';

/** A stored entry that is no reading, as it goes into the chain. */
export interface LogLine {
  position: number;
  line: string;
  arrivedMs: number;
}

type InPositions = [siteId: number, from: number, to: number];
type Positioned<Row> = Row & { position: number };

/** What a site has stored from one position to another besides readings, in order. */
export class LogLines {
  readonly #actions;
  readonly #alarmEvents;

  constructor(database: Database.Database) {
    this.#actions = database.prepare<InPositions, Positioned<ActionRow>>(
      `SELECT position, action, at_ms AS atMs, arrived_ms AS arrivedMs, by, body FROM action
       WHERE site_id = ? AND position BETWEEN ? AND ? ORDER BY position`,
    );
    this.#alarmEvents = database.prepare<InPositions, Positioned<AlarmEventRow>>(
      `SELECT position, key, id, vessel, alarm, event, priority, at_ms AS atMs, arrived_ms AS arrivedMs, body
       FROM alarm_event WHERE site_id = ? AND position BETWEEN ? AND ? ORDER BY position`,
    );
  }

  between(...between: InPositions): LogLine[] {
    const lines: LogLine[] = [];
    for (const row of this.#actions.iterate(...between))
      lines.push({ position: row.position, arrivedMs: row.arrivedMs, line: actionLine(row.position, row) });
    for (const row of this.#alarmEvents.iterate(...between))
      lines.push({
        position: row.position,
        arrivedMs: row.arrivedMs,
        line: alarmEventLine(row.position, row),
      });
    return lines.sort((a, b) => a.position - b.position);
  }
}
