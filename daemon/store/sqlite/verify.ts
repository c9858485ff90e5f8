import Database from 'better-sqlite3';
import { nextAlarmState } from '../alarm-state.ts';
import type { AlarmRow, NewAlarmEvent, SiteHead } from '../store.ts';
import { isOpenAlarm } from './alarm-projection.ts';
import { firstLink, nextLink, siteChecksum, snapshotChecksum } from './chain.ts';
import { migrate } from './database.ts';
import { type EntryLine, entryLines } from './entry-lines.ts';

/** What a store holds, found whole. */
export interface Whole {
  sites: SiteHead[];
}

/** Where a store is not what was written: the first place found. */
export interface Difference {
  /** What is wrong, in words. */
  what: string;
  site: string | null;
  /** Entries of the site, the first and the last among which it lies. */
  from: number | null;
  to: number | null;
  /** When the first and the last of them arrived, epoch ms. */
  fromMs: number | null;
  toMs: number | null;
  /** Channels that have readings among them. */
  channels: readonly string[];
}

/**
 * Works a store's chains and all that is made from its entries out anew, and compares. Reads as of one
 * moment, also beside a writer. Time grows with what is stored; memory with the number of its alarms.
 */
export function verifyDatabase(database: Database.Database): Whole | Difference {
  return database.transaction(() => {
    try {
      return new Verification(database).run();
    } catch (error) {
      if (error instanceof Found) return error.difference;
      if (error instanceof Database.SqliteError && error.code.startsWith('SQLITE_CORRUPT'))
        return differs('the database file is damaged');
      throw error;
    }
  })();
}

export const isDifference = (result: Whole | Difference): result is Difference => 'what' in result;

const differs = (what: string, where: Partial<Difference> = {}): Difference => ({
  what,
  site: null,
  from: null,
  to: null,
  fromMs: null,
  toMs: null,
  channels: [],
  ...where,
});

class Found extends Error {
  readonly difference: Difference;

  constructor(what: string, where: Partial<Difference> = {}) {
    super(what);
    this.difference = differs(what, where);
  }
}

interface StoredSite {
  id: number;
  name: string;
  lastPosition: number;
  judgedPosition: number | null;
  judgedAtMs: number | null;
  checksum: Buffer;
}

class Verification {
  readonly #database: Database.Database;
  readonly #usedChannels = new Set<number>();

  constructor(database: Database.Database) {
    this.#database = database;
  }

  run(): Whole {
    this.#checkFile();
    this.#checkSchema();
    const sites = this.#database
      .prepare<[], StoredSite>(
        `SELECT id, name, last_position AS lastPosition, judged_position AS judgedPosition,
                judged_at_ms AS judgedAtMs, checksum FROM site ORDER BY name`,
      )
      .all();
    const whole = sites.map((site) => this.#checkSite(site));
    this.#checkNothingElse();
    return { sites: whole };
  }

  /** That every page is one, and every index says what its table does. */
  #checkFile(): void {
    const said = this.#database.pragma('integrity_check(1)', { simple: true });
    if (said !== 'ok') throw new Found(`the database file is damaged (${said})`);
  }

  #checkSchema(): void {
    const fresh = new Database(':memory:');
    try {
      migrate(fresh);
      const schemaOf = (database: Database.Database) =>
        JSON.stringify(
          database.prepare('SELECT type, name, tbl_name, sql FROM sqlite_schema ORDER BY type, name').all(),
        );
      if (schemaOf(fresh) !== schemaOf(this.#database))
        throw new Found('its tables are not those of this version');
    } finally {
      fresh.close();
    }
  }

  #checkSite(site: StoredSite): SiteHead {
    const head = this.#checkChain(site);
    this.#checkAlarms(site);
    const snapshot = this.#database
      .prepare<[number], { position: number; state: string }>(
        'SELECT position, state FROM snapshot WHERE site_id = ?',
      )
      .get(site.id);
    const checksum = siteChecksum({
      ...site,
      head,
      snapshot: snapshot === undefined ? null : snapshotChecksum(snapshot.position, snapshot.state),
    });
    if (!checksum.equals(site.checksum))
      throw new Found('how far the site is, or the state kept with it, was changed', { site: site.name });
    return { site: site.name, entries: site.lastPosition, head: head.toString('hex') };
  }

  /** The head of a site's chain, worked out from its entries. */
  #checkChain(site: StoredSite): Buffer {
    const blocks = this.#database
      .prepare<[number], { position: number; link: Buffer }>(
        'SELECT position, link FROM block WHERE site_id = ? ORDER BY position',
      )
      .iterate(site.id);
    const entries = entryLines(this.#database, site.id, Number.MIN_SAFE_INTEGER, Number.MAX_SAFE_INTEGER);
    try {
      return this.#checkBlocks(site, blocks, entries);
    } finally {
      entries.return?.();
    }
  }

  #checkBlocks(
    site: StoredSite,
    blocks: Iterable<{ position: number; link: Buffer }>,
    entries: Iterator<EntryLine>,
  ): Buffer {
    let entry = entries.next();
    let head = firstLink(site.name);
    let from = 1;
    for (const { position: to, link } of blocks) {
      const block: EntryLine[] = [];
      for (; !entry.done && entry.value.position <= to; entry = entries.next()) {
        block.push(entry.value);
        if (entry.value.channelId !== null) this.#usedChannels.add(entry.value.channelId);
      }
      head = nextLink(
        head,
        block.map(({ line }) => line),
      );
      const isComplete =
        block.every(({ position }, i) => position === from + i) && block.length === to - from + 1;
      if (!isComplete || !head.equals(link)) {
        const what = isComplete
          ? 'what is stored is not what was written'
          : 'entries are missing or too many';
        throw new Found(what, { site: site.name, from, to, ...whenAndWhere(block) });
      }
      from = to + 1;
    }
    if (!entry.done || from - 1 !== site.lastPosition) {
      const where = { site: site.name, from, to: site.lastPosition };
      throw new Found('its last entries are not those of its chain', {
        ...where,
        ...whenAndWhere(entry.done ? [] : [entry.value]),
      });
    }
    return head;
  }

  /** The newest states of alarms against those that their events make. */
  #checkAlarms({ id, name }: StoredSite): void {
    const made = new Map<string, { position: number; state: AlarmRow }>();
    const events = this.#database
      .prepare<[number], NewAlarmEvent & { position: number; body: string }>(
        `SELECT position, key, id, vessel, alarm, event, priority, at_ms AS atMs, arrived_ms AS arrivedMs, body
         FROM alarm_event WHERE site_id = ? ORDER BY position`,
      )
      .iterate(id);
    for (const { position, ...event } of events) {
      const before = made.get(event.id)?.state;
      const state = nextAlarmState(name, before, { ...event, body: JSON.parse(event.body) });
      if (state !== undefined) made.set(event.id, { position, state });
    }
    const rows = this.#database
      .prepare<
        [number],
        { id: string; position: number; vessel: string; atMs: number; open: number; state: string }
      >('SELECT id, position, vessel, at_ms AS atMs, open, state FROM alarm WHERE site_id = ?')
      .iterate(id);
    for (const row of rows) {
      const expected = made.get(row.id);
      made.delete(row.id);
      if (expected === undefined || !isSameAlarm(row, expected.position, expected.state)) {
        throw new Found(`the alarm ${row.id} is not what its events make`, {
          site: name,
          fromMs: row.atMs,
          toMs: row.atMs,
        });
      }
    }
    for (const [missing, { state }] of made) {
      throw new Found(`the alarm ${missing} is missing among the newest states`, {
        site: name,
        fromMs: state.atMs,
        toMs: state.atMs,
      });
    }
  }

  /** Rows that belong to no site, and channels without a reading. */
  #checkNothingElse(): void {
    for (const table of ['channel', 'reading', 'action', 'alarm_event', 'alarm', 'block', 'snapshot']) {
      const stray = this.#database
        .prepare(`SELECT 1 FROM ${table} WHERE site_id NOT IN (SELECT id FROM site) LIMIT 1`)
        .get();
      if (stray !== undefined) throw new Found(`a row of ${table} belongs to no site`);
    }
    const channels = this.#database
      .prepare<[], { id: number; site: string; channel: string }>(
        `SELECT channel.id, site.name AS site, vessel || '/' || channel.name AS channel
         FROM channel JOIN site ON site.id = site_id`,
      )
      .iterate();
    for (const { id, site, channel } of channels) {
      if (!this.#usedChannels.has(id))
        throw new Found('a channel has no reading', { site, channels: [channel] });
    }
  }
}

function isSameAlarm(
  row: { position: number; vessel: string; atMs: number; open: number; state: string },
  position: number,
  state: AlarmRow,
): boolean {
  return (
    row.position === position &&
    row.vessel === state.vessel &&
    row.atMs === state.atMs &&
    row.open === (isOpenAlarm(state) ? 1 : 0) &&
    row.state === JSON.stringify(state)
  );
}

function whenAndWhere(entries: readonly EntryLine[]): Partial<Difference> {
  if (entries.length === 0) return {};
  const channels = new Set(entries.flatMap(({ channel }) => channel ?? []));
  return {
    fromMs: Math.min(...entries.map(({ arrivedMs }) => arrivedMs)),
    toMs: Math.max(...entries.map(({ arrivedMs }) => arrivedMs)),
    channels: [...channels].sort(),
  };
}
