import { createHash } from 'node:crypto';
import type Database from 'better-sqlite3';
import { ReadingRecords } from '../reading-records.ts';
import { StoreError } from '../store.ts';
import { firstLink, firstSealLink, siteChecksum, snapshotChecksum } from './chain.ts';
import { addToGroups, emptyPrefix, MOST_ENTRIES, type Prefix, SealMaker } from './seal-maker.ts';
import { Sealer } from './sealer.ts';

/*
 * Versions 1 to 3 had a row for each reading; from version 2 on a block hashed lines of text. What brings such
 * a store up to date goes by how it was then, whatever becomes of the chain later.
 */

/** Entries of one block, where nobody knows any more what was committed together. */
const BLOCK_ENTRIES = 1000;

interface ReadingRow {
  position: number;
  channelId: number;
  vessel: string | null;
  channel: string | null;
  atMs: number;
  stamped: number;
  seq: number | '';
  value: number;
  arrivedMs: number;
  source: 'device' | 'typed';
}

interface Entry {
  position: number;
  line: string;
  /** Where it is one. */
  reading?: ReadingRow;
}

type InPositions = [siteId: number, from: number, to: number];

/** Entries of a site, by their positions. */
function entriesOf(database: Database.Database, table: string, ...between: InPositions): Entry[] {
  const rows = <Row>(sql: string): Row[] => database.prepare<InPositions, Row>(sql).all(...between);
  const where = 'WHERE site_id = ? AND position BETWEEN ? AND ?';
  const readings = rows<ReadingRow>(
    `SELECT position, channel_id AS channelId, vessel, name AS channel, at_ms AS atMs, stamped, seq, value,
            arrived_ms AS arrivedMs, source
     FROM ${table} AS reading
     LEFT JOIN channel ON channel.id = channel_id AND channel.site_id = reading.site_id
     ${where.replace('site_id', 'reading.site_id')}`,
  ).map((reading) => {
    const { position, vessel, channel, atMs, stamped, seq, value, arrivedMs, source } = reading;
    const line = `${position},reading,${vessel ?? '?'},${channel ?? '?'},${atMs},${stamped ? 'stamped' : ''},${seq},${value},${arrivedMs},${source}`;
    return { position, line, reading };
  });
  const lines = (sql: string): Entry[] =>
    database
      .prepare<InPositions, [position: number, ...unknown[]]>(`${sql} ${where}`)
      .raw()
      .all(...between)
      .map((row) => ({ position: row[0], line: JSON.stringify(row) }));
  const others = [
    ...lines("SELECT position, 'action', action, at_ms, arrived_ms, by, body FROM action"),
    ...lines(
      `SELECT position, 'alarm', key, id, vessel, alarm, event, priority, at_ms, arrived_ms, body FROM alarm_event`,
    ),
  ];
  return [...readings, ...others].sort((a, b) => a.position - b.position);
}

const nextLink = (before: Buffer, entries: readonly Entry[]): Buffer =>
  createHash('sha256')
    .update(before)
    .update(entries.map(({ line }) => line).join('\n'))
    .digest();

interface SiteRow {
  id: number;
  name: string;
  checksum: Buffer;
  lastPosition: number;
  judgedPosition: number | null;
  judgedAtMs: number | null;
  snapshotPosition: number | null;
  state: string;
}

const sitesOf = (database: Database.Database): SiteRow[] =>
  database
    .prepare<[], SiteRow>(
      `SELECT id, name, checksum, last_position AS lastPosition, judged_position AS judgedPosition,
              judged_at_ms AS judgedAtMs, position AS snapshotPosition, state
       FROM site LEFT JOIN snapshot ON site_id = id`,
    )
    .all();

function checksumOf(
  { snapshotPosition, state, ...site }: SiteRow,
  chain: { head: Buffer; sealLink: Buffer | null },
): Buffer {
  const snapshot = snapshotPosition === null ? null : snapshotChecksum(snapshotPosition, state);
  return siteChecksum({ ...site, ...chain, snapshot, cameWithout: null });
}

function putChecksum(
  database: Database.Database,
  site: SiteRow,
  chain: { head: Buffer; sealLink: Buffer | null },
): void {
  database.prepare('UPDATE site SET checksum = ? WHERE id = ?').run(checksumOf(site, chain), site.id);
}

/** Version 2: puts what was stored before there were chains into those of its sites, as it is found. */
export function chainRows(database: Database.Database): void {
  const newBlock = database.prepare('INSERT INTO block (site_id, position, link) VALUES (?, ?, ?)');
  for (const site of sitesOf(database)) {
    let head = firstLink(site.name);
    for (let from = 0; from < site.lastPosition; from += BLOCK_ENTRIES) {
      const to = Math.min(from + BLOCK_ENTRIES, site.lastPosition);
      head = nextLink(head, entriesOf(database, 'reading', site.id, from + 1, to));
      newBlock.run(site.id, to, head);
    }
    putChecksum(database, site, { head, sealLink: null });
  }
}

/**
 * Version 4: seals all that lies in rows, checked first. Throws a `StoreError`, `store-changed`, where something is
 * not as it was written: sealed, nobody would find it any more.
 */
export function sealRows(database: Database.Database): void {
  const blocksAfter = database.prepare<[number, number], { position: number; link: Buffer }>(
    `SELECT position, link FROM block_of_rows WHERE site_id = ? AND position > ? ORDER BY position LIMIT ${BLOCKS_AT_A_TIME}`,
  );
  const newestSeal = database.prepare<[number], { toPosition: number; head: Buffer; link: Buffer }>(
    `SELECT to_position AS toPosition, head, link FROM seal WHERE site_id = ?
     ORDER BY to_position DESC LIMIT 1`,
  );
  const maker = new SealMaker(database);
  const sealer = new Sealer(database);
  let rows = 0;
  for (const site of sitesOf(database)) {
    const seal = newestSeal.get(site.id);
    let head = seal?.head ?? firstLink(site.name);
    let link = seal?.link ?? null;
    const next = (sealedTo: number): Prefix =>
      emptyPrefix(sealedTo, { before: link ?? firstSealLink(site.name), head });
    let prefix = next(seal?.toPosition ?? 0);
    const put = (): void => {
      if (prefix.to < prefix.from) return;
      const made = madeAtOnce(maker.make(prefix));
      sealer.put(site.id, made);
      link = Buffer.from(made.link);
      prefix = next(made.to);
    };
    for (;;) {
      const blocks = blocksAfter.all(site.id, prefix.to);
      for (const { position, link } of blocks) {
        const entries = entriesOf(database, 'reading_of_rows', site.id, prefix.to + 1, position);
        head = nextLink(head, entries);
        if (!head.equals(link)) throw changed(`${site.name}: entries ${prefix.to + 1} to ${position}`);
        rows += addEntries(prefix, entries);
        prefix.to = position;
        prefix.head = head;
        if (position - prefix.from >= MOST_ENTRIES) put();
      }
      if (blocks.length === 0) break;
    }
    const isWhole = prefix.to === site.lastPosition;
    if (!isWhole || !site.checksum.equals(checksumOf(site, { head, sealLink: seal?.link ?? null })))
      throw changed(`${site.name}: its last entries, or how far it is,`);
    put();
    putChecksum(database, site, { head, sealLink: link });
  }
  if (rows !== database.prepare('SELECT count(*) FROM reading_of_rows').pluck().get())
    throw changed('some readings, which belong to no commit,');
}

const changed = (what: string): StoreError =>
  new StoreError(
    'store-changed',
    `${what} are not as they were written: not brought up to date, the version before can verify`,
  );

/** What a generator gives at its end. */
function madeAtOnce<Made>(making: Generator<undefined, Made>): Made {
  for (;;) {
    const { done, value } = making.next();
    if (done) return value;
  }
}

const BLOCKS_AT_A_TIME = 1000;

/** Gives how many readings there were. */
function addEntries(prefix: Prefix, entries: readonly Entry[]): number {
  const readings = entries.flatMap(({ reading }) => reading ?? []);
  const records = ReadingRecords.ofLength(readings.length);
  for (const [i, { channelId, stamped, seq, ...rest }] of readings.entries())
    records.set(i, { ...rest, channel: channelId, stamped: stamped === 1, seq: seq === '' ? null : seq });
  addToGroups(prefix.groups, records);
  for (const { reading, line } of entries) if (reading === undefined) prefix.log.push(line);
  return readings.length;
}
