import type Database from 'better-sqlite3';
import { StoreError } from '../store.ts';
import { firstSealLink, nextLink, nextSealLink, type SealedPage, sealedPage } from './chain.ts';
import { entryLines } from './entry-lines.ts';
import { encodePage, type PageReadings } from './page-codec.ts';
import { hourOf } from './pages.ts';

/** No more entries are sealed at a time: whoever writes waits for it. */
const MOST_ENTRIES = 50_000;

/** How far a site is sealed. */
export interface Sealed {
  toPosition: number;
  /** The link of the newest seal; null before the first. */
  link: Buffer | null;
}

interface JournalRow {
  channelId: number;
  vessel: string;
  channel: string;
  atMs: number;
  stamped: number;
  seq: number | '';
  value: number;
  position: number;
  arrivedMs: number;
  source: 'device' | 'typed';
}

/** Moves what a journal holds into sealed pages. Run inside a transaction. */
export class Sealer {
  readonly #database: Database.Database;
  readonly #sql;

  constructor(database: Database.Database) {
    this.#database = database;
    this.#sql = {
      blocks: database.prepare<[number], { position: number; link: Buffer }>(
        'SELECT position, link FROM block WHERE site_id = ? ORDER BY position',
      ),
      rows: database.prepare<[number, number, number], JournalRow>(
        `SELECT channel_id AS channelId, vessel, name AS channel, at_ms AS atMs, stamped, seq, value, position,
                arrived_ms AS arrivedMs, source
         FROM reading JOIN channel ON channel.id = channel_id
         WHERE reading.site_id = ? AND position BETWEEN ? AND ? ORDER BY position`,
      ),
      newPage: database.prepare(
        `INSERT INTO page (site_id, sealed_to, channel_id, hour_ms, from_ms, to_ms, from_position, to_position,
                           count, least, sum, most, offset, length, coarse, content_hash)
         VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?)`,
      ),
      newSeal: database.prepare<[number, number, number, Buffer, Buffer, Buffer]>(
        'INSERT INTO seal (site_id, from_position, to_position, head, link, content) VALUES (?, ?, ?, ?, ?, ?)',
      ),
      dropRows: database.prepare<[number, number, number]>(
        'DELETE FROM reading WHERE site_id = ? AND position BETWEEN ? AND ?',
      ),
      dropBlocks: database.prepare<[number, number]>('DELETE FROM block WHERE site_id = ? AND position <= ?'),
    };
  }

  /**
   * Seals the whole blocks of a site after what is sealed, as long as all of them arrived before a time. Gives
   * how far it is sealed then; undefined where there was nothing to be sealed. Throws a `StoreError`,
   * `store-changed`, where a block is not what was written: it stays as it is, for `verify` to find.
   */
  seal(
    site: { id: number; name: string; sealed: Sealed },
    beforeMs: number,
    firstHead: Buffer,
  ): (Sealed & { head: Buffer }) | undefined {
    const from = site.sealed.toPosition + 1;
    const prefix = this.#wholeBlocks(site, from, beforeMs, firstHead);
    if (prefix === undefined) return undefined;
    const { to, head, log } = prefix;
    const { pages, content } = this.#makePages(site.id, from, to);
    const link = nextSealLink(site.sealed.link ?? firstSealLink(site.name), { from, to, head, log, pages });
    this.#sql.newSeal.run(site.id, from, to, head, link, content);
    this.#sql.dropRows.run(site.id, from, to);
    this.#sql.dropBlocks.run(site.id, to);
    return { toPosition: to, link, head };
  }

  /** The blocks that are old enough, checked: up to where, their head, and the lines of what is no reading. */
  #wholeBlocks(
    { id, name }: { id: number; name: string },
    from: number,
    beforeMs: number,
    firstHead: Buffer,
  ): { to: number; head: Buffer; log: string[] } | undefined {
    const entries = entryLines(this.#database, id, from, Number.MAX_SAFE_INTEGER);
    const log: string[] = [];
    let head = firstHead;
    let to = from - 1;
    try {
      let entry = entries.next();
      for (const block of this.#sql.blocks.iterate(id)) {
        const lines: string[] = [];
        const blockLog: string[] = [];
        let isOld = true;
        for (; !entry.done && entry.value.position <= block.position; entry = entries.next()) {
          lines.push(entry.value.line);
          if (entry.value.table !== 'reading') blockLog.push(entry.value.line);
          isOld &&= entry.value.arrivedMs < beforeMs;
        }
        if (!isOld) break;
        head = nextLink(head, lines);
        if (!head.equals(block.link))
          throw new StoreError(
            'store-changed',
            `${name}: not sealed, since it is not as written; verify says where`,
          );
        for (const line of blockLog) log.push(line);
        to = block.position;
        if (to - from + 1 >= MOST_ENTRIES) break;
      }
    } finally {
      entries.return?.();
    }
    return to < from ? undefined : { to, head, log };
  }

  #makePages(siteId: number, from: number, to: number): { pages: SealedPage[]; content: Buffer } {
    const groups = new Map<string, JournalRow[]>();
    for (const row of this.#sql.rows.iterate(siteId, from, to)) {
      const key = `${row.channelId} ${hourOf(row.atMs)}`;
      const group = groups.get(key);
      if (group === undefined) groups.set(key, [row]);
      else group.push(row);
    }
    const contents: Uint8Array[] = [];
    let offset = 0;
    const pages = [...groups.values()].map((rows) => {
      const readings = columnsOf(rows);
      const content = encodePage(readings);
      const { channelId, vessel, channel } = rows[0]!;
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

const columnsOf = (rows: readonly JournalRow[]): PageReadings => ({
  atMs: rows.map(({ atMs }) => atMs),
  position: rows.map(({ position }) => position),
  arrivedMs: rows.map(({ arrivedMs }) => arrivedMs),
  value: rows.map(({ value }) => value),
  seq: rows.map(({ seq }) => (seq === '' ? null : seq)),
  stamped: rows.map(({ stamped }) => stamped === 1),
  source: rows.map(({ source }) => source),
});
