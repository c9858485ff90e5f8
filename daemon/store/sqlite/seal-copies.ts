import type Database from 'better-sqlite3';
import type { SealCopy } from '../store.ts';
import type { ActionRow, AlarmEventRow, SealedPage } from './chain.ts';
import type { SealHead } from './seal-check.ts';

/**
 * Copies seals for another store: one line of JSON (`SealHead`), then the contents of the pages one after the other.
 * Reads only.
 */
export class SealCopies {
  readonly #sql;

  constructor(database: Database.Database) {
    this.#sql = {
      seal: database.prepare<
        [string, number],
        { siteId: number; from: number; to: number; head: Buffer; link: Buffer; content: Buffer }
      >(
        `SELECT site_id AS siteId, from_position AS 'from', to_position AS 'to', head, link, content
         FROM seal JOIN site ON site.id = site_id WHERE name = ? AND to_position > ?
         ORDER BY to_position LIMIT 1`,
      ),
      actions: database.prepare<[number, number, number], ActionRow & { position: number }>(
        `SELECT position, action, at_ms AS atMs, arrived_ms AS arrivedMs, by, body FROM action
         WHERE site_id = ? AND position BETWEEN ? AND ? ORDER BY position`,
      ),
      alarmEvents: database.prepare<[number, number, number], AlarmEventRow & { position: number }>(
        `SELECT position, key, id, vessel, alarm, event, priority, at_ms AS atMs, arrived_ms AS arrivedMs, body
         FROM alarm_event WHERE site_id = ? AND position BETWEEN ? AND ? ORDER BY position`,
      ),
      pages: database.prepare<[number, number], SealedPage & { length: number }>(
        `SELECT vessel, name AS channel, hour_ms AS hourMs, from_ms AS fromMs, to_ms AS toMs,
                from_position AS fromPosition, to_position AS toPosition, count, least, sum, most,
                coarse, content_hash AS contentHash, length
         FROM page JOIN channel ON channel.id = channel_id
         WHERE page.site_id = ? AND sealed_to = ? ORDER BY offset, length`,
      ),
    };
  }

  /** The first seal of a site that goes beyond a position; null where there is none. */
  after(site: string, after: number): SealCopy | null {
    const seal = this.#sql.seal.get(site, after);
    if (seal === undefined) return null;
    const { siteId, from, to, head, link, content } = seal;
    const actions = this.#sql.actions.all(siteId, from, to);
    const said: SealHead = {
      from,
      to,
      head: head.toString('hex'),
      link: link.toString('hex'),
      actions,
      alarmEvents: this.#sql.alarmEvents.all(siteId, from, to) as SealHead['alarmEvents'],
      pages: this.#sql.pages.all(siteId, to).map(({ coarse, contentHash, ...page }) => ({
        ...page,
        coarse: coarse.toString('base64'),
        contentHash: contentHash.toString('hex'),
      })),
    };
    return {
      from,
      to,
      bytes: Buffer.concat([Buffer.from(`${JSON.stringify(said)}\n`), content]),
      photographs: photographsIn(actions).map(({ sha256 }) => sha256),
    };
  }
}

/** Pictures that entries name. */
export function photographsIn(actions: readonly ActionRow[]): { sha256: string; type: string }[] {
  return actions.flatMap(({ action, body }) => {
    if (action !== 'entry') return [];
    const { what } = (JSON.parse(body) ?? {}) as {
      what?: { kind?: unknown; sha256?: unknown; type?: unknown };
    };
    return what?.kind === 'photograph' ? [{ sha256: String(what.sha256), type: String(what.type) }] : [];
  });
}
