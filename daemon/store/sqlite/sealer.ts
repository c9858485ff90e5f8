import type Database from 'better-sqlite3';
import type { MadeSeal } from './seal-maker.ts';

/** Puts seals in the place of their blocks. Run inside a transaction. */
export class Sealer {
  readonly #sql;

  constructor(database: Database.Database) {
    this.#sql = {
      block: database
        .prepare<[number, number], Buffer>('SELECT link FROM block WHERE site_id = ? AND position = ?')
        .pluck(),
      newPage: database.prepare(
        `INSERT INTO page (site_id, sealed_to, channel_id, hour_ms, from_ms, to_ms, from_position, to_position,
                           count, least, sum, most, offset, length, coarse, content_hash)
         VALUES (:siteId, :sealedTo, :channelId, :hourMs, :fromMs, :toMs, :fromPosition, :toPosition,
                 :count, :least, :sum, :most, :offset, :length, :coarse, :contentHash)`,
      ),
      newSeal: database.prepare(
        `INSERT INTO seal (site_id, from_position, to_position, head, link, content)
         VALUES (?, ?, ?, ?, ?, ?)`,
      ),
      dropBlocks: database.prepare<[number, number]>('DELETE FROM block WHERE site_id = ? AND position <= ?'),
    };
  }

  /** Whether the newest block of a seal is still the one that it was made of. */
  fits(siteId: number, { to, head }: MadeSeal): boolean {
    return this.#sql.block.get(siteId, to)?.equals(head) ?? false;
  }

  put(siteId: number, { from, to, head, link, pages, content }: MadeSeal): void {
    this.#sql.newSeal.run(siteId, from, to, head, link, content);
    for (const { vessel: _, channel: __, ...page } of pages)
      this.#sql.newPage.run({ ...page, siteId, sealedTo: to });
    this.#sql.dropBlocks.run(siteId, to);
  }
}
