import type Database from 'better-sqlite3';
import type { ReadingRecords } from '../reading-records.ts';
import { StoreError } from '../store.ts';
import { firstSealLink, nextSealLink, type SealedPage, sealedPage } from './chain.ts';
import { type CheckedBlock, Journal } from './journal.ts';
import { encodePage, type PageReadings } from './page-codec.ts';
import { hourOf } from './pages.ts';

/** No more entries are sealed at a time: whoever writes waits for it. */
export const MOST_ENTRIES = 50_000;

/**
 * No more entries of a site stay unsealed: where many arrive, the oldest are sealed before their hour is over, since
 * what is not sealed is kept unpacked in memory by whoever is asked for it.
 */
const MOST_UNSEALED = 300_000;

/** How far a site is sealed. */
export interface Sealed {
  toPosition: number;
  /** The link of the newest seal; null before the first. */
  link: Buffer | null;
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

/** What is to be sealed together. */
export interface Prefix {
  to: number;
  head: Buffer;
  /** Lines of what is no reading. */
  log: string[];
  /** In the order in which they come first. */
  groups: Map<string, Columns>;
}

/** Moves what a journal holds into sealed pages. Run inside a transaction. */
export class Sealer {
  readonly #journal: Journal;
  readonly #sql;

  constructor(database: Database.Database) {
    this.#journal = new Journal(database);
    this.#sql = {
      channel: database.prepare<[number], { vessel: string; channel: string }>(
        'SELECT vessel, name AS channel FROM channel WHERE id = ?',
      ),
      newPage: database.prepare(
        `INSERT INTO page (site_id, sealed_to, channel_id, hour_ms, from_ms, to_ms, from_position, to_position,
                           count, least, sum, most, offset, length, coarse, content_hash)
         VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?)`,
      ),
      newSeal: database.prepare<[number, number, number, Buffer, Buffer, Buffer]>(
        'INSERT INTO seal (site_id, from_position, to_position, head, link, content) VALUES (?, ?, ?, ?, ?, ?)',
      ),
      dropBlocks: database.prepare<[number, number]>('DELETE FROM block WHERE site_id = ? AND position <= ?'),
    };
  }

  /**
   * Seals the whole blocks of a site after what is sealed, as long as all of them arrived before a time, or more
   * lies there than may be left. Gives
   * how far it is sealed then; undefined where there was nothing to be sealed. Throws a `StoreError`,
   * `store-changed`, where a block is not what was written: it stays as it is, for `verify` to find.
   */
  seal(
    site: { id: number; name: string; lastPosition: number; sealed: Sealed },
    beforeMs: number,
    firstHead: Buffer,
  ): (Sealed & { head: Buffer }) | undefined {
    const prefix = this.#wholeBlocks(site, beforeMs, firstHead);
    return prefix.to > site.sealed.toPosition ? this.put(site, prefix) : undefined;
  }

  /** Puts what was checked into pages, and drops its blocks. */
  put(
    site: { id: number; name: string; sealed: Sealed },
    { to, head, log, groups }: Prefix,
  ): Sealed & { head: Buffer } {
    const from = site.sealed.toPosition + 1;
    const { pages, content } = this.#makePages(site.id, to, groups);
    const link = nextSealLink(site.sealed.link ?? firstSealLink(site.name), { from, to, head, log, pages });
    this.#sql.newSeal.run(site.id, from, to, head, link, content);
    this.#sql.dropBlocks.run(site.id, to);
    return { toPosition: to, link, head };
  }

  /** The blocks that are old enough, checked; not more than can be sealed at a time. */
  #wholeBlocks(
    { id, name, lastPosition, sealed }: { id: number; name: string; lastPosition: number; sealed: Sealed },
    beforeMs: number,
    firstHead: Buffer,
  ): Prefix {
    const from = sealed.toPosition + 1;
    const prefix = emptyPrefix(sealed.toPosition, firstHead);
    for (const block of this.#journal.checked(id, sealed.toPosition, firstHead)) {
      if (lastPosition - block.position < MOST_UNSEALED && !isBefore(block, beforeMs)) break;
      if (!block.made.equals(block.link))
        throw new StoreError(
          'store-changed',
          `${name}: not sealed, since it is not as written; verify says where`,
        );
      addToGroups(prefix.groups, block.readings);
      for (const { line } of block.log) prefix.log.push(line);
      prefix.head = block.link;
      prefix.to = block.position;
      if (prefix.to - from + 1 >= MOST_ENTRIES) break;
    }
    return prefix;
  }

  #makePages(siteId: number, to: number, groups: Prefix['groups']): { pages: SealedPage[]; content: Buffer } {
    const contents: Uint8Array[] = [];
    let offset = 0;
    const pages = [...groups.values()].map(({ channelId, ...readings }) => {
      const content = encodePage(readings);
      const { vessel, channel } = this.#sql.channel.get(channelId)!;
      const page = sealedPage(vessel, channel, readings, content);
      const { hourMs, fromMs, toMs, fromPosition, toPosition, count, least, sum, most, coarse, contentHash } =
        page;
      const places = [hourMs, fromMs, toMs, fromPosition, toPosition] as const;
      const place = [offset, content.length] as const;
      this.#sql.newPage.run(
        siteId,
        to,
        channelId,
        ...places,
        count,
        least,
        sum,
        most,
        ...place,
        coarse,
        contentHash,
      );
      contents.push(content);
      offset += content.length;
      return page;
    });
    return { pages, content: Buffer.concat(contents) };
  }
}

export const emptyPrefix = (to: number, head: Buffer): Prefix => ({ to, head, log: [], groups: new Map() });

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
