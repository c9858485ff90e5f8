import {
  type EntryResult,
  type NewAction,
  type NewAlarmEvent,
  type NewEntry,
  type NewReading,
  StoreError,
  type WriteResult,
  type WriteUnit,
} from '../store.ts';
import { AlarmProjection } from './alarm-projection.ts';
import type { WritableDatabase } from './database.ts';

interface Channel {
  id: number;
  /** Every ms from `from` up to but not including `to` is known to have a reading. */
  taken: { from: number; to: number };
}

interface Site {
  id: number;
  name: string;
  lastPosition: number;
  /** By `VESSEL/CHANNEL`. */
  channels: Map<string, Channel>;
}

/** The store's one writer. Synchronous: it has a thread of its own. */
export class SqliteWriter {
  readonly #opened: WritableDatabase;
  readonly #sql;
  readonly #alarms: AlarmProjection;
  readonly #transaction;
  /** What the database holds; forgotten when a transaction is rolled back. */
  readonly #sites = new Map<string, Site>();

  constructor(opened: WritableDatabase) {
    const { database } = opened;
    this.#opened = opened;
    this.#alarms = new AlarmProjection(database);
    this.#sql = {
      site: database.prepare<[string], { id: number; lastPosition: number }>(
        'SELECT id, last_position AS lastPosition FROM site WHERE name = ?',
      ),
      newSite: database.prepare<[string]>('INSERT INTO site (name) VALUES (?)'),
      progress: database.prepare<[number, number]>('UPDATE site SET last_position = ? WHERE id = ?'),
      judged: database.prepare<[number, number, number]>(
        'UPDATE site SET judged_position = ?, judged_at_ms = ? WHERE id = ?',
      ),
      snapshot: database.prepare<[number, number, string]>(
        'INSERT OR REPLACE INTO snapshot (site_id, position, state) VALUES (?, ?, ?)',
      ),
      channel: database
        .prepare<[number, string, string], number>(
          'SELECT id FROM channel WHERE site_id = ? AND vessel = ? AND name = ?',
        )
        .pluck(),
      newChannel: database.prepare<[number, string, string]>(
        'INSERT INTO channel (site_id, vessel, name) VALUES (?, ?, ?)',
      ),
      sameReading: database
        .prepare<[number, number, number | string], number>(
          'SELECT value FROM reading WHERE channel_id = ? AND at_ms = ? AND stamped = 0 AND seq = ?',
        )
        .pluck(),
      anyReading: database
        .prepare<[number, number], number>('SELECT 1 FROM reading WHERE channel_id = ? AND at_ms = ? LIMIT 1')
        .pluck(),
      newReading: database.prepare<
        [number, number, number, number | string, number, number, number, number, string]
      >(
        `INSERT INTO reading
         (channel_id, at_ms, stamped, seq, value, site_id, position, arrived_ms, source)
         VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?)`,
      ),
      newAction: database.prepare<[number, number, string, number, number, string, string]>(
        `INSERT INTO action (site_id, position, action, at_ms, arrived_ms, by, body)
         VALUES (?, ?, ?, ?, ?, ?, ?)`,
      ),
      sameAlarmEvent: database
        .prepare<[number, string], number>('SELECT 1 FROM alarm_event WHERE site_id = ? AND key = ?')
        .pluck(),
      newAlarmEvent: database.prepare(
        `INSERT INTO alarm_event
         (site_id, position, key, id, vessel, alarm, event, priority, at_ms, arrived_ms, body)
         VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?)`,
      ),
    };
    this.#transaction = database.transaction((units: readonly WriteUnit[]) =>
      units.map((unit) => this.#writeUnit(unit)),
    );
  }

  write(units: readonly WriteUnit[]): readonly WriteResult[] {
    try {
      return this.#transaction.immediate(units);
    } catch (error) {
      this.#sites.clear();
      throw new StoreError(
        'store-write-failed',
        `nothing was stored: ${error instanceof Error ? error.message : String(error)}`,
      );
    }
  }

  close(): void {
    this.#opened.close();
  }

  #writeUnit(unit: WriteUnit): WriteResult {
    const site = this.#site(unit.site);
    const entries = unit.entries.map((entry) => this.#writeEntry(site, entry));
    this.#sql.progress.run(site.lastPosition, site.id);
    if (unit.judged) this.#sql.judged.run(unit.judged.position, unit.judged.atMs, site.id);
    if (unit.snapshot) this.#sql.snapshot.run(site.id, unit.snapshot.position, unit.snapshot.state);
    return { site: unit.site, entries };
  }

  #writeEntry(site: Site, entry: NewEntry): EntryResult {
    switch (entry.kind) {
      case 'reading':
        return this.#writeReading(site, entry);
      case 'action':
        return this.#writeAction(site, entry);
      case 'alarm':
        return this.#writeAlarmEvent(site, entry);
    }
  }

  #writeReading(site: Site, reading: NewReading): EntryResult {
    const channel = this.#channel(site, reading);
    const seq = reading.seq ?? '';
    let { atMs } = reading;
    if (reading.stamped) {
      atMs = this.#nextFreeMs(channel, atMs);
    } else {
      const storedValue = this.#sql.sameReading.get(channel.id, atMs, seq);
      if (storedValue !== undefined) {
        return storedValue === reading.value ? { result: 'duplicate' } : { result: 'conflict', storedValue };
      }
    }
    const position = ++site.lastPosition;
    this.#sql.newReading.run(
      channel.id,
      atMs,
      reading.stamped ? 1 : 0,
      seq,
      reading.value,
      site.id,
      position,
      reading.arrivedMs,
      reading.source,
    );
    return { result: 'stored', position, atMs };
  }

  /** The first ms from `atMs` on at which the channel has no reading. */
  #nextFreeMs(channel: Channel, atMs: number): number {
    // A burst that is stamped with the same ms goes on where it left off: each looking from `atMs` on
    // would make the time for a burst grow with its square.
    if (atMs < channel.taken.from || atMs > channel.taken.to) channel.taken = { from: atMs, to: atMs };
    while (this.#sql.anyReading.get(channel.id, channel.taken.to) !== undefined) channel.taken.to++;
    return channel.taken.to++;
  }

  #writeAction(site: Site, { action, atMs, arrivedMs, by, body }: NewAction): EntryResult {
    const position = ++site.lastPosition;
    this.#sql.newAction.run(site.id, position, action, atMs, arrivedMs, by, JSON.stringify(body));
    return { result: 'stored', position, atMs };
  }

  #writeAlarmEvent(site: Site, event: NewAlarmEvent): EntryResult {
    if (this.#sql.sameAlarmEvent.get(site.id, event.key) !== undefined) return { result: 'duplicate' };
    const position = ++site.lastPosition;
    this.#sql.newAlarmEvent.run(
      site.id,
      position,
      event.key,
      event.id,
      event.vessel,
      event.alarm,
      event.event,
      event.priority,
      event.atMs,
      event.arrivedMs,
      JSON.stringify(event.body),
    );
    this.#alarms.apply(site, position, event);
    return { result: 'stored', position, atMs: event.atMs };
  }

  #site(name: string): Site {
    let site = this.#sites.get(name);
    if (!site) {
      const row = this.#sql.site.get(name) ?? {
        id: Number(this.#sql.newSite.run(name).lastInsertRowid),
        lastPosition: 0,
      };
      site = { ...row, name, channels: new Map() };
      this.#sites.set(name, site);
    }
    return site;
  }

  #channel(site: Site, { vessel, channel: name }: NewReading): Channel {
    const path = `${vessel}/${name}`;
    let channel = site.channels.get(path);
    if (!channel) {
      const id =
        this.#sql.channel.get(site.id, vessel, name) ??
        Number(this.#sql.newChannel.run(site.id, vessel, name).lastInsertRowid);
      channel = { id, taken: { from: 0, to: 0 } };
      site.channels.set(path, channel);
    }
    return channel;
  }
}
