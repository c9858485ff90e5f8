import type Database from 'better-sqlite3';
import type { ReadingRecords } from '../reading-records.ts';
import { StoreError } from '../store.ts';
import { firstLink, firstSealLink, nextSealLink, type SealedPage, sealedPage } from './chain.ts';
import { type CheckedBlock, Journal } from './journal.ts';
import { encodePage, type PageReadings } from './page-codec.ts';
import { hourOf } from './pages.ts';

/** No more entries are sealed at a time: it is made in memory. */
export const MOST_ENTRIES = 50_000;

/**
 * No more entries of a site stay unsealed: where many arrive, the oldest are sealed before their hour is over, since
 * what is not sealed is kept unpacked in memory by whoever is asked for it.
 */
const MOST_UNSEALED = 100_000;

/** What is to be sealed together, after what is sealed. */
export interface Prefix {
  from: number;
  to: number;
  /** The link of the seal before it. */
  before: Buffer;
  /** Of the blocks up to its end. */
  head: Buffer;
  /** Lines of what is no reading. */
  log: string[];
  /** Readings by channel and hour, in the order in which they come first. */
  groups: Map<string, Columns>;
}

/** Readings of one channel and hour, a column each. */
interface Columns extends PageReadings {
  channelId: number;
  atMs: number[];
  position: number[];
  arrivedMs: number[];
  value: number[];
  seq: (number | null)[];
  stamped: boolean[];
  source: ('device' | 'typed')[];
}

/** A page with where its content is in that of its seal. */
export interface PlacedPage extends SealedPage {
  channelId: number;
  offset: number;
  length: number;
}

/** A seal that is ready to be put in the place of its blocks. Plain data, for another thread. */
export interface MadeSeal {
  from: number;
  to: number;
  /** The link of the block that it goes up to. */
  head: Uint8Array;
  link: Uint8Array;
  pages: readonly PlacedPage[];
  content: Uint8Array;
}

/** Makes seals of what a journal holds. Reads only: whoever writes does not wait meanwhile. */
export class SealMaker {
  readonly #journal: Journal;
  readonly #sql;

  constructor(database: Database.Database) {
    this.#journal = new Journal(database);
    this.#sql = {
      site: database.prepare<
        [string],
        { id: number; lastPosition: number; to: number | null; head: Buffer; link: Buffer }
      >(
        `SELECT id, last_position AS lastPosition, to_position AS 'to', head, link
         FROM site LEFT JOIN seal ON site_id = id
         WHERE name = ? ORDER BY to_position DESC LIMIT 1`,
      ),
      channel: database.prepare<[number], { vessel: string; channel: string }>(
        'SELECT vessel, name AS channel FROM channel WHERE id = ?',
      ),
    };
  }

  /**
   * The whole blocks of a site after what is sealed, as long as all of them arrived before a time, or more lies
   * there than may be left; not more than can be sealed at a time. Null where there is nothing to be sealed. Throws
   * a `StoreError`, `store-changed`, where a block is not what was written: it stays as it is, for `verify` to find.
   */
  prefix(name: string, beforeMs: number): Prefix | null {
    const site = this.#sql.site.get(name);
    if (site === undefined) return null;
    const sealedTo = site.to ?? 0;
    const [before, head] = site.to === null ? [firstSealLink(name), firstLink(name)] : [site.link, site.head];
    const prefix = emptyPrefix(sealedTo, { before, head });
    for (const block of this.#journal.checked(site.id, sealedTo, prefix.head)) {
      if (site.lastPosition - block.position < MOST_UNSEALED && !isBefore(block, beforeMs)) break;
      if (!block.made.equals(block.link))
        throw new StoreError('store-changed', `${name}: it is not as it was written; verify says where`);
      addToGroups(prefix.groups, block.readings);
      for (const { line } of block.log) prefix.log.push(line);
      prefix.head = block.link;
      prefix.to = block.position;
      if (prefix.to - sealedTo >= MOST_ENTRIES) break;
    }
    return prefix.to > sealedTo ? prefix : null;
  }

  /** Packs it, a page each step; gives the seal at the end. */
  *make({ from, to, before, head, log, groups }: Prefix): Generator<undefined, MadeSeal> {
    const contents: Uint8Array[] = [];
    const pages: PlacedPage[] = [];
    let offset = 0;
    for (const { channelId, ...readings } of groups.values()) {
      const content = encodePage(readings);
      const { vessel, channel } = this.#sql.channel.get(channelId)!;
      const page = sealedPage(vessel, channel, readings, content);
      pages.push({ ...page, channelId, offset, length: content.length });
      contents.push(content);
      offset += content.length;
      yield;
    }
    const link = nextSealLink(before, { from, to, head, log, pages });
    return { from, to, head, link, pages, content: Buffer.concat(contents) };
  }
}

/** Nothing yet, after what is sealed up to a position. */
export const emptyPrefix = (
  sealedTo: number,
  { before, head }: { before: Buffer; head: Buffer },
): Prefix => ({ from: sealedTo + 1, to: sealedTo, before, head, log: [], groups: new Map() });

const isBefore = ({ readings, log }: CheckedBlock, beforeMs: number): boolean => {
  for (let i = 0; i < readings.length; i++) if (readings.arrivedMs(i) >= beforeMs) return false;
  return log.every(({ arrivedMs }) => arrivedMs < beforeMs);
};

/** Puts readings with those of their channel and hour. */
export function addToGroups(groups: Prefix['groups'], readings: ReadingRecords): void {
  for (let i = 0; i < readings.length; i++) {
    const channelId = readings.channel(i);
    const atMs = readings.atMs(i);
    const key = `${channelId} ${hourOf(atMs)}`;
    let columns = groups.get(key);
    if (columns === undefined) {
      columns = {
        channelId,
        atMs: [],
        position: [],
        arrivedMs: [],
        value: [],
        seq: [],
        stamped: [],
        source: [],
      };
      groups.set(key, columns);
    }
    columns.atMs.push(atMs);
    columns.position.push(readings.position(i));
    columns.arrivedMs.push(readings.arrivedMs(i));
    columns.value.push(readings.value(i));
    columns.seq.push(readings.seq(i));
    columns.stamped.push(readings.stamped(i));
    columns.source.push(readings.source(i));
  }
}
