import { inflateSync } from 'node:zlib';
import type { PngPicture } from './read-picture.ts';

/** Bytes of a PNG's rows that are unpacked at most: a small file may claim very many. */
const MOST_RAW_BYTES = 16 * 1024 * 1024;

/** Samples of a pixel, by colour type. */
const SAMPLES: Record<number, number> = { 0: 1, 2: 3, 3: 1, 4: 2, 6: 4 };

/**
 * Where the pixels of each pass begin and how far they lie apart: x, y, across, down.
 * Source: W3C Portable Network Graphics, third edition, 8.1.
 */
const PASSES = [
  [0, 0, 8, 8],
  [4, 0, 8, 8],
  [0, 4, 4, 8],
  [2, 0, 4, 4],
  [0, 2, 2, 4],
  [1, 0, 2, 2],
  [0, 1, 1, 2],
] as const;
const ONE_PASS = [[0, 0, 1, 1]] as const;
/** Rows are filtered in one of the ways 0 to 4. */
const MOST_FILTER = 4;

/**
 * A PNG with nothing in it but its opaque picture, as one that draws it can rely on; null for one whose rows are
 * damaged, missing or too many. Transparent colours of grey, colour and palette pictures are left out, and so are
 * texts, profiles and the frames of a film: the library that draws takes some of them wrongly, and fails
 * where nobody can catch it.
 */
export function drawablePng(bytes: Buffer, png: PngPicture): Buffer | null {
  const { colourType, interlaced, bits, chunks } = png;
  // It cannot take passes apart where pixels are less than a byte, or where a pass has no column.
  if (interlaced && (bits < 8 || png.width < 5)) return null;
  const kept = chunks.filter(
    ({ name }) => ['IHDR', 'IDAT', 'IEND'].includes(name) || (name === 'PLTE' && colourType === 3),
  );
  if (colourType === 3 && !kept.some(({ name, from, to }) => name === 'PLTE' && to > from + 12)) return null;
  return hasAllRows(bytes, png) ? joined(bytes, kept) : null;
}

/** Whether drawing it means to unpack it, so that it may take another size. */
export const isRemade = ({ colourType, interlaced }: PngPicture): boolean => interlaced || colourType >= 4;

function joined(bytes: Buffer, chunks: PngPicture['chunks']): Buffer {
  return Buffer.concat([bytes.subarray(0, 8), ...chunks.map(({ from, to }) => bytes.subarray(from, to))]);
}

/** Rows of each pass, and bytes of each row with its filter. */
const passesOf = ({ width, height, bits, colourType, interlaced }: PngPicture) =>
  (interlaced ? PASSES : ONE_PASS).map(([x, y, across, down]) => {
    const columns = Math.ceil((width - x) / across);
    const rows = columns > 0 ? Math.max(0, Math.ceil((height - y) / down)) : 0;
    return { rows, length: 1 + Math.ceil((columns * SAMPLES[colourType]! * bits) / 8) };
  });

/** Bytes that a PNG is unpacked to; 0 for one that has too many, and never is. */
export function unpackedBytes(png: PngPicture): number {
  const wanted = passesOf(png).reduce((sum, { rows, length }) => sum + rows * length, 0);
  return wanted > MOST_RAW_BYTES ? 0 : wanted;
}

function hasAllRows(bytes: Buffer, png: PngPicture): boolean {
  const wanted = unpackedBytes(png);
  if (wanted === 0) return false;
  const data = png.chunks.filter(({ name }) => name === 'IDAT');
  let raw: Buffer;
  try {
    const packed = Buffer.concat(data.map(({ from, to }) => bytes.subarray(from + 8, to - 4)));
    raw = inflateSync(packed, { maxOutputLength: wanted });
  } catch {
    return false;
  }
  if (raw.length !== wanted) return false;
  let at = 0;
  for (const { rows, length } of passesOf(png)) {
    for (let row = 0; row < rows; row++, at += length) if (raw[at]! > MOST_FILTER) return false;
  }
  return true;
}
