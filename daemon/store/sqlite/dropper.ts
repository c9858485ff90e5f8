import type Database from 'better-sqlite3';
import { DROP_ACTION, type Drop, isDropped, parseDrop, timesDropped } from '../drops.ts';

/** No more seals are written anew at a time: whoever writes waits for it. */
const MOST_SEALS = 24;

interface PlacedPage {
  id: number;
  sealedTo: number;
  hourMs: number;
  toMs: number;
  offset: number;
  length: number;
}

/** The drops that stand in the history of a site. */
export const dropsOf = (database: Database.Database, siteId: number): Drop[] =>
  database
    .prepare<[number, string], string>('SELECT body FROM action WHERE site_id = ? AND action = ?')
    .pluck()
    .all(siteId, DROP_ACTION)
    .flatMap((body) => parseDrop(body) ?? []);

/** Takes the content of pages out of their seals; what the chain hashes stays. Run inside a transaction. */
export class Dropper {
  readonly #database: Database.Database;
  readonly #sql;

  constructor(database: Database.Database) {
    this.#database = database;
    this.#sql = {
      pagesWithout: database.prepare<[number], { hourMs: number; toMs: number; count: number }>(
        'SELECT hour_ms AS hourMs, to_ms AS toMs, count FROM page WHERE site_id = ? AND length = 0',
      ),
      pagesBetween: database.prepare<[number, number, number], PlacedPage>(
        `SELECT rowid AS id, sealed_to AS sealedTo, hour_ms AS hourMs, to_ms AS toMs, offset, length FROM page
         WHERE site_id = ? AND to_ms BETWEEN ? AND ? AND length > 0 ORDER BY to_ms`,
      ),
      pagesOfSeal: database.prepare<[number, number], PlacedPage>(
        `SELECT rowid AS id, sealed_to AS sealedTo, hour_ms AS hourMs, to_ms AS toMs, offset, length FROM page
         WHERE site_id = ? AND sealed_to = ? ORDER BY offset, length`,
      ),
      newestDrop: database
        .prepare<[number, string], string>(
          'SELECT body FROM action WHERE site_id = ? AND action = ? ORDER BY position DESC LIMIT 1',
        )
        .pluck(),
      content: database
        .prepare<[number, number], Buffer>('SELECT content FROM seal WHERE site_id = ? AND to_position = ?')
        .pluck(),
      putContent: database.prepare<[Buffer, number, number]>(
        'UPDATE seal SET content = ? WHERE site_id = ? AND to_position = ?',
      ),
      place: database.prepare<[number, number, number]>(
        'UPDATE page SET offset = ?, length = ? WHERE rowid = ?',
      ),
    };
  }

  /** What of a site can be dropped at a time: seals, each with the pages to be dropped; none where all is done. */
  find(siteId: number, drop: Drop): Map<number, PlacedPage[]> {
    const found = new Map<number, PlacedPage[]>();
    for (const { fromMs, toMs } of timesDropped(drop)) {
      for (const page of this.#sql.pagesBetween.iterate(siteId, fromMs, toMs)) {
        const pages = found.get(page.sealedTo);
        if (pages !== undefined) pages.push(page);
        else if (found.size === MOST_SEALS) return found;
        else found.set(page.sealedTo, [page]);
      }
    }
    return found;
  }

  /** The last that the history says of dropping. */
  last(siteId: number): Drop | null {
    const body = this.#sql.newestDrop.get(siteId, DROP_ACTION);
    return body === undefined ? null : parseDrop(body);
  }

  /** How many readings of a site are gone without a drop in its history. */
  unexplained(siteId: number): number {
    const drops = dropsOf(this.#database, siteId);
    let count = 0;
    for (const page of this.#sql.pagesWithout.iterate(siteId))
      if (!drops.some((drop) => isDropped(drop, page))) count += page.count;
    return count;
  }

  drop(siteId: number, found: Map<number, PlacedPage[]>): void {
    for (const [sealedTo, dropped] of found) {
      const content = this.#sql.content.get(siteId, sealedTo)!;
      const ids = new Set(dropped.map(({ id }) => id));
      const left: Buffer[] = [];
      let end = 0;
      for (const { id, offset, length } of this.#sql.pagesOfSeal.all(siteId, sealedTo)) {
        const kept = ids.has(id) ? 0 : length;
        this.#sql.place.run(end, kept, id);
        if (kept > 0) left.push(content.subarray(offset, offset + kept));
        end += kept;
      }
      this.#sql.putContent.run(Buffer.concat(left), siteId, sealedTo);
    }
  }
}
