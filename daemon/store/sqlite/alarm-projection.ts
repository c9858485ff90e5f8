import type Database from 'better-sqlite3';
import { nextAlarmState } from '../alarm-state.ts';
import type { AlarmRow, NewAlarmEvent } from '../store.ts';

/** Whether an alarm still wants somebody's eye. */
export const isOpenAlarm = ({ standing, acknowledged }: AlarmRow): boolean =>
  standing || acknowledged === null;

/** Keeps the table of alarms at the newest state that their events make. Run inside a transaction. */
export class AlarmProjection {
  readonly #database: Database.Database;
  readonly #find;
  readonly #put;

  constructor(database: Database.Database) {
    this.#database = database;
    this.#find = database
      .prepare<[number, string], string>('SELECT state FROM alarm WHERE site_id = ? AND id = ?')
      .pluck();
    this.#put = database.prepare<[number, string, number, string, number, number, string]>(
      `INSERT OR REPLACE INTO alarm (site_id, id, position, vessel, at_ms, open, state)
       VALUES (?, ?, ?, ?, ?, ?, ?)`,
    );
  }

  apply(site: { id: number; name: string }, position: number, event: NewAlarmEvent): void {
    const stored = this.#find.get(site.id, event.id);
    const before = stored === undefined ? undefined : (JSON.parse(stored) as AlarmRow);
    const after = nextAlarmState(site.name, before, event);
    if (!after) return;
    this.#put.run(
      site.id,
      event.id,
      position,
      after.vessel,
      after.atMs,
      isOpenAlarm(after) ? 1 : 0,
      JSON.stringify(after),
    );
  }

  /** Makes the whole table again from the events. */
  remake(): void {
    this.#database.exec('DELETE FROM alarm');
    const events = this.#database
      .prepare<[], NewAlarmEvent & { siteId: number; site: string; position: number; body: string }>(
        `SELECT site_id AS siteId, name AS site, position, key, alarm_event.id, vessel, alarm, event,
                priority, at_ms AS atMs, arrived_ms AS arrivedMs, body
         FROM alarm_event JOIN site ON site.id = site_id ORDER BY site_id, position`,
      )
      .all();
    for (const { siteId, site, position, ...event } of events) {
      this.apply({ id: siteId, name: site }, position, { ...event, body: JSON.parse(event.body) });
    }
  }
}
