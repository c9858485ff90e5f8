import type Database from 'better-sqlite3';
import type { ReadingRecords } from '../reading-records.ts';
import { Journal } from './journal.ts';

/** Readings of one channel, a column each, in the order of their positions. */
export class UnsealedReadings {
  readonly position: number[] = [];
  readonly atMs: number[] = [];
  readonly value: number[] = [];
  readonly seq: (number | null)[] = [];
  readonly isTyped: boolean[] = [];
  /** Whether they lie in the order of their times as they are. */
  #ascends = true;
  /** Else their places in that order, once it was asked for. */
  #byTime: Uint32Array | null = null;

  add(readings: ReadingRecords, i: number): void {
    const atMs = readings.atMs(i);
    if (this.atMs.length > 0 && atMs < this.atMs.at(-1)!) this.#ascends = false;
    this.#byTime = null;
    this.position.push(readings.position(i));
    this.atMs.push(atMs);
    this.value.push(readings.value(i));
    this.seq.push(readings.seq(i));
    this.isTyped.push(readings.source(i) === 'typed');
  }

  /** Takes out those up to a position. */
  forget(toPosition: number): void {
    const left = this.position.findIndex((position) => position > toPosition);
    const count = left === -1 ? this.position.length : left;
    for (const column of [this.position, this.atMs, this.value, this.seq, this.isTyped])
      column.splice(0, count);
    this.#byTime = null;
  }

  /** Their places, by time and then by position, from a time on. */
  *placesFrom(fromMs: number): Generator<number> {
    const order = this.#order();
    const placeOf = (i: number): number => (order === null ? i : order[i]!);
    const count = this.atMs.length;
    let [low, high] = [0, count];
    while (low < high) {
      const middle = (low + high) >>> 1;
      if (this.atMs[placeOf(middle)]! < fromMs) low = middle + 1;
      else high = middle;
    }
    for (let i = low; i < count; i++) yield placeOf(i);
  }

  #order(): Uint32Array | null {
    if (this.#ascends) return null;
    // Equal times stay in the order of their positions: the sort is stable.
    this.#byTime ??= Uint32Array.from(this.atMs.keys()).sort(
      (a, b) => this.atMs[a]! - this.atMs[b]! || a - b,
    );
    return this.#byTime;
  }
}

interface Site {
  toPosition: number;
  sealedTo: number;
  channels: Map<number, UnsealedReadings>;
}

/**
 * What is not sealed yet, channel by channel: the journal is unpacked once, then followed. To be asked inside
 * a transaction, so that it goes with what the pages say.
 */
export class Unsealed {
  readonly #journal: Journal;
  readonly #sealedTo;
  readonly #sites = new Map<number, Site>();

  constructor(database: Database.Database) {
    this.#journal = new Journal(database);
    this.#sealedTo = database
      .prepare<[number], number | null>('SELECT max(to_position) FROM seal WHERE site_id = ?')
      .pluck();
  }

  ofChannel(siteId: number, channelId: number): UnsealedReadings {
    return this.#follow(siteId).channels.get(channelId) ?? new UnsealedReadings();
  }

  #follow(siteId: number): Site {
    const sealedTo = this.#sealedTo.get(siteId) ?? 0;
    let site = this.#sites.get(siteId);
    if (site === undefined) {
      site = { toPosition: sealedTo, sealedTo, channels: new Map() };
      this.#sites.set(siteId, site);
    }
    if (site.sealedTo !== sealedTo) {
      for (const channel of site.channels.values()) channel.forget(sealedTo);
      site.sealedTo = sealedTo;
      site.toPosition = Math.max(site.toPosition, sealedTo);
    }
    const { channels } = site;
    for (const { position, readings } of this.#journal.after(siteId, site.toPosition)) {
      for (let i = 0; i < readings.length; i++) {
        const id = readings.channel(i);
        let channel = channels.get(id);
        if (channel === undefined) {
          channel = new UnsealedReadings();
          channels.set(id, channel);
        }
        channel.add(readings, i);
      }
      site.toPosition = position;
    }
    return site;
  }
}
