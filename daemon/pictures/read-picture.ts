import { crc32 } from 'node:zlib';
import { MOST_PICTURE_SIDE, type PictureType } from '../../shared/wire/entries.ts';

/** What the headers of a picture say of it. */
export type Picture = JpegPicture | PngPicture;

interface Sized {
  /** Pixels, as they are stored: a JPEG may say besides that it is to be turned. */
  width: number;
  height: number;
}

export interface JpegPicture extends Sized {
  type: 'image/jpeg';
  /** The marker of its frame, 0xC0 to 0xCF: how it is coded. */
  frame: number;
  /** Bits of a sample. */
  bits: number;
  /** 1 grey, 3 colours, 4 inks. */
  components: number;
}

export interface PngPicture extends Sized {
  type: 'image/png';
  bits: number;
  /** 0 grey, 2 colours, 3 palette, 4 grey with alpha, 6 colours with alpha. */
  colourType: number;
  interlaced: boolean;
  /** Names of the chunks, each with where it begins and ends, in order. */
  chunks: readonly { name: string; from: number; to: number }[];
}

/** Why bytes are no whole picture. */
export class NoPicture extends Error {}

/**
 * Reads what a picture says of itself, and whether it is whole as far as its structure tells; its pixels are not
 * looked at. Throws a `NoPicture` for what is none of the type, is cut short, or has more than 20,000 pixels a side.
 *
 * Sources: ITU-T T.81 (1992), annex B; W3C Portable Network Graphics, third edition, 5 and 11.2.
 */
export function readPicture(type: PictureType, bytes: Buffer): Picture {
  const picture = type === 'image/jpeg' ? readJpeg(bytes) : readPng(bytes);
  const { width, height } = picture;
  if (width < 1 || height < 1) throw new NoPicture('the picture has no size');
  if (width > MOST_PICTURE_SIDE || height > MOST_PICTURE_SIDE)
    throw new NoPicture(`the picture has ${width} × ${height} pixels: more than ${MOST_PICTURE_SIDE} a side`);
  return picture;
}

// ---- JPEG ----

const SOI = 0xd8;
const EOI = 0xd9;
const SOS = 0xda;
/** Of the markers 0xC0 to 0xCF those that begin no frame: tables, and one that is kept free. */
const NO_FRAMES = [0xc4, 0xc8, 0xcc];
/** Markers that stand alone: restarts and TEM. */
const isAlone = (marker: number): boolean => (marker >= 0xd0 && marker <= 0xd7) || marker === 0x01;
const isFrame = (marker: number): boolean => marker >= 0xc0 && marker <= 0xcf && !NO_FRAMES.includes(marker);

/** What follows its end is let be: phones put short films there. */
function readJpeg(bytes: Buffer): JpegPicture {
  if (bytes.length < 4 || bytes[0] !== 0xff || bytes[1] !== SOI)
    throw new NoPicture('the body does not begin as a JPEG does');
  let picture: JpegPicture | null = null;
  let scans = 0;
  for (let at = 2; ; ) {
    if (bytes[at] !== 0xff) throw new NoPicture('the JPEG is damaged, or cut short');
    while (bytes[at] === 0xff) at++; // any number may stand before a marker
    const marker = bytes[at++];
    if (marker === undefined) throw new NoPicture('the JPEG is cut short');
    if (marker === EOI) break;
    if (isAlone(marker)) continue;
    const length = at + 2 <= bytes.length ? bytes.readUInt16BE(at) : 0;
    if (length < 2 || at + length > bytes.length) throw new NoPicture('the JPEG is damaged, or cut short');
    if (isFrame(marker)) picture ??= frameOf(marker, bytes.subarray(at, at + length));
    at += length;
    if (marker !== SOS) continue;
    if (picture === null) throw new NoPicture('the JPEG has no frame before its first scan');
    scans++;
    at = endOfScan(bytes, at);
  }
  if (picture === null || scans === 0) throw new NoPicture('the JPEG has no picture in it');
  return picture;
}

function frameOf(frame: number, segment: Buffer): JpegPicture {
  const components = segment[7] ?? 0;
  if (components === 0 || segment.length !== 8 + 3 * components)
    throw new NoPicture('the frame header of the JPEG is damaged');
  const [height, width] = [segment.readUInt16BE(3), segment.readUInt16BE(5)];
  return { type: 'image/jpeg', width, height, frame, bits: segment[2]!, components };
}

/** Where the next marker is that is no part of the coded data. */
function endOfScan(bytes: Buffer, from: number): number {
  for (let at = from; ; at += 2) {
    at = bytes.indexOf(0xff, at);
    if (at < 0 || at + 1 >= bytes.length) throw new NoPicture('the JPEG is cut short');
    const next = bytes[at + 1]!;
    if (next === 0xff)
      at--; // a fill byte
    else if (next !== 0x00 && !isAlone(next)) return at;
  }
}

// ---- PNG ----

const PNG_SIGNATURE = Buffer.from([0x89, 0x50, 0x4e, 0x47, 0x0d, 0x0a, 0x1a, 0x0a]);
/** Bits of a sample that each colour type may have. */
const PNG_BITS: Partial<Record<number, readonly number[]>> = {
  0: [1, 2, 4, 8, 16],
  2: [8, 16],
  3: [1, 2, 4, 8],
  4: [8, 16],
  6: [8, 16],
};

/**
 * Encoders write parts of 4 KiB and more, of which the largest picture that is taken has 1,000; each costs time
 * where all is held up, however short it is.
 */
const MOST_CHUNKS = 2000;

function readPng(bytes: Buffer): PngPicture {
  if (!bytes.subarray(0, 8).equals(PNG_SIGNATURE))
    throw new NoPicture('the body does not begin as a PNG does');
  const chunks: { name: string; from: number; to: number }[] = [];
  for (let from = 8; from < bytes.length; ) {
    const length = from + 12 <= bytes.length ? bytes.readUInt32BE(from) : Number.POSITIVE_INFINITY;
    const to = from + 12 + length;
    if (to > bytes.length) throw new NoPicture('the PNG is cut short');
    if (chunks.length === MOST_CHUNKS) throw new NoPicture(`the PNG has more than ${MOST_CHUNKS} parts`);
    chunks.push({ name: bytes.toString('latin1', from + 4, from + 8), from, to });
    from = to;
  }
  for (const { from, to } of chunks)
    if (crc32(bytes.subarray(from + 4, to - 4)) !== bytes.readUInt32BE(to - 4))
      throw new NoPicture('a part of the PNG is damaged');
  const [first, last] = [chunks[0], chunks.at(-1)];
  const ends = chunks.filter(({ name }) => name === 'IEND').length;
  if (first?.name !== 'IHDR' || first.to - first.from !== 25 || last?.name !== 'IEND' || ends !== 1)
    throw new NoPicture('the PNG has no beginning, no end, or goes on after it');
  if (!chunks.some(({ name }) => name === 'IDAT')) throw new NoPicture('the PNG has no picture in it');
  const [bits, colourType, compression, filter, interlace] = bytes.subarray(24, 29);
  const isKnown =
    PNG_BITS[colourType!]?.includes(bits!) && compression === 0 && filter === 0 && interlace! <= 1;
  if (!isKnown) throw new NoPicture('the header of the PNG is of no kind that there is');
  const [width, height] = [bytes.readUInt32BE(16), bytes.readUInt32BE(20)];
  return {
    type: 'image/png',
    width,
    height,
    bits: bits!,
    colourType: colourType!,
    interlaced: interlace === 1,
    chunks,
  };
}
