import { createHash, hash as hashAtOnce } from 'node:crypto';
import { COARSE_MS, type CoarseStep, coarseOf, encodeCoarse } from './coarse.ts';
import type { PageReadings } from './page-codec.ts';
import { HOUR_MS } from './pages.ts';

/**
 * Each site has one chain over all that was stored of it, in order. A block is what one commit stored; its
 * link is the SHA-256 of the link before it and of its entries: readings as the bytes that they lie in, with
 * the names of their channels, all else as lines of text. So a link stands for everything up to it: whoever
 * knows the newest one (the head) can tell whether anything was changed.
 * What is sealed into pages has a chain of its own, a link a seal, which goes on where the blocks were.
 */

const sha256 = (...parts: (string | Uint8Array)[]): Buffer => {
  const hash = createHash('sha256');
  for (const part of parts) hash.update(part);
  return hash.digest();
};

/** What the first block of a site is linked to. */
export const firstLink = (site: string): Buffer => sha256(`esterwatch chain 1\n${site}\n`);

/** What one commit stored of a site. */
export interface Block {
  /** Of its readings, as `ReadingRecords`. */
  readings: Uint8Array;
  /** The vessel and the channel behind each number in `readings`, in the order in which they come first. */
  channels: readonly (readonly [vessel: string | null, channel: string | null])[];
  /** Lines of what is no reading. */
  log: readonly string[];
}

/** The link of a block after another. */
export const nextLink = (before: Buffer, { readings, channels, log }: Block): Buffer =>
  sha256(before, `${JSON.stringify([channels, log])}\n`, readings);

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

/** The link of a site's deeds before the first. */
export const NO_DEEDS = '';

/**
 * What stands for all deeds of a site, in their order, hex. The chain has them among its readings; so whoever goes by
 * the deeds can tell whether they are what was written, and reads nothing else. One call a deed: it is made anew at
 * each start, and an object a hash takes three times as long.
 */
export const nextDeedsLink = (
  before: string,
  position: number,
  { action, atMs, arrivedMs, by, body }: ActionRow,
): string =>
  hashAtOnce('sha256', `${before}${JSON.stringify([position, action, atMs, arrivedMs, by])}${body}`);

export function deedsLink(deeds: Iterable<ActionRow & { position: number }>): string {
  let link = NO_DEEDS;
  for (const deed of deeds) link = nextDeedsLink(link, deed.position, deed);
  return link;
}

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

/** What a page's row says of its readings, and the hash of its content. */
export interface SealedPage {
  vessel: string;
  channel: string;
  hourMs: number;
  fromMs: number;
  toMs: number;
  fromPosition: number;
  toPosition: number;
  count: number;
  least: number;
  sum: number;
  most: number;
  coarse: Buffer;
  contentHash: Buffer;
}

/** What a page of these readings (of one channel and hour) has to say, with its content. */
export function sealedPage(
  vessel: string,
  channel: string,
  readings: PageReadings,
  content: Uint8Array,
): SealedPage {
  const { atMs, position } = readings;
  const [{ fromMs: hourMs, count, sum, least, most }] = coarseOf(readings, HOUR_MS) as [CoarseStep];
  let [fromMs, toMs] = [atMs[0]!, atMs[0]!];
  for (let i = 1; i < atMs.length; i++) {
    fromMs = Math.min(fromMs, atMs[i]!);
    toMs = Math.max(toMs, atMs[i]!);
  }
  return {
    vessel,
    channel,
    hourMs,
    fromMs,
    toMs,
    fromPosition: position[0]!,
    toPosition: position[count - 1]!,
    count,
    // SQLite keeps -0 as 0.
    least: least + 0,
    sum: sum + 0,
    most: most + 0,
    coarse: Buffer.from(encodeCoarse(hourMs, coarseOf(readings, COARSE_MS))),
    contentHash: sha256(Buffer.from(content)),
  };
}

/** A seal stands for the entries from one position to another, in pages and (`log`) lines of what is no reading. */
export interface Seal {
  from: number;
  to: number;
  /** Of the blocks that it replaced. */
  head: Buffer;
  log: readonly string[];
  pages: readonly SealedPage[];
}

/** What the first seal of a site is linked to. */
export const firstSealLink = (site: string): Buffer => sha256(`esterwatch seals 1\n${site}\n`);

const toHex = (bytes: Buffer): string => bytes.toString('hex');

/** The link of a seal: it goes by the hashes of the pages, so that it holds without their content, too. */
export function nextSealLink(before: Buffer, { from, to, head, log, pages }: Seal): Buffer {
  const rows = pages.map((page) => {
    const { vessel, channel, hourMs, fromMs, toMs, fromPosition, toPosition } = page;
    const { count, least, sum, most, coarse, contentHash } = page;
    const place = [vessel, channel, hourMs, fromMs, toMs, fromPosition, toPosition];
    return JSON.stringify([...place, count, least, sum, most, ...[coarse, contentHash].map(toHex)]);
  });
  return sha256(
    before,
    JSON.stringify([from, to, head.toString('hex'), sha256(log.join('\n')).toString('hex')]),
    rows.sort().join('\n'),
  );
}

/** What stands for all of a site: the head of its blocks, and of what is sealed. */
export const siteHead = (sealLink: Buffer | null, blockHead: Buffer): Buffer =>
  sealLink === null ? blockHead : sha256(sealLink, blockHead);

/** What a site's row says besides its chain, and the engine's state that goes with it: none of it is history. */
export interface SiteRow {
  name: string;
  lastPosition: number;
  judgedPosition: number | null;
  judgedAtMs: number | null;
  head: Buffer;
  /** The link of the newest seal; null before the first. */
  sealLink: Buffer | null;
  /** Of the engine's state, with its position; null without one. */
  snapshot: Buffer | null;
  /** Of a forwarded site, how many readings came without their pages, and no drop yet that says so; null: watched here. */
  cameWithout: number | null;
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
      ...(site.sealLink === null ? [] : [site.sealLink.toString('hex')]),
      // Told apart from a link, and from a site that is watched here.
      ...(site.cameWithout === null ? [] : [{ cameWithout: site.cameWithout }]),
    ]),
  );
