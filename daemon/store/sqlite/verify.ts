import Database from 'better-sqlite3';
import { isoTime } from '../../../shared/wire/time.ts';
import type { ActionBodies } from '../../watch/actions.ts';
import { Batches } from '../../watch/batches.ts';
import { nextAlarmState } from '../alarm-state.ts';
import { DROP_ACTION, type Drop, isDropped, keepsAll, parseDrop } from '../drops.ts';
import { photographHash } from '../photograph-hash.ts';
import {
  type AlarmRow,
  type Head,
  type NewAction,
  type NewAlarmEvent,
  type Photograph,
  type SiteHead,
  StoreError,
} from '../store.ts';
import { isOpenAlarm } from './alarm-projection.ts';
import {
  type ActionRow,
  deedsLink,
  firstLink,
  firstSealLink,
  nextSealLink,
  type SealedPage,
  sealedPage,
  siteChecksum,
  siteHead,
  snapshotChecksum,
} from './chain.ts';
import { hasOurSchema } from './database.ts';
import { dropsOf } from './dropper.ts';
import { type CheckedBlock, channelsOf, Journal } from './journal.ts';
import { LogLines } from './log-lines.ts';
import { decodePage } from './page-codec.ts';
import { hourOf } from './pages.ts';

/** What a store holds, found whole. */
export interface Whole {
  sites: VerifiedSite[];
  /** Where the head that was looked up is in its chains. */
  found?: FoundHead;
}

export interface VerifiedSite extends SiteHead {
  /** Readings that are not kept any more, as the history says. */
  dropped: number;
}

/** A head of an earlier day: the site whose it is, and how many entries it stands for. */
export interface FoundHead extends Head {
  site: string;
}

/** Where a store is not what was written: the first place found. */
export interface Difference {
  /** What is wrong, in words. */
  what: string;
  site: string | null;
  /** Entries of the site, the first and the last among which it lies. */
  from: number | null;
  to: number | null;
  /** When the first and the last of them arrived, or of sealed readings were measured, epoch ms. */
  fromMs: number | null;
  toMs: number | null;
  /** Channels that have readings among them. */
  channels: readonly string[];
}

/**
 * Works a store's chains and all that is made from its entries out anew, and compares. Reads as of one
 * moment, also beside a writer. Time grows with what is stored; memory with the number of its alarms. Looks a
 * head of an earlier day up meanwhile, where one is given: one that is in no chain is a difference.
 */
export function verifyDatabase(database: Database.Database, head?: string): Whole | Difference {
  try {
    return database.transaction(() => verifyAtOneMoment(database, head))();
  } catch (error) {
    if (error instanceof Found) return error.difference;
    if (error instanceof Database.SqliteError && /^SQLITE_(CORRUPT|IOERR_SHORT_READ)/.test(error.code))
      return differs('the database file is damaged');
    throw error;
  }
}

export const isDifference = (result: Whole | Difference): result is Difference => 'what' in result;

/** One line: the first place that is not as it was written. */
export function describeDifference({ what, site, from, to, fromMs, toMs, channels }: Difference): string {
  const parts = [
    site,
    from === null ? null : `entries ${from} to ${to}`,
    fromMs === null ? null : `of ${isoTime(fromMs)} to ${isoTime(toMs!)}`,
    channels.length === 0 ? null : channels.join(' '),
  ].filter((part) => part !== null);
  return `not as written: ${what}${parts.length === 0 ? '' : ` (${parts.join(', ')})`}`;
}

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

/** The schema first: queries of a database that has other tables cannot be prepared. */
function verifyAtOneMoment(database: Database.Database, head: string | undefined): Whole {
  if (!hasOurSchema(database)) throw new Found('its tables are not those of this version');
  return new Verification(database, head).run();
}

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
  deeds: string;
  checksum: Buffer;
  cameWithout: number | null;
}

/** A page as it is stored. */
interface PageRow extends Omit<SealedPage, 'vessel' | 'channel'> {
  channelId: number;
  vessel: string | null;
  channel: string | null;
  offset: number;
  length: number;
}

/** How far a site is sealed, the link of its newest seal, and the head of the blocks then. */
interface Sealed {
  toPosition: number;
  link: Buffer | null;
  head: Buffer;
  /** What stands for it all. */
  pass: Head | null;
  /** Readings that were dropped of it. */
  dropped: number;
}

/** All that have a `site_id`. */
const SITE_TABLES = [
  'channel',
  'action',
  'alarm_event',
  'alarm',
  'block',
  'snapshot',
  'seal',
  'page',
] as const;

class Verification {
  readonly #database: Database.Database;
  readonly #journal: Journal;
  readonly #log: LogLines;
  readonly #usedChannels = new Set<number>();
  readonly #sought: string | undefined;
  #found: FoundHead | undefined;

  constructor(database: Database.Database, sought: string | undefined) {
    this.#sought = sought;
    this.#database = database;
    this.#journal = new Journal(database);
    this.#log = new LogLines(database);
  }

  run(): Whole {
    this.#checkFile();
    const sites = this.#database
      .prepare<[], StoredSite>(
        `SELECT id, name, last_position AS lastPosition, judged_position AS judgedPosition,
                judged_at_ms AS judgedAtMs, deeds, checksum, came_without AS cameWithout FROM site ORDER BY name`,
      )
      .all();
    const whole = sites.map((site) => this.#checkSite(site));
    this.#checkPhotographs();
    this.#checkWaitingPhotographs();
    this.#checkNothingElse();
    if (this.#sought === undefined) return { sites: whole };
    if (this.#found === undefined)
      throw new Found(
        `the history does not lead to the head ${this.#sought}, unless that was of what was not sealed yet`,
      );
    return { sites: whole, found: this.#found };
  }

  /** Takes note of the head that is sought. */
  #pass(site: string, entries: number, made: Buffer): Head {
    const head = made.toString('hex');
    if (this.#sought === head) this.#found = { site, entries, head };
    return { entries, head };
  }

  /** That every page is one, and every index says what its table does. */
  #checkFile(): void {
    const said = this.#database.pragma('integrity_check(1)', { simple: true });
    if (said !== 'ok')
      throw new Found(`the database file is damaged (${String(said).replaceAll(/\s+/g, ' ')})`);
  }

  #checkSite(site: StoredSite): VerifiedSite {
    if (site.lastPosition === 0) throw new Found('a site has no entries', { site: site.name });
    const sealed = this.#checkSeals(site);
    const head = this.#checkChain(site, sealed);
    this.#checkDeeds(site);
    this.#checkDrops(site);
    this.#checkAlarms(site);
    const snapshot = this.#database
      .prepare<[number], { position: number; state: string }>(
        'SELECT position, state FROM snapshot WHERE site_id = ?',
      )
      .get(site.id);
    const checksum = siteChecksum({
      ...site,
      head,
      sealLink: sealed.link,
      snapshot: snapshot === undefined ? null : snapshotChecksum(snapshot.position, snapshot.state),
    });
    if (!checksum.equals(site.checksum))
      throw new Found('how far the site is, or the state kept with it, was changed', { site: site.name });
    const newest = { entries: site.lastPosition, head: siteHead(sealed.link, head).toString('hex') };
    return { site: site.name, ...newest, sealed: sealed.pass, dropped: sealed.dropped };
  }

  /** How far a site is sealed, the link of its newest seal, and the head of the blocks then. */
  #checkSeals(site: StoredSite): Sealed {
    const seals = this.#database
      .prepare<[number], { from: number; to: number; head: Buffer; link: Buffer; content: Buffer }>(
        `SELECT from_position AS 'from', to_position AS 'to', head, link, content FROM seal
         WHERE site_id = ? ORDER BY to_position`,
      )
      .iterate(site.id);
    const drops = dropsOf(this.#database, site.id);
    // Of a forwarded site, a drop may come after the pages that are without their readings since.
    const allowance = { left: site.cameWithout ?? 0 };
    let sealed: Sealed = { toPosition: 0, link: null, head: firstLink(site.name), pass: null, dropped: 0 };
    for (const { from, to, head, link, content } of seals) {
      const where = { site: site.name, from, to };
      if (from !== sealed.toPosition + 1 || to < from)
        throw new Found('what is sealed does not follow on what was sealed before', where);
      const log = this.#log.between(site.id, from, to);
      const positions = new Set(log.map(({ position }) => position));
      const { pages, dropped } = this.#checkPages(site, to, { content, drops, allowance }, positions, where);
      if (
        positions.size + dropped !== to - from + 1 ||
        [...positions].some((position) => position < from || position > to)
      )
        throw new Found('entries are missing or too many', where);
      const lines = log.map(({ line }) => line);
      const made = nextSealLink(sealed.link ?? firstSealLink(site.name), {
        from,
        to,
        head,
        log: lines,
        pages,
      });
      if (!made.equals(link))
        throw new Found('what is sealed is not what was written', {
          ...where,
          channels: channelsOfPages(pages),
        });
      const pass = this.#pass(site.name, to, siteHead(link, head));
      sealed = { toPosition: to, link, head, pass, dropped: sealed.dropped + dropped };
    }
    return sealed;
  }

  /** The pages of a seal, whose rows must say what their readings do; their positions are put in. */
  #checkPages(
    site: StoredSite,
    sealedTo: number,
    {
      content: contents,
      drops,
      allowance,
    }: { content: Buffer; drops: readonly Drop[]; allowance: { left: number } },
    positions: Set<number>,
    where: Partial<Difference>,
  ): { pages: SealedPage[]; dropped: number } {
    const rows = this.#database
      .prepare<[number, number], PageRow>(
        `SELECT channel_id AS channelId, vessel, name AS channel, hour_ms AS hourMs, from_ms AS fromMs,
                to_ms AS toMs, from_position AS fromPosition, to_position AS toPosition, count, least, sum, most,
                offset, length, coarse, content_hash AS contentHash
         FROM page LEFT JOIN channel ON channel.id = channel_id AND channel.site_id = page.site_id
         WHERE page.site_id = ? AND sealed_to = ? ORDER BY offset, length`,
      )
      .iterate(site.id, sealedTo);
    const pages: SealedPage[] = [];
    let end = 0;
    let dropped = 0;
    for (const { channelId, vessel, channel, offset, length, coarse, contentHash, ...row } of rows) {
      const content = contents.subarray(offset, offset + length);
      const at = { ...where, fromMs: row.fromMs, toMs: row.toMs, channels: [`${vessel}/${channel}`] };
      if (vessel === null || channel === null) throw new Found('a page has no channel', at);
      if (offset !== end || content.length !== length)
        throw new Found('a page is not where its row says', at);
      end += length;
      this.#usedChannels.add(channelId);
      if (length === 0) {
        if (!drops.some((drop) => isDropped(drop, row))) {
          if (row.count > allowance.left) throw new Found('readings are gone that nobody dropped', at);
          allowance.left -= row.count;
        }
        pages.push({ vessel, channel, ...row, coarse, contentHash });
        dropped += row.count;
        continue;
      }
      let page: SealedPage;
      try {
        const readings = decodePage(content, row.count);
        for (let i = 0; i < readings.position.length; i++) {
          const position = readings.position[i]!;
          if (positions.has(position)) throw new Found('an entry is there twice', at);
          positions.add(position);
        }
        page = sealedPage(vessel, channel, readings, content);
      } catch (error) {
        if (error instanceof Found) throw error;
        throw new Found('a page cannot be read', at);
      }
      const { vessel: _, channel: __, coarse: steps, contentHash: made, ...said } = page;
      const isSaid = Object.entries(said).every(([name, value]) => row[name as keyof typeof row] === value);
      if (!isSaid || !steps.equals(coarse) || !made.equals(contentHash))
        throw new Found('a page is not what its row says', at);
      if (hourOf(row.fromMs) !== hourOf(row.toMs)) throw new Found('a page is of more than an hour', at);
      pages.push(page);
    }
    if (end !== contents.length) throw new Found('there is more in a seal than its pages', where);
    return { pages, dropped };
  }

  /** The head of a site's blocks, worked out from what is not sealed. */
  #checkChain(site: StoredSite, sealed: Sealed): Buffer {
    for (const table of ['action', 'alarm_event']) {
      // Compared here, not as numbers of JavaScript, which do not reach as far.
      const stray = this.#database
        .prepare<[number, number], { atMs: number }>(
          `SELECT arrived_ms AS atMs FROM ${table}
           WHERE site_id = ? AND NOT position BETWEEN 1 AND ? LIMIT 1`,
        )
        .get(site.id, site.lastPosition);
      if (stray !== undefined) {
        const when = { fromMs: stray.atMs, toMs: stray.atMs };
        throw new Found(`an entry of ${table} lies beyond the first or the last`, {
          site: site.name,
          ...when,
        });
      }
    }
    let head = sealed.head;
    let from = sealed.toPosition + 1;
    try {
      for (const block of this.#journal.checked(site.id, sealed.toPosition, sealed.head)) {
        const { position: to, link, made, readings } = block;
        for (let i = 0; i < readings.length; i++) this.#usedChannels.add(readings.channel(i));
        if (!isComplete(block, from) || !made.equals(link)) {
          const what = isComplete(block, from)
            ? 'what is stored is not what was written'
            : 'entries are missing or too many';
          throw new Found(what, { site: site.name, from, to, ...this.#whenAndWhere(block) });
        }
        head = made;
        from = to + 1;
        this.#pass(site.name, to, siteHead(sealed.link, made));
      }
    } catch (error) {
      if (error instanceof StoreError)
        throw new Found('readings are damaged', { site: site.name, from, to: site.lastPosition });
      throw error;
    }
    if (from - 1 !== site.lastPosition || this.#hasBlocksBefore(site.id, sealed.toPosition)) {
      const where = { site: site.name, from, to: site.lastPosition };
      const rest = this.#log.between(site.id, from, site.lastPosition);
      throw new Found('its last entries are not those of its chain', { ...where, ...whenOf(rest) });
    }
    return head;
  }

  #hasBlocksBefore(siteId: number, position: number): boolean {
    const block = this.#database
      .prepare('SELECT 1 FROM block WHERE site_id = ? AND position <= ? LIMIT 1')
      .get(siteId, position);
    return block !== undefined;
  }

  #whenAndWhere({ readings, log }: CheckedBlock): Partial<Difference> {
    const nameOf = this.#database
      .prepare<[number], string>("SELECT vessel || '/' || name FROM channel WHERE id = ?")
      .pluck();
    const channels = channelsOf(readings, (id) => nameOf.get(id) ?? '?').sort();
    const arrivals = Array.from({ length: readings.length }, (_, i) => ({
      arrivedMs: readings.arrivedMs(i),
    }));
    return { ...whenOf([...arrivals, ...log]), channels };
  }

  /** What a start compares the deeds with. */
  #checkDeeds({ id, name, deeds }: StoredSite): void {
    const rows = this.#database
      .prepare<[number], ActionRow & { position: number }>(
        `SELECT position, action, at_ms AS atMs, arrived_ms AS arrivedMs, by, body FROM action
         WHERE site_id = ? ORDER BY position`,
      )
      .iterate(id);
    if (deedsLink(rows) !== deeds)
      throw new Found('what stands for all that was done was changed', { site: name });
  }

  /** What was dropped against the batches that there were: their readings are never. */
  #checkDrops({ id, name }: StoredSite): void {
    const actions = this.#database
      .prepare<[number], NewAction & { body: string }>(
        `SELECT action, at_ms AS atMs, arrived_ms AS arrivedMs, by, body FROM action
         WHERE site_id = ? ORDER BY position`,
      )
      .all(id);
    for (const [i, { action, arrivedMs, body }] of actions.entries()) {
      if (action !== DROP_ACTION) continue;
      const where = { site: name, fromMs: arrivedMs, toMs: arrivedMs };
      const drop = parseDrop(body);
      const batches = new Batches(name);
      // What was done in the minute before may have been unknown to whoever dropped.
      for (const one of actions.slice(0, i).filter((earlier) => earlier.arrivedMs < arrivedMs - 60_000))
        batches.apply({ ...one, body: bodyOf(one.body, where) });
      if (drop === null || !keepsAll(drop, batches.spans()))
        throw new Found('readings of a batch were dropped', where);
    }
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
      const state = nextAlarmState(name, before, { ...event, body: bodyOf(event.body, { site: name }) });
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

  /** Each picture that an entry names is there, as it came, and no other. */
  #checkPhotographs(): void {
    const named = new Map<string, { type: string; where: Partial<Difference> }>();
    const entries = this.#database
      .prepare<[], { site: string; arrivedMs: number; body: string }>(
        `SELECT name AS site, arrived_ms AS arrivedMs, body FROM action JOIN site ON site.id = site_id
         WHERE action = 'entry'`,
      )
      .iterate();
    for (const { site, arrivedMs, body } of entries) {
      const where = { site, fromMs: arrivedMs, toMs: arrivedMs };
      const { what } = bodyOf(body, where) as ActionBodies['entry'];
      if (what.kind === 'photograph') named.set(what.sha256, { type: what.type, where });
    }
    const photographs = this.#database
      .prepare<[], Photograph>('SELECT sha256, type, content FROM photograph')
      .iterate();
    for (const { sha256, type, content } of photographs) {
      const of = named.get(sha256);
      if (of === undefined) throw new Found('there is a photograph that no entry names');
      if (of.type !== type || photographHash(content) !== sha256)
        throw new Found('a photograph is not what was taken in', of.where);
      named.delete(sha256);
    }
    for (const { where } of named.values()) throw new Found('a photograph is missing', where);
  }

  /** Those of a forwarded site that wait for their entry. */
  #checkWaitingPhotographs(): void {
    const waiting = this.#database
      .prepare<[], Photograph & { site: string }>('SELECT site, sha256, content FROM forwarded_photograph')
      .iterate();
    for (const { site, sha256, content } of waiting)
      if (photographHash(content) !== sha256)
        throw new Found('a photograph that came ahead is not what was taken in', { site });
  }

  /** Rows that belong to no site, and channels without a reading. */
  #checkNothingElse(): void {
    for (const table of SITE_TABLES) {
      const stray = this.#database
        .prepare(`SELECT 1 FROM ${table} WHERE site_id NOT IN (SELECT id FROM site) LIMIT 1`)
        .get();
      if (stray !== undefined) throw new Found(`a row of ${table} belongs to no site`);
    }
    const unsealed = this.#database
      .prepare(
        'SELECT 1 FROM page WHERE (site_id, sealed_to) NOT IN (SELECT site_id, to_position FROM seal) LIMIT 1',
      )
      .get();
    if (unsealed !== undefined) throw new Found('a page belongs to no seal');
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

function bodyOf(text: string, where: Partial<Difference>): unknown {
  try {
    return JSON.parse(text);
  } catch {
    throw new Found('what was done or said cannot be read', where);
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

const channelsOfPages = (pages: readonly SealedPage[]): string[] =>
  [...new Set(pages.map(({ vessel, channel }) => `${vessel}/${channel}`))].sort();

/** Whether a block's entries are those after the block before, up to its position. */
function isComplete({ position: to, readings, log }: CheckedBlock, from: number): boolean {
  if (readings.length + log.length !== to - from + 1) return false;
  let [reading, line] = [0, 0];
  for (let position = from; position <= to; position++) {
    if (reading < readings.length && readings.position(reading) === position) reading++;
    else if (log[line]?.position === position) line++;
    else return false;
  }
  return true;
}

function whenOf(entries: readonly { arrivedMs: number }[]): Partial<Difference> {
  if (entries.length === 0) return {};
  return {
    fromMs: entries.reduce((least, { arrivedMs }) => Math.min(least, arrivedMs), Number.POSITIVE_INFINITY),
    toMs: entries.reduce((most, { arrivedMs }) => Math.max(most, arrivedMs), Number.NEGATIVE_INFINITY),
  };
}
