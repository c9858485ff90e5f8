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
import {
  actionLine,
  alarmEventLine,
  firstLink,
  nextLink,
  readingLine,
  type SiteRow,
  siteChecksum,
  snapshotChecksum,
} from './chain.ts';
import type { WritableDatabase } from './database.ts';
import { Pages } from './pages.ts';
import { Sealer } from './sealer.ts';

interface Channel {
  id: number;
  /** Every ms from `from` up to but not including `to` is known to have a reading. */
  taken: { from: number; to: number };
  /** The latest time of its sealed readings. */
  sealedToMs: number;
}

interface Site extends SiteRow {
  id: number;
  /** Everything up to this position is sealed, and this was the head then. */
  sealedTo: number;
  sealedHead: Buffer;
  /** By `VESSEL/CHANNEL`. */
  channels: Map<string, Channel>;
}

/** The store's one writer. Synchronous: it has a thread of its own. */
export class SqliteWriter {
  readonly #opened: WritableDatabase;
  readonly #sql;
  readonly #alarms: AlarmProjection;
  readonly #pages: Pages;
  readonly #sealer: Sealer;
  readonly #sealing;
  readonly #transaction;
  /** What the database holds; forgotten when a transaction is rolled back. */
  readonly #sites = new Map<string, Site>();
  /** What the unit under way adds to its site's chain. */
  #lines: string[] = [];

  constructor(opened: WritableDatabase) {
    const { database } = opened;
    this.#opened = opened;
    this.#alarms = new AlarmProjection(database);
    this.#pages = new Pages(database);
    this.#sealer = new Sealer(database);
    this.#sql = {
      site: database.prepare<
        [string],
        { id: number; lastPosition: number; judgedPosition: number | null; judgedAtMs: number | null }
      >(
        `SELECT id, last_position AS lastPosition, judged_position AS judgedPosition,
                judged_at_ms AS judgedAtMs FROM site WHERE name = ?`,
      ),
      head: database
        .prepare<[number], Buffer>('SELECT link FROM block WHERE site_id = ? ORDER BY position DESC LIMIT 1')
        .pluck(),
      newBlock: database.prepare<[number, number, Buffer]>(
        'INSERT INTO block (site_id, position, link) VALUES (?, ?, ?)',
      ),
      newestSeal: database.prepare<[number], { toPosition: number; head: Buffer; link: Buffer }>(
        `SELECT to_position AS toPosition, head, link FROM seal WHERE site_id = ?
         ORDER BY to_position DESC LIMIT 1`,
      ),
      storedSnapshot: database.prepare<[number], { position: number; state: string }>(
        'SELECT position, state FROM snapshot WHERE site_id = ?',
      ),
      newSite: database.prepare<[string]>('INSERT INTO site (name) VALUES (?)'),
      progress: database.prepare<[number, number | null, number | null, Buffer, number]>(
        'UPDATE site SET last_position = ?, judged_position = ?, judged_at_ms = ?, checksum = ? WHERE id = ?',
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
    this.#sealing = database.transaction((name: string, beforeMs: number) => this.#seal(name, beforeMs));
    this.#transaction = database.transaction((units: readonly WriteUnit[]) =>
      units.map((unit) => this.#writeUnit(unit)),
    );
  }

  write(units: readonly WriteUnit[]): readonly WriteResult[] {
    return this.#attempt(() => this.#transaction.immediate(units));
  }

  #attempt<T>(run: () => T): T {
    try {
      return run();
    } catch (error) {
      this.#sites.clear();
      if (error instanceof StoreError) throw error;
      throw new StoreError(
        'store-write-failed',
        `nothing was stored: ${error instanceof Error ? error.message : String(error)}`,
      );
    }
  }

  /**
   * Seals what a site has of before a time, or a part of it. Gives whether there was anything; more may be
   * left. Throws as `Sealer.seal` does, and `store-write-failed`.
   */
  seal(name: string, beforeMs: number): boolean {
    return this.#attempt(() => this.#sealing.immediate(name, beforeMs));
  }

  close(): void {
    this.#opened.close();
  }

  #writeUnit(unit: WriteUnit): WriteResult {
    const site = this.#site(unit.site);
    this.#lines = [];
    const entries = unit.entries.map((entry) => this.#writeEntry(site, entry));
    if (this.#lines.length > 0) {
      site.head = nextLink(site.head, this.#lines);
      this.#sql.newBlock.run(site.id, site.lastPosition, site.head);
    }
    if (unit.judged) {
      site.judgedPosition = unit.judged.position;
      site.judgedAtMs = unit.judged.atMs;
    }
    if (unit.snapshot) {
      const { position, state } = unit.snapshot;
      this.#sql.snapshot.run(site.id, position, state);
      site.snapshot = snapshotChecksum(position, state);
    }
    this.#putSite(site);
    return { site: unit.site, entries };
  }

  #putSite(site: Site): void {
    const { lastPosition, judgedPosition, judgedAtMs, id } = site;
    this.#sql.progress.run(lastPosition, judgedPosition, judgedAtMs, siteChecksum(site), id);
  }

  #seal(name: string, beforeMs: number): boolean {
    if (this.#sql.site.get(name) === undefined) return false;
    const site = this.#site(name);
    const { sealLink: link, sealedTo: toPosition } = site;
    const sealed = this.#sealer.seal({ ...site, sealed: { toPosition, link } }, beforeMs, site.sealedHead);
    if (sealed === undefined) return false;
    site.sealedTo = sealed.toPosition;
    site.sealLink = sealed.link;
    site.sealedHead = sealed.head;
    // What is known of each channel was before.
    for (const channel of site.channels.values()) channel.sealedToMs = this.#pages.sealedToMs(channel.id);
    this.#putSite(site);
    return true;
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
      const storedValue =
        this.#sql.sameReading.get(channel.id, atMs, seq) ?? this.#sealedValue(channel, atMs, reading.seq);
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
    this.#lines.push(readingLine(position, reading, atMs));
    return { result: 'stored', position, atMs };
  }

  /** What a sealed reading of the same identity says. */
  #sealedValue(channel: Channel, atMs: number, seq: number | null): number | undefined {
    if (atMs > channel.sealedToMs) return undefined;
    for (const page of this.#pages.ofChannel(channel.id, atMs, atMs)) {
      const readings = this.#pages.readings(page);
      for (let i = 0; i < page.count; i++) {
        if (readings.atMs[i] === atMs && !readings.stamped[i] && readings.seq[i] === seq)
          return readings.value[i];
      }
    }
    return undefined;
  }

  #hasSealed(channel: Channel, atMs: number): boolean {
    if (atMs > channel.sealedToMs) return false;
    return this.#pages
      .ofChannel(channel.id, atMs, atMs)
      .some((page) => Array.from(this.#pages.readings(page).atMs).includes(atMs));
  }

  /** The first ms from `atMs` on at which the channel has no reading. */
  #nextFreeMs(channel: Channel, atMs: number): number {
    // A burst that is stamped with the same ms goes on where it left off: each looking from `atMs` on
    // would make the time for a burst grow with its square.
    if (atMs < channel.taken.from || atMs > channel.taken.to) channel.taken = { from: atMs, to: atMs };
    while (this.#isTaken(channel, channel.taken.to)) channel.taken.to++;
    return channel.taken.to++;
  }

  #isTaken(channel: Channel, atMs: number): boolean {
    return this.#sql.anyReading.get(channel.id, atMs) !== undefined || this.#hasSealed(channel, atMs);
  }

  #writeAction(site: Site, { action, atMs, arrivedMs, by: given, body }: NewAction): EntryResult {
    // As the database holds it: a lone surrogate is no text.
    const by = given.toWellFormed();
    const position = ++site.lastPosition;
    const row = { action, atMs, arrivedMs, by, body: JSON.stringify(body) };
    this.#sql.newAction.run(site.id, position, action, atMs, arrivedMs, by, row.body);
    this.#lines.push(actionLine(position, row));
    return { result: 'stored', position, atMs };
  }

  #writeAlarmEvent(site: Site, event: NewAlarmEvent): EntryResult {
    if (this.#sql.sameAlarmEvent.get(site.id, event.key) !== undefined) return { result: 'duplicate' };
    const position = ++site.lastPosition;
    const body = JSON.stringify(event.body);
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
      body,
    );
    this.#lines.push(alarmEventLine(position, { ...event, body }));
    this.#alarms.apply(site, position, event);
    return { result: 'stored', position, atMs: event.atMs };
  }

  #site(name: string): Site {
    let site = this.#sites.get(name);
    if (!site) {
      const row = this.#sql.site.get(name) ?? {
        id: Number(this.#sql.newSite.run(name).lastInsertRowid),
        lastPosition: 0,
        judgedPosition: null,
        judgedAtMs: null,
      };
      const snapshot = this.#sql.storedSnapshot.get(row.id);
      const seal = this.#sql.newestSeal.get(row.id);
      site = {
        ...row,
        name,
        head: this.#sql.head.get(row.id) ?? seal?.head ?? firstLink(name),
        sealLink: seal?.link ?? null,
        sealedTo: seal?.toPosition ?? 0,
        sealedHead: seal?.head ?? firstLink(name),
        snapshot: snapshot === undefined ? null : snapshotChecksum(snapshot.position, snapshot.state),
        channels: new Map(),
      };
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
      channel = { id, taken: { from: 0, to: 0 }, sealedToMs: this.#pages.sealedToMs(id) };
      site.channels.set(path, channel);
    }
    return channel;
  }
}
