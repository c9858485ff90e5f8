import type Database from 'better-sqlite3';
import { ReadingRecords } from '../reading-records.ts';
import { StoreError } from '../store.ts';
import { type Block, nextLink } from './chain.ts';
import { type LogLine, LogLines } from './log-lines.ts';

/** A commit of a site as it lies in the journal. Its entries go from the block before up to its position. */
export interface StoredBlock {
  position: number;
  link: Buffer;
  /** By the id of their channel, with their positions, ascending. */
  readings: ReadingRecords;
}

/** A block with all that its link stands for. */
export interface CheckedBlock extends StoredBlock {
  log: readonly LogLine[];
  /** The link that its entries make. */
  made: Buffer;
}

/** What is not sealed yet, a block each commit, for queries on one connection. */
export class Journal {
  readonly #after;
  readonly #channel;
  readonly #log;

  constructor(database: Database.Database) {
    this.#after = database.prepare<[number, number], { position: number; link: Buffer; readings: Buffer }>(
      'SELECT position, link, readings FROM block WHERE site_id = ? AND position > ? ORDER BY position',
    );
    this.#channel = database.prepare<[number, number], { vessel: string; channel: string }>(
      'SELECT vessel, name AS channel FROM channel WHERE id = ? AND site_id = ?',
    );
    this.#log = new LogLines(database);
  }

  /** Those of a site that go beyond a position, in order. Throws a `StoreError`, `store-changed`, for one that is damaged. */
  *after(siteId: number, position: number): Generator<StoredBlock> {
    for (const { readings, ...block } of this.#after.iterate(siteId, position)) {
      yield { ...block, readings: readingsOf(readings, block.position) };
    }
  }

  /** The same, each with what its link must be after a head at the position. */
  *checked(siteId: number, position: number, head: Buffer): Generator<CheckedBlock> {
    const lines = this.#log.between(siteId, position + 1, Number.MAX_SAFE_INTEGER);
    let next = 0;
    let before = head;
    const names = new Map<number, Block['channels'][number]>();
    for (const block of this.after(siteId, position)) {
      const first = next;
      while (next < lines.length && lines[next]!.position <= block.position) next++;
      const log = lines.slice(first, next);
      const channels = channelsOf(block.readings, (id) => {
        const name = names.get(id) ?? this.#nameOf(siteId, id);
        names.set(id, name);
        return name;
      });
      before = nextLink(before, {
        readings: block.readings.bytes,
        channels,
        log: log.map(({ line }) => line),
      });
      yield { ...block, log, made: before };
    }
  }

  #nameOf(siteId: number, id: number): Block['channels'][number] {
    const found = this.#channel.get(id, siteId);
    return [found?.vessel ?? null, found?.channel ?? null];
  }
}

function readingsOf(bytes: Buffer, position: number): ReadingRecords {
  try {
    return new ReadingRecords(bytes);
  } catch {
    throw new StoreError('store-changed', `entries up to ${position} are damaged; verify says where`);
  }
}

/** What `Block.channels` says of readings. */
export function channelsOf<Name>(readings: ReadingRecords, nameOf: (id: number) => Name): Name[] {
  const ids = new Set<number>();
  for (let i = 0; i < readings.length; i++) ids.add(readings.channel(i));
  return Array.from(ids, nameOf);
}
