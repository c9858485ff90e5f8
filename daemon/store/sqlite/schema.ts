import type Database from 'better-sqlite3';
import { AlarmProjection } from './alarm-projection.ts';
import { type ActionRow, deedsLink } from './chain.ts';
import { chainRows, sealRows } from './journal-of-rows.ts';

/** 'ESTW' in ASCII: `PRAGMA application_id` of a database that is this program's. */
export const APPLICATION_ID = 0x45535457;

/**
 * What brings a database from one version (`PRAGMA user_version`) to the next, SQL or a function: the first
 * makes version 1 of an empty file. Never changed once released; a new version is a new element.
 *
 * Columns ending in `_ms` are epoch ms. A position counts within its site.
 */
export const MIGRATIONS: readonly (string | ((database: Database.Database) => void))[] = [
  `
  CREATE TABLE site (
    id INTEGER PRIMARY KEY,
    name TEXT NOT NULL UNIQUE,
    last_position INTEGER NOT NULL DEFAULT 0,
    judged_position INTEGER,
    judged_at_ms INTEGER
  ) STRICT;

  -- Apart from its site, whose row changes with every write: a state can be long.
  CREATE TABLE snapshot (
    site_id INTEGER PRIMARY KEY,
    position INTEGER NOT NULL,
    state TEXT NOT NULL
  ) STRICT;

  CREATE TABLE channel (
    id INTEGER PRIMARY KEY,
    site_id INTEGER NOT NULL,
    vessel TEXT NOT NULL,
    name TEXT NOT NULL,
    UNIQUE (site_id, vessel, name)
  ) STRICT;

  -- In the order in which history is looked up. The key holds the identity of a reading, so that many
  -- readings of the same millisecond are told apart without a walk through all of them.
  CREATE TABLE reading (
    channel_id INTEGER NOT NULL,
    at_ms INTEGER NOT NULL,
    stamped INTEGER NOT NULL,
    seq ANY NOT NULL, -- '' where there is none: a key holds no null
    value REAL NOT NULL,
    site_id INTEGER NOT NULL,
    position INTEGER NOT NULL,
    arrived_ms INTEGER NOT NULL,
    source TEXT NOT NULL,
    PRIMARY KEY (channel_id, at_ms, stamped, seq)
  ) STRICT, WITHOUT ROWID;
  CREATE UNIQUE INDEX reading_position ON reading (site_id, position);

  CREATE TABLE action (
    site_id INTEGER NOT NULL,
    position INTEGER NOT NULL,
    action TEXT NOT NULL,
    at_ms INTEGER NOT NULL,
    arrived_ms INTEGER NOT NULL,
    by TEXT NOT NULL,
    body TEXT NOT NULL,
    PRIMARY KEY (site_id, position)
  ) STRICT, WITHOUT ROWID;

  CREATE TABLE alarm_event (
    site_id INTEGER NOT NULL,
    position INTEGER NOT NULL,
    key TEXT NOT NULL,
    id TEXT NOT NULL,
    vessel TEXT NOT NULL,
    alarm TEXT NOT NULL,
    event TEXT NOT NULL,
    priority TEXT NOT NULL,
    at_ms INTEGER NOT NULL,
    arrived_ms INTEGER NOT NULL,
    body TEXT NOT NULL,
    PRIMARY KEY (site_id, position),
    UNIQUE (site_id, key)
  ) STRICT, WITHOUT ROWID;

  -- A projection of alarm_event: the newest state of each alarm as JSON, beside what it is looked up by.
  CREATE TABLE alarm (
    site_id INTEGER NOT NULL,
    id TEXT NOT NULL,
    position INTEGER NOT NULL, -- of its newest event
    vessel TEXT NOT NULL,
    at_ms INTEGER NOT NULL,
    open INTEGER NOT NULL,
    state TEXT NOT NULL,
    PRIMARY KEY (site_id, id)
  ) STRICT, WITHOUT ROWID;
  CREATE INDEX alarm_at ON alarm (at_ms, position);
  `,
  (database) => {
    database.exec(`
    -- The chain of a site: one block a commit, from the block before up to and with its position.
    CREATE TABLE block (
      site_id INTEGER NOT NULL,
      position INTEGER NOT NULL,
      link BLOB NOT NULL,
      PRIMARY KEY (site_id, position)
    ) STRICT, WITHOUT ROWID;

    -- Of what is no history: how far the site is, and the state that goes with it.
    ALTER TABLE site ADD COLUMN checksum BLOB NOT NULL DEFAULT x'';
    CREATE INDEX alarm_event_arrived ON alarm_event (arrived_ms);
    `);
    // What an earlier version wrote of an alarm may lack what this one would write.
    new AlarmProjection(database).remake();
    chainRows(database);
  },
  `
  -- What is sealed: the entries of a site from one position to another, readings in pages.
  CREATE TABLE seal (
    site_id INTEGER NOT NULL,
    to_position INTEGER NOT NULL,
    from_position INTEGER NOT NULL,
    head BLOB NOT NULL, -- of the blocks that it replaced
    link BLOB NOT NULL,
    content BLOB NOT NULL, -- of its pages, one after the other: each in a row of its own would leave much room empty
    UNIQUE (site_id, to_position)
  ) STRICT;

  -- Readings of one channel and seal whose times lie in one hour. A late one is in a page of a later seal.
  CREATE TABLE page (
    site_id INTEGER NOT NULL,
    sealed_to INTEGER NOT NULL, -- to_position of its seal
    channel_id INTEGER NOT NULL,
    hour_ms INTEGER NOT NULL,
    from_ms INTEGER NOT NULL,
    to_ms INTEGER NOT NULL,
    from_position INTEGER NOT NULL,
    to_position INTEGER NOT NULL,
    count INTEGER NOT NULL,
    least REAL NOT NULL,
    sum REAL NOT NULL,
    most REAL NOT NULL,
    offset INTEGER NOT NULL, -- in the seal's content, and so many bytes
    length INTEGER NOT NULL,
    coarse BLOB NOT NULL, -- least, sum, most and number of every five minutes
    content_hash BLOB NOT NULL, -- SHA-256: the chain holds without the content
    UNIQUE (channel_id, hour_ms, sealed_to)
  ) STRICT;
  CREATE INDEX page_of_seal ON page (site_id, sealed_to);
  `,
  (database) => {
    database.exec(`
    ALTER TABLE block RENAME TO block_of_rows;
    ALTER TABLE reading RENAME TO reading_of_rows;
    -- The chain of a site, and what is not sealed: one block a commit, from the block before up to its position.
    CREATE TABLE block (
      site_id INTEGER NOT NULL,
      position INTEGER NOT NULL,
      link BLOB NOT NULL,
      readings BLOB NOT NULL, -- reading-records.ts says what is in it
      PRIMARY KEY (site_id, position)
    ) STRICT, WITHOUT ROWID;
    `);
    sealRows(database);
    // Those that can still be dropped.
    database.exec('CREATE INDEX page_to_ms ON page (site_id, to_ms) WHERE length > 0');
    database.exec('DROP TABLE block_of_rows; DROP TABLE reading_of_rows;');
  },
  `
  -- Pictures, by the hash of their content that an action names. With rows: a long content in a key's tree is slow.
  CREATE TABLE photograph (
    sha256 TEXT PRIMARY KEY NOT NULL, -- hex
    type TEXT NOT NULL,
    content BLOB NOT NULL
  ) STRICT;
  `,
  (database) => {
    // What stands for all its deeds. What is found there already is in the chain, which says whether it was changed.
    database.exec("ALTER TABLE site ADD COLUMN deeds TEXT NOT NULL DEFAULT ''");
    const put = database.prepare<[string, number]>('UPDATE site SET deeds = ? WHERE id = ?');
    for (const id of database.prepare<[], number>('SELECT id FROM site').pluck().all())
      put.run(deedsLink(deedsOf(database, id)), id);
  },
  `
  -- Of a site that another daemon watches: how many readings came without their pages, and no drop yet that says so.
  -- Null: watched here.
  ALTER TABLE site ADD COLUMN came_without INTEGER;

  -- Pictures of such a site that came before the seal whose entry names them.
  CREATE TABLE forwarded_photograph (
    site TEXT NOT NULL,
    sha256 TEXT NOT NULL, -- hex
    type TEXT NOT NULL,
    content BLOB NOT NULL,
    UNIQUE (site, sha256)
  ) STRICT;
  `,
];

function deedsOf(database: Database.Database, siteId: number): (ActionRow & { position: number })[] {
  return database
    .prepare<[number], ActionRow & { position: number }>(
      `SELECT position, action, at_ms AS atMs, arrived_ms AS arrivedMs, by, body FROM action
       WHERE site_id = ? ORDER BY position`,
    )
    .all(siteId);
}
