import { setImmediate } from 'node:timers/promises';
import type Database from 'better-sqlite3';
import { sentC } from '../../../shared/thermometer/correction.ts';
import type { Buckets, RawReadings } from '../../../shared/wire/api.ts';
import { isName, PRIORITIES } from '../../../shared/wire/names.ts';
import { isoTime } from '../../../shared/wire/time.ts';
import { photographHash } from '../photograph-hash.ts';
import {
  type AlarmHistory,
  type AlarmMoment,
  type AlarmRow,
  type AlarmSpan,
  type AlarmsDuringQuery,
  type AlarmsQuery,
  type CsvPart,
  type CsvPlace,
  type NewAction,
  type NewAlarmEvent,
  type Photograph,
  type ReadingsQuery,
  type SealCopy,
  type SiteChannel,
  type SiteHead,
  type SiteProgress,
  type StoredAction,
  type StoredEntry,
  StoreError,
  type TakenSeal,
} from '../store.ts';
import { type BucketGrid, bucketGrid } from './bucket-grid.ts';
import { type ActionRow, deedsLink, firstLink, siteChecksum, siteHead, snapshotChecksum } from './chain.ts';
import { COARSE_MS, finite } from './coarse.ts';
import { Journal } from './journal.ts';
import type { PageReadings } from './page-codec.ts';
import {
  HOUR_MS,
  hourOf,
  isWithoutReadings,
  MINUTE_MS,
  MINUTE_NUMBERS,
  type PageRow,
  Pages,
} from './pages.ts';
import type { CheckedSeal, SealCheck } from './seal-check.ts';
import { SealCopies } from './seal-copies.ts';
import { type MadeSeal, SealMaker } from './seal-maker.ts';
import { Unsealed, type UnsealedReadings } from './unsealed.ts';

type Stored<Entry> = Entry & { position: number };
type InPositions = [string, number, number];

const SITE_ID = '(SELECT id FROM site WHERE name = ?)';
const CHANNEL_ID = `(SELECT id FROM channel WHERE site_id = ${SITE_ID} AND vessel = ? AND name = ?)`;
const ACTION_COLUMNS = `'action' AS kind, position, action, at_ms AS atMs, arrived_ms AS arrivedMs, by, body`;

/** What a state of an alarm lacks that was written when there was no such thing yet. */
const NOT_THERE_BEFORE = { explainedBy: null, shelved: null };

const alarmRow = (state: string): AlarmRow => ({ ...NOT_THERE_BEFORE, ...parsed<AlarmRow>(state) });

/**
 * The most events of alarms that measures are taken from: twice those of a month with 300 alarms a day, which
 * nobody can manage any more. Counting more would hold the daemon up.
 */
const MOST_MOMENTS = 40_000;
/** No more positions are looked through at a time. */
const MOST_STEP = 100_000;
/** Readings of one part of a CSV: other queries wait for no more than that. */
const CSV_ROWS = 10_000;
/** The most alarms that are looked at for how long they stood. */
const MOST_SPANS = 1000;

/** Queries on a connection that cannot write. Synchronous: it has a thread of its own. */
export class SqliteReader {
  readonly #database: Database.Database;
  readonly #sql;
  readonly #pages: Pages;
  readonly #journal: Journal;
  readonly #unsealed: Unsealed;
  readonly #seals: SealMaker;
  readonly #copies: SealCopies;
  #check: SealCheck | undefined;

  constructor(database: Database.Database) {
    this.#database = database;
    this.#pages = new Pages(database);
    this.#journal = new Journal(database);
    this.#unsealed = new Unsealed(database);
    this.#seals = new SealMaker(database);
    this.#copies = new SealCopies(database);
    this.#sql = {
      sites: database.prepare<
        [],
        {
          site: string;
          lastPosition: number;
          judgedPosition: number | null;
          judgedAtMs: number;
          checksum: Buffer;
          cameWithout: number | null;
          blockHead: Buffer | null;
          sealedHead: Buffer | null;
          sealLink: Buffer | null;
          snapshotPosition: number | null;
          state: string;
        }
      >(
        `SELECT name AS site, last_position AS lastPosition, judged_position AS judgedPosition,
                judged_at_ms AS judgedAtMs, checksum, came_without AS cameWithout,
                snapshot.position AS snapshotPosition, state,
                block.link AS blockHead, seal.head AS sealedHead, seal.link AS sealLink
         FROM site
         LEFT JOIN snapshot ON snapshot.site_id = id
         LEFT JOIN block ON block.site_id = id
           AND block.position = (SELECT max(position) FROM block WHERE block.site_id = id)
         LEFT JOIN seal ON seal.site_id = id
           AND to_position = (SELECT max(to_position) FROM seal WHERE seal.site_id = id)
         ORDER BY name`,
      ),
      heads: database.prepare<
        [],
        {
          site: string;
          entries: number;
          blockHead: Buffer;
          sealedTo: number;
          sealedHead: Buffer;
          sealLink: Buffer | null;
        }
      >(
        `SELECT name AS site, last_position AS entries, seal.link AS sealLink,
                to_position AS sealedTo, seal.head AS sealedHead,
                coalesce(block.link, seal.head) AS blockHead
         FROM site
         LEFT JOIN block ON block.site_id = id AND block.position = last_position
         LEFT JOIN seal ON seal.site_id = id
           AND to_position = (SELECT max(to_position) FROM seal WHERE seal.site_id = id)
         WHERE blockHead IS NOT NULL ORDER BY name`,
      ),
      siteNames: database.prepare<[], string>('SELECT name FROM site').pluck(),
      siteId: database.prepare<[string], number>('SELECT id FROM site WHERE name = ?').pluck(),
      lastPosition: database
        .prepare<[string], number>('SELECT last_position FROM site WHERE name = ?')
        .pluck(),
      channelNames: database.prepare<[number], { id: number; vessel: string; channel: string }>(
        'SELECT id, vessel, name AS channel FROM channel WHERE site_id = ?',
      ),
      channelId: database.prepare<[string, string, string], number>(`SELECT ${CHANNEL_ID}`).pluck(),
      actionsBetween: database.prepare<InPositions, Stored<NewAction>>(
        `SELECT ${ACTION_COLUMNS} FROM action
         WHERE site_id = ${SITE_ID} AND position BETWEEN ? AND ? ORDER BY position`,
      ),
      alarmEventsBetween: database.prepare<InPositions, Stored<NewAlarmEvent>>(
        `SELECT 'alarm' AS kind, position, key, id, vessel, alarm, event, priority, at_ms AS atMs,
                arrived_ms AS arrivedMs, body
         FROM alarm_event WHERE site_id = ${SITE_ID} AND position BETWEEN ? AND ? ORDER BY position`,
      ),
      actions: database.prepare<[string], Stored<NewAction & ActionRow>>(
        `SELECT ${ACTION_COLUMNS} FROM action WHERE site_id = ${SITE_ID} ORDER BY position`,
      ),
      deeds: database.prepare<[string], string>('SELECT deeds FROM site WHERE name = ?').pluck(),
      channels: database.prepare<[string], { vessel: string; channel: string }>(
        `SELECT vessel, name AS channel FROM channel WHERE site_id = ${SITE_ID} ORDER BY vessel, name`,
      ),
      photograph: database.prepare<[string], Photograph>(
        'SELECT sha256, type, content FROM photograph WHERE sha256 = ?',
      ),
      pageBuckets: database
        .prepare<[bigint, bigint, number, number, number], BucketRow>(
          `SELECT (hour_ms - ?) / ? AS bucket, min(least), sum(sum), sum(count), max(most) FROM page
           WHERE channel_id = ? AND hour_ms BETWEEN ? AND ? GROUP BY bucket`,
        )
        .raw(),
      alarms: database
        .prepare<
          {
            site: string | null;
            vessel: string | null;
            open: number;
            alarm: string | null;
            fromMs: number;
            toMs: number;
            limit: number;
          },
          string
        >(
          `SELECT state FROM alarm
           WHERE (:site IS NULL OR site_id = (SELECT id FROM site WHERE name = :site))
             AND (:vessel IS NULL OR vessel = :vessel) AND open >= :open
             AND at_ms BETWEEN :fromMs AND :toMs AND (:alarm IS NULL OR state ->> 'alarm' = :alarm)
           ORDER BY at_ms DESC, position DESC LIMIT :limit`,
        )
        .pluck(),
      alarm: database
        .prepare<[string, string], string>(`SELECT state FROM alarm WHERE site_id = ${SITE_ID} AND id = ?`)
        .pluck(),
      alarmsDuring: database
        .prepare<AlarmsDuringQuery, string>(
          `SELECT state FROM alarm
           WHERE site_id = (SELECT id FROM site WHERE name = :site) AND vessel = :vessel AND at_ms <= :toMs
             AND ifnull(state ->> 'clearedAtMs', :toMs) >= :fromMs
           ORDER BY CASE state ->> 'priority'
               WHEN 'critical' THEN 0 WHEN 'high' THEN 1 WHEN 'medium' THEN 2 ELSE 3 END,
             at_ms DESC, position DESC LIMIT :limit`,
        )
        .pluck(),
      alarmMoments: database.prepare<[number, number, number], MomentRow>(
        `SELECT name AS site, vessel, alarm, alarm_event.id, event, priority, at_ms AS atMs,
                arrived_ms AS arrivedMs, body ->> 'late' AS late,
                body ->> 'explainedBy' IS NULL AND body ->> 'shelved' IS NULL AS told
         FROM alarm_event JOIN site ON site.id = site_id
         WHERE arrived_ms BETWEEN ? AND ? AND event IN ('raised', 'unshelved', 'unexplained', 'cleared')
         ORDER BY arrived_ms DESC, position DESC LIMIT ?`,
      ),
      alarmSpans: database.prepare<{ fromMs: number; toMs: number; limit: number }, AlarmSpan>(
        `SELECT name AS site, vessel, state ->> 'alarm' AS alarm, alarm.id, at_ms AS atMs,
                state ->> 'clearedAtMs' AS clearedAtMs
         FROM alarm JOIN site ON site.id = site_id
         WHERE at_ms <= :toMs AND ifnull(clearedAtMs, :toMs) >= :fromMs AND state ->> 'explainedBy' IS NULL
         ORDER BY min(ifnull(clearedAtMs, :toMs), :toMs) - at_ms DESC, position LIMIT :limit`,
      ),
    };
  }

  /** Several queries that see the same state. */
  #atOneMoment<T>(query: () => T): T {
    return this.#database.transaction(query)();
  }

  #entriesBetween(site: string, from: number, to: number): StoredEntry[] {
    return [
      ...this.#unsealedBetween(site, from, to),
      ...this.#sealedBetween(site, from, to),
      ...this.#sql.actionsBetween.all(site, from, to).map(withBody),
      ...this.#sql.alarmEventsBetween.all(site, from, to).map(withBody),
    ];
  }

  /** Readings of some positions that are not sealed. */
  #unsealedBetween(site: string, from: number, to: number): StoredEntry[] {
    const siteId = this.#sql.siteId.get(site);
    if (siteId === undefined) return [];
    const names = new Map(this.#sql.channelNames.all(siteId).map((channel) => [channel.id, channel]));
    const entries: StoredEntry[] = [];
    for (const { readings } of this.#journal.after(siteId, from - 1)) {
      for (let i = 0; i < readings.length; i++) {
        const position = readings.position(i);
        if (position < from) continue;
        if (position > to) return entries;
        const name = names.get(readings.channel(i));
        if (name === undefined)
          throw new StoreError('store-changed', `${site}: entry ${position} is damaged; verify says where`);
        const { vessel, channel } = name;
        entries.push({
          kind: 'reading',
          position,
          vessel,
          channel,
          atMs: readings.atMs(i),
          arrivedMs: readings.arrivedMs(i),
          value: readings.value(i),
          seq: readings.seq(i),
          source: readings.source(i),
          stamped: readings.stamped(i),
        });
      }
    }
    return entries;
  }

  /** Sealed readings of some positions. */
  #sealedBetween(site: string, from: number, to: number): StoredEntry[] {
    const id = this.#sql.siteId.get(site);
    if (id === undefined) return [];
    const entries: StoredEntry[] = [];
    for (const page of this.#pages.inPositions(id, from, to)) {
      const { vessel, channel } = page;
      const { position, atMs, arrivedMs, value, seq, stamped, source } = this.#pages.readings(page);
      for (let i = 0; i < position.length; i++) {
        if (position[i]! < from || position[i]! > to) continue;
        entries.push({
          kind: 'reading',
          position: position[i]!,
          vessel,
          channel,
          atMs: atMs[i]!,
          arrivedMs: arrivedMs[i]!,
          value: value[i]!,
          seq: seq[i]!,
          source: source[i]!,
          stamped: stamped[i]!,
        });
      }
    }
    return entries;
  }

  sites(): readonly SiteProgress[] {
    return this.#sql.sites.all().map(({ site, snapshotPosition, state, ...row }) => {
      const { lastPosition, judgedPosition, judgedAtMs } = row;
      const checksum = siteChecksum({
        ...row,
        name: site,
        head: row.blockHead ?? row.sealedHead ?? firstLink(site),
        snapshot: snapshotPosition === null ? null : snapshotChecksum(snapshotPosition, state),
      });
      return {
        site,
        lastPosition,
        judged: judgedPosition === null ? null : { position: judgedPosition, atMs: judgedAtMs },
        snapshot: snapshotPosition === null ? null : { position: snapshotPosition, state },
        isForwarded: row.cameWithout !== null,
        isAsWritten: checksum.equals(row.checksum),
      };
    });
  }

  heads(): readonly SiteHead[] {
    return this.#sql.heads.all().map(({ site, entries, blockHead, sealedTo, sealedHead, sealLink }) => ({
      site,
      entries,
      head: siteHead(sealLink, blockHead).toString('hex'),
      sealed:
        sealLink === null
          ? null
          : { entries: sealedTo, head: siteHead(sealLink, sealedHead).toString('hex') },
    }));
  }

  entriesAfter(site: string, position: number, limit: number): readonly StoredEntry[] {
    return this.#atOneMoment(() => {
      const last = this.#sql.lastPosition.get(site) ?? 0;
      // Where readings were dropped the way to what follows may be long.
      let step = limit;
      for (let from = position + 1; from <= last; from += step, step = Math.min(2 * step, MOST_STEP)) {
        const entries = this.#entriesBetween(site, from, from + step - 1);
        if (entries.length > 0) return entries.sort((a, b) => a.position - b.position).slice(0, limit);
      }
      return [];
    });
  }

  /**
   * Throws `store-changed` where they are not what was written: one of another form would be a mistake of whoever goes
   * by it.
   */
  actions(site: string): readonly StoredAction[] {
    return this.#atOneMoment(() => {
      const written = this.#sql.deeds.get(site);
      const rows = this.#sql.actions.all(site);
      if (written !== undefined && deedsLink(rows) !== written)
        throw new StoreError('store-changed', `${site}: what was done there is damaged; verify says where`);
      return rows.map(withBody);
    });
  }

  /**
   * A seal of what a site has of before a time, or of a part of it; null where there is nothing to be sealed. Other
   * queries come in between. Rejects as `SealMaker.prefix` throws.
   */
  async makeSeal(site: string, beforeMs: number): Promise<MadeSeal | null> {
    const prefix = this.#atOneMoment(() => this.#seals.prefix(site, beforeMs));
    if (prefix === null) return null;
    const making = this.#seals.make(prefix);
    for (;;) {
      const { done, value } = making.next();
      if (done) return value;
      await setImmediate();
    }
  }

  sealAfter(site: string, position: number): SealCopy | null {
    return this.#atOneMoment(() => this.#copies.after(site, position));
  }

  /** What `takeSeal` is to put in, or why not. What checks it is loaded when something is to be checked. */
  async checkSeal(site: string, bytes: Uint8Array): Promise<CheckedSeal | (TakenSeal & { taken: false })> {
    const { SealCheck, SealRefused } = await import('./seal-check.ts');
    this.#check ??= new SealCheck(this.#database);
    const check = this.#check;
    try {
      return this.#atOneMoment(() => check.checked(site, bytes));
    } catch (error) {
      if (error instanceof SealRefused) return { taken: false, code: error.code, because: error.message };
      throw error;
    }
  }

  channels(site: string): readonly SiteChannel[] {
    return this.#sql.channels.all(site);
  }

  rawReadings(query: ReadingsQuery): RawReadings {
    return this.#atOneMoment(() => {
      const readings: RawReadings = { t: [], value: [], seq: [] };
      for (const [t, value, seq, source, position] of this.#readings(query)) {
        readings.t.push(t);
        readings.value.push(source === 'typed' ? value : asSent(query.corrections, position, value));
        readings.seq.push(seq);
      }
      const dropped = this.#dropped(query);
      if (dropped > 0) readings.dropped = dropped;
      return readings;
    });
  }

  /** Readings of a channel, sealed or not, by time and then by position. */
  *#readings({ site, vessel, channel, fromMs, toMs }: ReadingsQuery): Generator<ReadingRow> {
    const siteId = this.#sql.siteId.get(site);
    const id = this.#sql.channelId.get(site, vessel, channel);
    if (siteId === undefined || id === undefined) return;
    const unsealed = rowsOf(this.#unsealed.ofChannel(siteId, id), fromMs, toMs);
    let next = unsealed.next();
    for (const hour of this.#pages.hoursOfChannel(id, fromMs, toMs)) {
      for (const sealed of this.#sealedRows(hour, fromMs, toMs)) {
        for (; !next.done && isBefore(next.value, sealed); next = unsealed.next()) yield next.value;
        yield sealed;
      }
    }
    for (; !next.done; next = unsealed.next()) yield next.value;
  }

  /** How many readings were dropped of the hours that a range touches. */
  #dropped({ site, vessel, channel, fromMs, toMs }: ReadingsQuery): number {
    const id = this.#sql.channelId.get(site, vessel, channel);
    if (id === undefined) return 0;
    const pages = this.#pages.ofChannel(id, fromMs, toMs).filter(isWithoutReadings);
    return pages.reduce((sum, { count }) => sum + count, 0);
  }

  /** The readings of the pages of one hour, in the same order. */
  #sealedRows(pages: readonly PageRow[], fromMs: number, toMs: number): ReadingRow[] {
    const rows: ReadingRow[] = [];
    let last: ReadingRow | undefined;
    let ascends = true;
    for (const page of pages) {
      const { atMs, value, seq, source, position } = this.#pages.readings(page);
      for (let i = 0; i < atMs.length; i++) {
        const t = atMs[i]!;
        if (t < fromMs || t > toMs) continue;
        const row: ReadingRow = [t, value[i]!, seq[i]!, source[i]!, position[i]!];
        if (last !== undefined && isBefore(row, last)) ascends = false;
        rows.push(row);
        last = row;
      }
    }
    return ascends ? rows : rows.sort((a, b) => (isBefore(a, b) ? -1 : 1));
  }

  readingsJson(query: ReadingsQuery & { points: number | 'raw' }): Uint8Array {
    const { points } = query;
    return Buffer.from(
      JSON.stringify(points === 'raw' ? this.rawReadings(query) : this.buckets({ ...query, points })),
    );
  }

  readingsCsv({ after, ...query }: ReadingsQuery & { after: CsvPlace | null }): CsvPart {
    return this.#atOneMoment(() => {
      const fromMs = Math.max(query.fromMs, after?.atMs ?? query.fromMs);
      let csv = '';
      let count = 0;
      for (const [atMs, value, , source, position] of this.#readings({ ...query, fromMs })) {
        if (after !== null && atMs === after.atMs && position <= after.position) continue;
        csv += `${isoTime(atMs)},${query.channel},${value},${source}\n`;
        if (++count === CSV_ROWS) return { csv: Buffer.from(csv), endsAt: { atMs, position } };
      }
      return { csv: Buffer.from(csv), endsAt: null };
    });
  }

  buckets({ points, ...query }: ReadingsQuery & { points: number }): Buckets {
    const { site, vessel, channel, fromMs, toMs } = query;
    const grid = bucketGrid(fromMs, toMs, points);
    const buckets: Buckets = { t: [], min: [], mean: [], max: [], stepMs: grid.stepMs };
    const id = this.#sql.channelId.get(site, vessel, channel);
    const siteId = this.#sql.siteId.get(site);
    if (siteId === undefined || id === undefined) return buckets;
    const found = this.#atOneMoment(() => this.#bucketsOf(siteId, id, fromMs, toMs, grid));
    for (const [bucket, { min, sum, count, max }] of [...found].sort(([a], [b]) => a - b)) {
      buckets.t.push(Math.max(grid.originMs + bucket * grid.stepMs, fromMs));
      buckets.min.push(min);
      buckets.mean.push(finite(sum) / count);
      buckets.max.push(max);
    }
    return buckets;
  }

  /** How many readings a range has, and their least, mean and most; null where it has none. */
  extent({ site, vessel, channel, fromMs, toMs }: ReadingsQuery): Extent | null {
    const id = this.#sql.channelId.get(site, vessel, channel);
    const siteId = this.#sql.siteId.get(site);
    if (siteId === undefined || id === undefined) return null;
    const one = { originMs: fromMs, stepMs: toMs - fromMs + 1 };
    const found = this.#atOneMoment(() => this.#bucketsOf(siteId, id, fromMs, toMs, one)).get(0);
    if (found === undefined) return null;
    const { count, min, sum, max } = found;
    return { count, least: min, mean: finite(sum) / count, most: max };
  }

  #bucketsOf(
    siteId: number,
    id: number,
    fromMs: number,
    toMs: number,
    { originMs, stepMs }: BucketGrid,
  ): Map<number, Bucket> {
    const buckets = new Map<number, Bucket>();
    // Bound as integers: a number would be a real, and the division not a whole one.
    const grid = [BigInt(originMs), BigInt(stepMs)] as const;
    addReadings(buckets, this.#unsealed.ofChannel(siteId, id), fromMs, toMs, { originMs, stepMs });
    // What lies in one bucket as a whole need not be unpacked.
    const fits = (lengthMs: number): boolean =>
      toMs < originMs + stepMs || (stepMs % lengthMs === 0 && originMs % lengthMs === 0);
    const firstHour = hourOf(fromMs + HOUR_MS - 1);
    const lastHour = hourOf(toMs + 1) - HOUR_MS;
    const isWhole = firstHour <= lastHour && fits(COARSE_MS);
    if (isWhole && fits(HOUR_MS)) {
      for (const row of this.#sql.pageBuckets.all(...grid, id, firstHour, lastHour)) addTo(buckets, row);
    } else if (isWhole) {
      const end = lastHour + HOUR_MS - 1;
      for (const page of this.#pages.ofChannel(id, firstHour, end))
        this.#addSteps(buckets, page, firstHour, end, { originMs, stepMs });
    }
    const rest = isWhole
      ? [[fromMs, firstHour - 1] as const, [lastHour + HOUR_MS, toMs] as const]
      : [[fromMs, toMs] as const];
    for (const [from, to] of rest) {
      if (from > to) continue;
      for (const page of this.#pages.ofChannel(id, from, to)) {
        const isInside = page.fromMs >= from && page.toMs <= to;
        if (isWithoutReadings(page)) this.#addSteps(buckets, page, from, to, { originMs, stepMs });
        else if (isInside && fits(MINUTE_MS)) this.#addMinutes(buckets, page, { originMs, stepMs });
        else addReadings(buckets, this.#pages.readings(page), from, to, { originMs, stepMs });
      }
    }
    return buckets;
  }

  /** Adds the steps of a page that begin in a time, each where it begins. */
  #addSteps(
    buckets: Map<number, Bucket>,
    page: PageRow,
    fromMs: number,
    toMs: number,
    { originMs, stepMs }: BucketGrid,
  ): void {
    for (const { fromMs: at, least, sum, count, most } of this.#pages.coarse(page)) {
      if (at < fromMs || at > toMs) continue;
      addTo(buckets, [Math.floor((at - originMs) / stepMs), least, sum, count, most]);
    }
  }

  /** Adds all readings of a page, a minute at a time. */
  #addMinutes(buckets: Map<number, Bucket>, page: PageRow, { originMs, stepMs }: BucketGrid): void {
    const minutes = this.#pages.minutes(page);
    for (let i = 0; i < minutes.length; i += MINUTE_NUMBERS) {
      // The first minute may begin before the range does.
      const bucket = Math.floor((Math.max(minutes[i]!, page.fromMs) - originMs) / stepMs);
      addTo(buckets, [bucket, minutes[i + 1]!, minutes[i + 2]!, minutes[i + 3]!, minutes[i + 4]!]);
    }
  }

  /** Null where there is none. Throws `store-changed` for one that is not what was taken in. */
  photograph(sha256: string): Photograph | null {
    const found = this.#sql.photograph.get(sha256);
    if (found !== undefined && photographHash(found.content) !== sha256)
      throw new StoreError('store-changed', `the photograph ${sha256} is not what was taken in`);
    return found ?? null;
  }

  alarms({ site, vessel, open, alarm, fromMs, toMs, limit }: AlarmsQuery): readonly AlarmRow[] {
    const where = { site: site ?? null, vessel: vessel ?? null, open: open ? 1 : 0, alarm: alarm ?? null };
    const range = { fromMs: fromMs ?? Number.MIN_SAFE_INTEGER, toMs: toMs ?? Number.MAX_SAFE_INTEGER };
    return this.#sql.alarms.all({ ...where, ...range, limit }).map(alarmRow);
  }

  alarm(site: string, id: string): AlarmRow | null {
    const state = this.#sql.alarm.get(site, id);
    return state === undefined ? null : alarmRow(state);
  }

  alarmsDuring(query: AlarmsDuringQuery): readonly AlarmRow[] {
    return this.#sql.alarmsDuring.all(query).map(alarmRow);
  }

  alarmHistory({ fromMs, toMs }: { fromMs: number; toMs: number }): AlarmHistory {
    const recordedFromMs = this.#recordedFromMs() ?? toMs;
    const startMs = Math.min(Math.max(fromMs, recordedFromMs), toMs);
    const rows = this.#sql.alarmMoments.all(startMs, toMs, MOST_MOMENTS + 1);
    const isAll = rows.length <= MOST_MOMENTS;
    const moments = isAll ? rows.reverse() : rows.slice(0, MOST_MOMENTS).reverse();
    const from = isAll ? startMs : moments[0]!.arrivedMs;
    const spans = this.#sql.alarmSpans.all({ fromMs: from, toMs, limit: MOST_SPANS + 1 });
    if (!moments.every(isMoment) || !spans.every(isSpan)) throw damagedEntry();
    return {
      fromMs: from,
      toMs,
      complete: isAll,
      moments: moments.map((row) => ({ ...row, late: row.late === 1, told: row.told === 1 })),
      spans: spans.slice(0, MOST_SPANS),
      moreSpans: spans.length > MOST_SPANS,
    };
  }

  /** When the first thing of any site arrived. */
  #recordedFromMs(): number | undefined {
    const first = this.#sql.siteNames.all().flatMap((site) => this.entriesAfter(site, 0, 1));
    return first.length === 0 ? undefined : Math.min(...first.map(({ arrivedMs }) => arrivedMs));
  }

  close(): void {
    this.#database.close();
  }
}

type MomentRow = Omit<AlarmMoment, 'late' | 'told'> & { late: number; told: number };

/** What is told of an alarm's time: of four digits for the year. */
const isTime = (ms: number): boolean => Number.isInteger(ms) && /^\d{4}-/.test(isoTime(ms));

/* What the tables and the queries leave open, as it was written: by hand, since there are tens of thousands. */

const isMoment = ({ site, vessel, priority, late }: MomentRow): boolean =>
  isName(site) && isName(vessel) && PRIORITIES.includes(priority) && (late === 0 || late === 1);

const isSpan = ({ site, vessel, alarm, atMs, clearedAtMs }: AlarmSpan): boolean =>
  isName(site) &&
  isName(vessel) &&
  typeof alarm === 'string' &&
  isTime(atMs) &&
  (clearedAtMs === null || isTime(clearedAtMs));

type ReadingRow = [
  atMs: number,
  value: number,
  seq: number | null,
  source: 'device' | 'typed',
  position: number,
];
type BucketRow = [bucket: number, min: number, sum: number, count: number, max: number];
export interface Extent {
  count: number;
  least: number;
  mean: number;
  most: number;
}
interface Bucket {
  min: number;
  sum: number;
  count: number;
  max: number;
}

/** What a device sent, by the correction that stood when its reading was stored. */
function asSent(corrections: ReadingsQuery['corrections'], position: number, value: number): number {
  const points = corrections?.findLast(({ after }) => after < position)?.points;
  return points == null ? value : sentC(points, value);
}

const isBefore = (a: ReadingRow, b: ReadingRow): boolean => a[0] < b[0] || (a[0] === b[0] && a[4] < b[4]);

function addTo(buckets: Map<number, Bucket>, [bucket, min, sum, count, max]: BucketRow): void {
  const before = buckets.get(bucket);
  if (before === undefined) {
    buckets.set(bucket, { min, sum, count, max });
    return;
  }
  before.min = Math.min(before.min, min);
  before.max = Math.max(before.max, max);
  before.sum += sum;
  before.count += count;
}

/** Unsealed readings of a time, by time and then by position. */
function* rowsOf(readings: UnsealedReadings, fromMs: number, toMs: number): Generator<ReadingRow> {
  const { position, atMs, value, seq, isTyped } = readings;
  for (const i of readings.placesFrom(fromMs)) {
    if (atMs[i]! > toMs) return;
    yield [atMs[i]!, value[i]!, seq[i]!, isTyped[i] ? 'typed' : 'device', position[i]!];
  }
}

/** Adds the readings of a time, those of one bucket that follow each other at once. */
function addReadings(
  buckets: Map<number, Bucket>,
  { atMs, value }: Pick<PageReadings, 'atMs' | 'value'>,
  fromMs: number,
  toMs: number,
  { originMs, stepMs }: BucketGrid,
): void {
  let [bucket, min, sum, count, max] = [Number.NaN, 0, 0, 0, 0];
  for (let i = 0; i < atMs.length; i++) {
    const t = atMs[i]!;
    if (t < fromMs || t > toMs) continue;
    const v = value[i]!;
    const own = Math.floor((t - originMs) / stepMs);
    if (own !== bucket) {
      if (count > 0) addTo(buckets, [bucket, min, sum, count, max]);
      [bucket, min, sum, count, max] = [own, v, 0, 0, v];
    }
    if (v < min) min = v;
    if (v > max) max = v;
    sum += v;
    count++;
  }
  if (count > 0) addTo(buckets, [bucket, min, sum, count, max]);
}

/** A row whose `body` is JSON text, with what it stands for. */
const withBody = <Row extends { body: unknown }>(row: Row): Row => ({
  ...row,
  body: parsed(row.body as string),
});

/** @throws StoreError `store-changed`: it was JSON when it was written. */
function parsed<T>(json: string): T {
  try {
    return JSON.parse(json) as T;
  } catch {
    throw damagedEntry();
  }
}

const damagedEntry = (): StoreError =>
  new StoreError('store-changed', 'an entry is damaged; verify says where');
