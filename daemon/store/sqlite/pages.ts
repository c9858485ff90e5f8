import type Database from 'better-sqlite3';
import { StoreError } from '../store.ts';
import { type CoarseStep, coarseOf, decodeCoarse } from './coarse.ts';
import { decodePage, type PageReadings } from './page-codec.ts';

/** Readings of one channel whose times lie in one hour are sealed into one page. */
export const HOUR_MS = 3_600_000;
export const hourOf = (atMs: number): number => Math.floor(atMs / HOUR_MS) * HOUR_MS;

/** A page without its readings. */
export interface PageRow {
  id: number;
  siteId: number;
  sealedTo: number;
  offset: number;
  length: number;
  channelId: number;
  vessel: string;
  channel: string;
  hourMs: number;
  fromMs: number;
  toMs: number;
  /** Those that were sealed; they may be dropped, see `isWithoutReadings`. */
  count: number;
}

/** Whether the readings of a page were dropped. */
export const isWithoutReadings = ({ length }: { length: number }): boolean => length === 0;

const PAGE = `
  SELECT page.rowid AS id, page.site_id AS siteId, sealed_to AS sealedTo, offset, length, channel_id AS channelId, vessel, name AS channel, hour_ms AS hourMs, from_ms AS fromMs,
         to_ms AS toMs, count
  FROM page JOIN channel ON channel.id = channel_id`;

/** Pages that were unpacked lately are kept so: a range is often asked for part by part. */
const KEPT_PAGES = 32;

/** A day is drawn from steps of a minute: unpacking its hours takes some fifty times as long. */
export const MINUTE_MS = 60_000;
/** So many of all pages together are kept, 40 bytes each: the days of 40 channels. An hour of a large site is many pages. */
const KEPT_MINUTES = 60_000;
/** Numbers of a step: begin, ms; least; sum; count; most. */
export const MINUTE_NUMBERS = 5;

const NO_READINGS: PageReadings = {
  atMs: [],
  position: [],
  arrivedMs: [],
  value: [],
  seq: [],
  stamped: [],
  source: [],
};

/** The sealed pages of a database, for queries on one connection. */
export class Pages {
  readonly #sql;
  /** By id, the one asked for last at the end. */
  readonly #unpacked = new Map<number, PageReadings>();
  /** By id, the one asked for last at the end: a page never changes. */
  readonly #minutes = new Map<number, Float64Array>();
  #minutesKept = 0;

  constructor(database: Database.Database) {
    this.#sql = {
      ofChannel: database.prepare<[number, number, number, number, number], PageRow>(
        `${PAGE} WHERE channel_id = ? AND hour_ms BETWEEN ? AND ? AND from_ms <= ? AND to_ms >= ?
         ORDER BY hour_ms, sealed_to`,
      ),
      inPositions: database.prepare<{ siteId: number; from: number; to: number }, PageRow>(
        `${PAGE} WHERE page.site_id = :siteId AND sealed_to IN (
           SELECT to_position FROM seal WHERE site_id = :siteId AND to_position >= :from
             AND to_position <= ifnull((SELECT min(to_position) FROM seal WHERE site_id = :siteId AND to_position >= :to),
                                       :to)
         ) AND length > 0`,
      ),
      content: database
        .prepare<[number, number, number, number], Buffer>(
          'SELECT substr(content, ? + 1, ?) FROM seal WHERE site_id = ? AND to_position = ?',
        )
        .pluck(),
      coarse: database.prepare<[number], Buffer>('SELECT coarse FROM page WHERE rowid = ?').pluck(),
      sealedToMs: database
        .prepare<{ channelId: number }, number | null>(
          `SELECT max(to_ms) FROM page WHERE channel_id = :channelId
             AND hour_ms = (SELECT max(hour_ms) FROM page WHERE channel_id = :channelId)`,
        )
        .pluck(),
    };
  }

  /** Those of a channel that have readings from one time to another, both included, in the order of their hours. */
  ofChannel(channelId: number, fromMs: number, toMs: number): PageRow[] {
    return this.#sql.ofChannel.all(channelId, hourOf(fromMs), hourOf(toMs), toMs, fromMs);
  }

  /** The same, hour by hour as they are asked for: those of one hour lie wholly before those of the next. */
  *hoursOfChannel(channelId: number, fromMs: number, toMs: number): Generator<PageRow[]> {
    let hour: PageRow[] = [];
    for (const page of this.#sql.ofChannel.iterate(channelId, hourOf(fromMs), hourOf(toMs), toMs, fromMs)) {
      if (hour.length > 0 && hour[0]!.hourMs !== page.hourMs) {
        yield hour;
        hour = [];
      }
      hour.push(page);
    }
    if (hour.length > 0) yield hour;
  }

  /** Those of a site whose seal holds any of the positions, and that have their readings. */
  inPositions(siteId: number, from: number, to: number): PageRow[] {
    return this.#sql.inPositions.all({ siteId, from, to });
  }

  /** The latest time that a channel has sealed readings of. */
  sealedToMs(channelId: number): number {
    return this.#sql.sealedToMs.get({ channelId }) ?? Number.NEGATIVE_INFINITY;
  }

  /**
   * What a page keeps of every five minutes.
   * @throws StoreError `store-changed`
   */
  coarse({ id, hourMs }: PageRow): CoarseStep[] {
    const coarse = this.#sql.coarse.get(id)!;
    return unlessDamaged(() => decodeCoarse(hourMs, coarse));
  }

  /**
   * What its readings are in steps of a minute, `MINUTE_NUMBERS` each, ascending.
   * @throws StoreError `store-changed`
   */
  minutes(page: PageRow): Float64Array {
    let minutes = this.#minutes.get(page.id);
    if (minutes === undefined) {
      const steps = coarseOf(this.readings(page), MINUTE_MS);
      minutes = Float64Array.from(
        steps.flatMap(({ fromMs, least, sum, count, most }) => [fromMs, least, sum, count, most]),
      );
      this.#minutesKept += steps.length;
    }
    this.#minutes.delete(page.id);
    this.#minutes.set(page.id, minutes);
    for (const [id, { length }] of this.#minutes) {
      if (this.#minutesKept <= KEPT_MINUTES) break;
      this.#minutes.delete(id);
      this.#minutesKept -= length / MINUTE_NUMBERS;
    }
    return minutes;
  }

  /**
   * None where they were dropped.
   * @throws StoreError `store-changed`
   */
  readings({ id, siteId, sealedTo, offset, length, count }: PageRow): PageReadings {
    if (isWithoutReadings({ length })) return NO_READINGS;
    const kept = this.#unpacked.get(id);
    const readings = kept ?? unpacked(this.#sql.content.get(offset, length, siteId, sealedTo)!, count);
    this.#unpacked.delete(id);
    this.#unpacked.set(id, readings);
    if (this.#unpacked.size > KEPT_PAGES) this.#unpacked.delete(this.#unpacked.keys().next().value!);
    return readings;
  }
}

const unpacked = (content: Buffer, count: number): PageReadings =>
  unlessDamaged(() => decodePage(content, count));

/** What was made by the codecs is unpacked by them, unless it is not what was written any more. */
function unlessDamaged<T>(unpack: () => T): T {
  try {
    return unpack();
  } catch {
    throw new StoreError('store-changed', 'sealed readings are damaged; verify says where');
  }
}
