import { createHash } from 'node:crypto';
import type { NewReading } from '../store.ts';

/**
 * Each site has one chain over all that was stored of it, in order. A block is what one commit stored; its
 * link is the SHA-256 of the link before it and of its entries, written as lines of text. So a link stands
 * for everything up to it: whoever knows the newest one (the head) can tell whether anything was changed.
 */

const sha256 = (...parts: (string | Buffer)[]): Buffer => {
  const hash = createHash('sha256');
  for (const part of parts) hash.update(part);
  return hash.digest();
};

/** What the first block of a site is linked to. */
export const firstLink = (site: string): Buffer => sha256(`esterwatch chain 1\n${site}\n`);

/** The link of a block: of the link before it and of its entries' lines, in order. */
export const nextLink = (before: Buffer, lines: readonly string[]): Buffer =>
  sha256(before, lines.join('\n'));

/** Names hold no comma and no quote; `seq` is a number or nothing. SQLite keeps -0 as 0. */
export const readingLine = (
  position: number,
  { vessel, channel, stamped, arrivedMs, value, seq, source }: Omit<NewReading, 'kind' | 'atMs'>,
  atMs: number,
): string =>
  `${position},reading,${vessel},${channel},${atMs},${stamped ? 'stamped' : ''},${seq ?? ''},${value},${arrivedMs},${source}`;

/** As stored: `body` is JSON text. */
export interface ActionRow {
  action: string;
  atMs: number;
  arrivedMs: number;
  by: string;
  body: string;
}

export const actionLine = (position: number, { action, atMs, arrivedMs, by, body }: ActionRow): string =>
  JSON.stringify([position, 'action', action, atMs, arrivedMs, by, body]);

/** As stored: `body` is JSON text. */
export interface AlarmEventRow {
  key: string;
  id: string;
  vessel: string;
  alarm: string;
  event: string;
  priority: string;
  atMs: number;
  arrivedMs: number;
  body: string;
}

export const alarmEventLine = (
  position: number,
  { key, id, vessel, alarm, event, priority, atMs, arrivedMs, body }: AlarmEventRow,
): string =>
  JSON.stringify([position, 'alarm', key, id, vessel, alarm, event, priority, atMs, arrivedMs, body]);

/** What a site's row says besides its chain, and the engine's state that goes with it: none of it is history. */
export interface SiteRow {
  name: string;
  lastPosition: number;
  judgedPosition: number | null;
  judgedAtMs: number | null;
  head: Buffer;
  /** Of the engine's state, with its position; null without one. */
  snapshot: Buffer | null;
}

export const snapshotChecksum = (position: number, state: string): Buffer => sha256(`${position}\n`, state);

export const siteChecksum = (site: SiteRow): Buffer =>
  sha256(
    JSON.stringify([
      site.name,
      site.lastPosition,
      site.judgedPosition,
      site.judgedAtMs,
      site.head.toString('hex'),
      site.snapshot?.toString('hex') ?? null,
    ]),
  );
