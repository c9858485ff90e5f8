import type Database from 'better-sqlite3';
import { firstLink, nextLink, siteChecksum, snapshotChecksum } from './chain.ts';
import { entryLines } from './entry-lines.ts';

/** Entries of one block, where nobody knows any more what was committed together. */
const BLOCK_ENTRIES = 1000;

/** Puts what was stored before there were chains into those of its sites, as it is found. */
export function chainEverything(database: Database.Database): void {
  const newBlock = database.prepare('INSERT INTO block (site_id, position, link) VALUES (?, ?, ?)');
  const putChecksum = database.prepare('UPDATE site SET checksum = ? WHERE id = ?');
  const sites = database
    .prepare<
      [],
      {
        id: number;
        name: string;
        lastPosition: number;
        judgedPosition: number | null;
        judgedAtMs: number | null;
        snapshotPosition: number | null;
        state: string;
      }
    >(
      `SELECT id, name, last_position AS lastPosition, judged_position AS judgedPosition,
              judged_at_ms AS judgedAtMs, position AS snapshotPosition, state
       FROM site LEFT JOIN snapshot ON site_id = id`,
    )
    .all();
  for (const { id, snapshotPosition, state, ...site } of sites) {
    let head = firstLink(site.name);
    for (let from = 0; from < site.lastPosition; from += BLOCK_ENTRIES) {
      const to = Math.min(from + BLOCK_ENTRIES, site.lastPosition);
      head = nextLink(
        head,
        [...entryLines(database, id, from + 1, to)].map(({ line }) => line),
      );
      newBlock.run(id, to, head);
    }
    const snapshot = snapshotPosition === null ? null : snapshotChecksum(snapshotPosition, state);
    putChecksum.run(siteChecksum({ ...site, head, sealLink: null, snapshot }), id);
  }
}
