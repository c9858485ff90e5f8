import { DROP_ACTION, dropAfter, type WantedDrop } from '../drops.ts';
import { type PackedResults, type PackedUnit, packUnits, ResultsOf } from '../packed-units.ts';
import { ReadingRecords } from '../reading-records.ts';
import { type NewAction, type NewAlarmEvent, type Photograph, StoreError } from '../store.ts';
import { AlarmProjection } from './alarm-projection.ts';
import {
  type AlarmEventRow,
  actionLine,
  alarmEventLine,
  firstLink,
  firstSealLink,
  NO_DEEDS,
  nextDeedsLink,
  nextLink,
  type SiteRow,
  siteChecksum,
  snapshotChecksum,
} from './chain.ts';
import type { WritableDatabase } from './database.ts';
import { Dropper } from './dropper.ts';
import { channelsOf, Journal } from './journal.ts';
import { KnownReadings } from './known-readings.ts';
import { Pages } from './pages.ts';
import type { CheckedSeal } from './seal-check.ts';
import type { MadeSeal } from './seal-maker.ts';
import { Sealer } from './sealer.ts';

/** So many pictures of a site wait for their seal: those of an hour at most. */
const MOST_WAITING = 500;

interface Channel {
  id: number;
  name: readonly [vessel: string, channel: string];
  /** The latest time of its readings: what is later is not there yet. */
  newestMs: number;
  /** The latest time of its sealed readings. */
  sealedToMs: number;
  /** Those that are not sealed; unpacked only where one comes that is not later than all. */
  known: KnownReadings | null;
  /** Every ms from `from` up to but not including `to` is known to have a reading. */
  taken: { from: number; to: number };
}

interface Site extends SiteRow {
  id: number;
  /** `lastPosition` as it is in the database. */
  storedPosition: number;
  /** The link of its deeds. */
  deeds: string;
  /** Everything up to this position is sealed. */
  sealedTo: number;
  /** By their id. */
  channels: Map<number, Channel>;
  /** By `VESSEL/CHANNEL`. */
  byName: Map<string, Channel>;
}

/** What a unit under way has added to its site. */
interface OpenBlock {
  /** By the id of their channel; only the first `count` are there. */
  readings: ReadingRecords;
  count: number;
  log: string[];
  /** Of all readings of the unit. */
  channels: readonly Channel[];
}

/** The store's one writer. Synchronous: it has a thread of its own. */
export class SqliteWriter {
  readonly #opened: WritableDatabase;
  readonly #sql;
  readonly #alarms: AlarmProjection;
  readonly #journal: Journal;
  readonly #pages: Pages;
  readonly #sealer: Sealer;
  readonly #sealing;
  readonly #dropper: Dropper;
  readonly #dropping;
  readonly #forwarding;
  readonly #transaction;
  /** What the database holds; forgotten when a transaction is rolled back. */
  readonly #sites = new Map<string, Site>();
  #intruder: StoreError | null = null;
  #open: OpenBlock = { readings: ReadingRecords.ofLength(0), count: 0, log: [], channels: [] };

  constructor(opened: WritableDatabase) {
    const { database } = opened;
    this.#opened = opened;
    this.#alarms = new AlarmProjection(database);
    this.#journal = new Journal(database);
    this.#pages = new Pages(database);
    this.#sealer = new Sealer(database);
    this.#dropper = new Dropper(database);
    this.#sql = {
      site: database.prepare<
        [string],
        {
          id: number;
          lastPosition: number;
          judgedPosition: number | null;
          judgedAtMs: number | null;
          deeds: string;
          cameWithout: number | null;
        }
      >(
        `SELECT id, last_position AS lastPosition, judged_position AS judgedPosition,
                judged_at_ms AS judgedAtMs, deeds, came_without AS cameWithout FROM site WHERE name = ?`,
      ),
      lastPosition: database.prepare<[number], number>('SELECT last_position FROM site WHERE id = ?').pluck(),
      head: database
        .prepare<[number], Buffer>('SELECT link FROM block WHERE site_id = ? ORDER BY position DESC LIMIT 1')
        .pluck(),
      newBlock: database.prepare<[number, number, Buffer, Uint8Array]>(
        'INSERT INTO block (site_id, position, link, readings) VALUES (?, ?, ?, ?)',
      ),
      newestSeal: database.prepare<[number], { toPosition: number; head: Buffer; link: Buffer }>(
        `SELECT to_position AS toPosition, head, link FROM seal WHERE site_id = ?
         ORDER BY to_position DESC LIMIT 1`,
      ),
      storedSnapshot: database.prepare<[number], { position: number; state: string }>(
        'SELECT position, state FROM snapshot WHERE site_id = ?',
      ),
      newSite: database.prepare<[string]>('INSERT INTO site (name) VALUES (?)'),
      progress: database.prepare<
        [number, number | null, number | null, string, number | null, Buffer, number]
      >(
        `UPDATE site SET last_position = ?, judged_position = ?, judged_at_ms = ?, deeds = ?, came_without = ?,
                checksum = ?
         WHERE id = ?`,
      ),
      snapshot: database.prepare<[number, number, string]>(
        'INSERT OR REPLACE INTO snapshot (site_id, position, state) VALUES (?, ?, ?)',
      ),
      channels: database.prepare<[number], { id: number; vessel: string; name: string }>(
        'SELECT id, vessel, name FROM channel WHERE site_id = ?',
      ),
      newChannel: database.prepare<[number, string, string]>(
        'INSERT INTO channel (site_id, vessel, name) VALUES (?, ?, ?)',
      ),
      newAction: database.prepare<[number, number, string, number, number, string, string]>(
        `INSERT INTO action (site_id, position, action, at_ms, arrived_ms, by, body)
         VALUES (?, ?, ?, ?, ?, ?, ?)`,
      ),
      // The same picture may come again: it is kept once.
      newPhotograph: database.prepare<[string, string, Uint8Array]>(
        'INSERT INTO photograph (sha256, type, content) VALUES (?, ?, ?) ON CONFLICT DO NOTHING',
      ),
      newWaiting: database.prepare<[string, string, string, Uint8Array]>(
        `INSERT INTO forwarded_photograph (site, sha256, type, content) VALUES (?, ?, ?, ?)
         ON CONFLICT DO NOTHING`,
      ),
      countWaiting: database
        .prepare<[string], number>('SELECT count(*) FROM forwarded_photograph WHERE site = ?')
        .pluck(),
      moveWaiting: database.prepare<[string, string]>(
        `INSERT INTO photograph (sha256, type, content)
         SELECT sha256, type, content FROM forwarded_photograph WHERE site = ? AND sha256 = ?
         ON CONFLICT DO NOTHING`,
      ),
      dropWaiting: database.prepare<[string, string]>(
        'DELETE FROM forwarded_photograph WHERE site = ? AND sha256 = ?',
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
    this.#sealing = database.transaction((name: string, made: MadeSeal) => this.#putSeal(name, made));
    this.#forwarding = database.transaction((name: string, seal: CheckedSeal) =>
      this.#putForwarded(name, seal),
    );
    this.#dropping = database.transaction((name: string, wanted: WantedDrop, nowMs: number) =>
      this.#drop(name, wanted, nowMs),
    );
    this.#transaction = database.transaction((units: readonly PackedUnit[]) =>
      units.map((unit) => this.#writeUnit(unit)),
    );
  }

  write(units: readonly PackedUnit[]): readonly PackedResults[] {
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
   * Puts a seal that was made in the place of its blocks. Gives false, and changes nothing, where they are not there
   * any more, or not the next. Throws `store-write-failed`.
   */
  putSeal(name: string, made: MadeSeal): boolean {
    return this.#attempt(() => this.#sealing.immediate(name, made));
  }

  /**
   * Drops what a drop names of a site, or a part of it, and says so in its history. Gives whether there was
   * anything; more may be left. Throws `store-write-failed`.
   */
  drop(name: string, wanted: WantedDrop, nowMs: number): boolean {
    return this.#attempt(() => this.#dropping.immediate(name, wanted, nowMs));
  }

  close(): void {
    this.#opened.close();
  }

  #writeUnit(unit: PackedUnit): PackedResults {
    // A site begins with its first entry.
    if (unit.count === 0 && this.#sql.site.get(unit.site) === undefined)
      return { site: unit.site, entries: new ResultsOf(0).packed };
    const site = this.#site(unit.site);
    // It would go on otherwise than where it is watched, and nothing of it could come any more.
    if (site.cameWithout !== null)
      throw new StoreError('store-write-failed', `${unit.site} is watched by another daemon`);
    const results = this.#writeEntries(site, unit);
    const { readings, count, log } = this.#open;
    if (count + log.length > 0) {
      const block = { readings: readings.first(count), log };
      const channels = channelsOf(new ReadingRecords(block.readings), (id) => site.channels.get(id)!.name);
      site.head = nextLink(site.head, { ...block, channels });
      this.#sql.newBlock.run(site.id, site.lastPosition, site.head, block.readings);
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
    return { site: unit.site, entries: results.packed };
  }

  #writeEntries(site: Site, { count, channels, readings, others }: PackedUnit): ResultsOf {
    const given = new ReadingRecords(readings);
    const own = channels.map(({ vessel, channel }) => this.#channel(site, vessel, channel));
    this.#open = { readings: ReadingRecords.ofLength(given.length), count: 0, log: [], channels: own };
    const results = new ResultsOf(count);
    let other = 0;
    for (let place = 0; place < count; place++) {
      if (others[other]?.place === place) this.#writeOther(site, others[other++]!, results);
      else {
        const i = place - other;
        this.#writeReading(site, own[given.channel(i)]!, given, i, results);
      }
    }
    return results;
  }

  #putSite(site: Site): void {
    const { lastPosition, judgedPosition, judgedAtMs, deeds, cameWithout, id } = site;
    const checksum = siteChecksum(site);
    this.#sql.progress.run(lastPosition, judgedPosition, judgedAtMs, deeds, cameWithout, checksum, id);
    site.storedPosition = lastPosition;
  }

  #putSeal(name: string, made: MadeSeal): boolean {
    if (this.#sql.site.get(name) === undefined) return false;
    const site = this.#site(name);
    if (site.sealedTo !== made.from - 1 || !this.#sealer.fits(site.id, made)) return false;
    this.#sealer.put(site.id, made);
    site.sealedTo = made.to;
    site.sealLink = Buffer.from(made.link);
    // What is known of each channel was before.
    for (const channel of site.channels.values()) {
      channel.sealedToMs = this.#pages.sealedToMs(channel.id);
      channel.known = null;
    }
    this.#putSite(site);
    return true;
  }

  /** Puts a seal that came and was checked after those that are there. Gives why it cannot be, or null. */
  putForwarded(name: string, seal: CheckedSeal): 'own' | 'not-next' | null {
    return this.#attempt(() => this.#forwarding.immediate(name, seal));
  }

  #putForwarded(name: string, seal: CheckedSeal): 'own' | 'not-next' | null {
    const known = this.#sql.site.get(name);
    if (known !== undefined && known.cameWithout === null) return 'own';
    const site = this.#site(name);
    const before = site.sealLink ?? firstSealLink(name);
    if (site.sealedTo !== seal.from - 1 || !before.equals(seal.before)) return 'not-next';
    for (const { position, ...row } of seal.actions) {
      this.#sql.newAction.run(site.id, position, row.action, row.atMs, row.arrivedMs, row.by, row.body);
      site.deeds = nextDeedsLink(site.deeds, position, row);
    }
    for (const { sha256 } of seal.photographs) {
      this.#sql.moveWaiting.run(name, sha256);
      this.#sql.dropWaiting.run(name, sha256);
    }
    for (const { position, ...row } of seal.alarmEvents) this.#putAlarmEvent(site, position, row);
    const pages = seal.pages.map((page) => ({
      ...page,
      channelId: this.#channel(site, page.vessel, page.channel).id,
    }));
    this.#sealer.put(site.id, { ...seal, pages });
    const isDropped = seal.without > 0 || seal.actions.some(({ action }) => action === DROP_ACTION);
    site.cameWithout = isDropped ? this.#dropper.unexplained(site.id) : (site.cameWithout ?? 0);
    site.lastPosition = seal.to;
    site.sealedTo = seal.to;
    site.sealLink = Buffer.from(seal.link);
    site.head = Buffer.from(seal.head);
    this.#putSite(site);
    return null;
  }

  /** Keeps a picture for a seal that is to come; false where too many wait. */
  awaitPhotograph(name: string, { sha256, type, content }: Photograph): boolean {
    return this.#attempt(() => {
      if (this.#sql.countWaiting.get(name)! >= MOST_WAITING) return false;
      this.#sql.newWaiting.run(name, sha256, type, content);
      return true;
    });
  }

  #drop(name: string, wanted: WantedDrop, nowMs: number): boolean {
    const known = this.#sql.site.get(name);
    if (known === undefined || known.cameWithout !== null) return false;
    const siteId = known.id;
    const last = this.#dropper.last(siteId);
    // What was said last may not have been done to its end.
    let found = last === null ? undefined : this.#dropper.find(siteId, last);
    if (found === undefined || found.size === 0) {
      const drop = dropAfter(last, wanted);
      if (drop === null) return false;
      found = this.#dropper.find(siteId, drop);
      if (found.size === 0) return false;
      const times = { atMs: nowMs, arrivedMs: nowMs };
      const entry: NewAction = { kind: 'action', action: DROP_ACTION, by: 'daemon', body: drop, ...times };
      for (const unit of packUnits([{ site: name, entries: [entry] }])) this.#writeUnit(unit);
    }
    this.#dropper.drop(siteId, found);
    return true;
  }

  #writeOther(
    site: Site,
    { place, entry }: { place: number; entry: NewAction | NewAlarmEvent },
    results: ResultsOf,
  ): void {
    const position =
      entry.kind === 'action' ? this.#writeAction(site, entry) : this.#writeAlarmEvent(site, entry);
    if (position === null) results.duplicate(place);
    else results.stored(place, position, entry.atMs);
  }

  #writeReading(site: Site, channel: Channel, given: ReadingRecords, i: number, results: ResultsOf): void {
    const place = given.position(i);
    let atMs = given.atMs(i);
    if (given.stamped(i)) atMs = this.#nextFreeMs(site, channel, atMs);
    else if (atMs <= channel.newestMs) {
      const seq = given.seq(i);
      const storedValue =
        this.#known(site, channel).valueOf(atMs, seq) ?? this.#sealedValue(channel, atMs, seq);
      if (storedValue !== undefined) {
        if (storedValue === given.value(i)) results.duplicate(place);
        else results.conflict(place, storedValue);
        return;
      }
    }
    const open = this.#open;
    const position = ++site.lastPosition;
    open.readings.copy(open.count, given, i, channel.id, position, atMs);
    channel.known?.add(open.readings, open.count);
    open.count++;
    if (atMs > channel.newestMs) channel.newestMs = atMs;
    results.stored(place, position, atMs);
  }

  /** What a channel has that is not sealed. Unpacks it for all channels of the unit under way, in one go. */
  #known(site: Site, channel: Channel): KnownReadings {
    if (channel.known !== null) return channel.known;
    const known = new Map<number, KnownReadings>();
    for (const one of [channel, ...this.#open.channels]) {
      if (one.known !== null) continue;
      one.known = new KnownReadings();
      known.set(one.id, one.known);
    }
    const add = (readings: ReadingRecords, count: number): void => {
      for (let i = 0; i < count; i++) known.get(readings.channel(i))?.add(readings, i);
    };
    for (const { readings } of this.#journal.after(site.id, site.sealedTo)) add(readings, readings.length);
    add(this.#open.readings, this.#open.count);
    return known.get(channel.id)!;
  }

  /** What a sealed reading of the same identity says. */
  #sealedValue(channel: Channel, atMs: number, seq: number | null): number | undefined {
    if (atMs > channel.sealedToMs) return undefined;
    for (const page of this.#pages.ofChannel(channel.id, atMs, atMs)) {
      const readings = this.#pages.readings(page);
      for (let i = 0; i < readings.atMs.length; i++) {
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
  #nextFreeMs(site: Site, channel: Channel, atMs: number): number {
    // A burst that is stamped with the same ms goes on where it left off: each looking from `atMs` on
    // would make the time for a burst grow with its square.
    if (atMs < channel.taken.from || atMs > channel.taken.to) channel.taken = { from: atMs, to: atMs };
    while (this.#isTaken(site, channel, channel.taken.to)) channel.taken.to++;
    return channel.taken.to++;
  }

  #isTaken(site: Site, channel: Channel, atMs: number): boolean {
    if (atMs > channel.newestMs) return false;
    return this.#known(site, channel).hasAny(atMs) || this.#hasSealed(channel, atMs);
  }

  /** Gives its position. */
  #writeAction(site: Site, { action, atMs, arrivedMs, by: given, body, photograph }: NewAction): number {
    // As the database holds it: a lone surrogate is no text.
    const by = given.toWellFormed();
    const position = ++site.lastPosition;
    const row = { action, atMs, arrivedMs, by, body: JSON.stringify(body) };
    this.#sql.newAction.run(site.id, position, action, atMs, arrivedMs, by, row.body);
    this.#open.log.push(actionLine(position, row));
    site.deeds = nextDeedsLink(site.deeds, position, row);
    if (photograph !== undefined)
      this.#sql.newPhotograph.run(photograph.sha256, photograph.type, photograph.content);
    return position;
  }

  /** Gives its position; null for one that is there. */
  #writeAlarmEvent(site: Site, event: NewAlarmEvent): number | null {
    if (this.#sql.sameAlarmEvent.get(site.id, event.key) !== undefined) return null;
    const position = ++site.lastPosition;
    const row = { ...event, body: JSON.stringify(event.body) };
    this.#putAlarmEvent(site, position, row);
    this.#open.log.push(alarmEventLine(position, row));
    return position;
  }

  #putAlarmEvent(site: Site, position: number, row: AlarmEventRow): void {
    this.#sql.newAlarmEvent.run(
      site.id,
      position,
      row.key,
      row.id,
      row.vessel,
      row.alarm,
      row.event,
      row.priority,
      row.atMs,
      row.arrivedMs,
      row.body,
    );
    const event = { ...row, kind: 'alarm', body: JSON.parse(row.body) as unknown } as NewAlarmEvent;
    this.#alarms.apply(site, position, event);
  }

  #site(name: string): Site {
    if (this.#intruder !== null) throw this.#intruder;
    let site = this.#sites.get(name);
    if (site) this.#refuseIntruder(site);
    else {
      const row = this.#sql.site.get(name) ?? {
        id: Number(this.#sql.newSite.run(name).lastInsertRowid),
        lastPosition: 0,
        judgedPosition: null,
        judgedAtMs: null,
        deeds: NO_DEEDS,
        cameWithout: null,
      };
      const snapshot = this.#sql.storedSnapshot.get(row.id);
      const seal = this.#sql.newestSeal.get(row.id);
      site = {
        ...row,
        name,
        storedPosition: row.lastPosition,
        head: this.#sql.head.get(row.id) ?? seal?.head ?? firstLink(name),
        sealLink: seal?.link ?? null,
        sealedTo: seal?.toPosition ?? 0,
        snapshot: snapshot === undefined ? null : snapshotChecksum(snapshot.position, snapshot.state),
        channels: new Map(),
        byName: new Map(),
      };
      for (const channel of this.#sql.channels.all(row.id)) this.#addChannel(site, channel);
      for (const { readings } of this.#journal.after(site.id, site.sealedTo)) {
        for (let i = 0; i < readings.length; i++) {
          const channel = site.channels.get(readings.channel(i));
          if (channel !== undefined) channel.newestMs = Math.max(channel.newestMs, readings.atMs(i));
        }
      }
      this.#sites.set(name, site);
    }
    return site;
  }

  /**
   * Throws where somebody has written who took the lock away: nothing is written here any more then, since what the
   * other does is not known.
   */
  #refuseIntruder({ id, storedPosition }: Site): void {
    if (this.#sql.lastPosition.get(id) === storedPosition) return;
    this.#intruder = new StoreError('store-in-use', 'another process writes this store');
    throw this.#intruder;
  }

  #channel(site: Site, vessel: string, name: string): Channel {
    const path = `${vessel}/${name}`;
    const found = site.byName.get(path);
    if (found !== undefined) return found;
    const id = Number(this.#sql.newChannel.run(site.id, vessel, name).lastInsertRowid);
    return this.#addChannel(site, { id, vessel, name });
  }

  #addChannel(site: Site, { id, vessel, name }: { id: number; vessel: string; name: string }): Channel {
    const sealedToMs = this.#pages.sealedToMs(id);
    const channel: Channel = {
      id,
      name: [vessel, name],
      newestMs: sealedToMs,
      sealedToMs,
      known: null,
      taken: { from: 0, to: 0 },
    };
    site.channels.set(id, channel);
    site.byName.set(`${vessel}/${name}`, channel);
    return channel;
  }
}
