import type Database from 'better-sqlite3';
import { Journal } from './journal.ts';

/** Readings of one channel, in the order of their positions. */
export interface UnsealedReadings {
  readonly position: number[];
  readonly atMs: number[];
  readonly value: number[];
  readonly seq: (number | null)[];
  readonly isTyped: boolean[];
}

interface Site {
  toPosition: number;
  sealedTo: number;
  channels: Map<number, UnsealedReadings>;
}

/** Takes out what is sealed now. */
function forget({ position, ...columns }: UnsealedReadings, sealedTo: number): void {
  const left = position.findIndex((at) => at > sealedTo);
  const count = left === -1 ? position.length : left;
  for (const column of [position, ...Object.values(columns)]) column.splice(0, count);
}

const noReadings = (): UnsealedReadings => ({ position: [], atMs: [], value: [], seq: [], isTyped: [] });

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
    return this.#follow(siteId).channels.get(channelId) ?? noReadings();
  }

  #follow(siteId: number): Site {
    const sealedTo = this.#sealedTo.get(siteId) ?? 0;
    let site = this.#sites.get(siteId);
    if (site === undefined) {
      site = { toPosition: sealedTo, sealedTo, channels: new Map() };
      this.#sites.set(siteId, site);
    }
    if (site.sealedTo !== sealedTo) {
      for (const channel of site.channels.values()) forget(channel, sealedTo);
      site.sealedTo = sealedTo;
      site.toPosition = Math.max(site.toPosition, sealedTo);
    }
    const { channels } = site;
    for (const { position, readings } of this.#journal.after(siteId, site.toPosition)) {
      site.toPosition = position;
      for (let i = 0; i < readings.length; i++) {
        const id = readings.channel(i);
        let channel = channels.get(id);
        if (channel === undefined) {
          channel = noReadings();
          channels.set(id, channel);
        }
        channel.position.push(readings.position(i));
        channel.atMs.push(readings.atMs(i));
        channel.value.push(readings.value(i));
        channel.seq.push(readings.seq(i));
        channel.isTyped.push(readings.source(i) === 'typed');
      }
    }
    return site;
  }
}
