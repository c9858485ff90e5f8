import { crc32, deflateSync } from 'node:zlib';

/** Pictures for tests, made from the formats' own rules: ITU-T T.81, and the W3C's PNG, third edition. */

const segment = (marker: number, content: readonly number[] | Buffer): Buffer => {
  const bytes = Buffer.from(content);
  return Buffer.concat([
    Buffer.from([0xff, marker, (bytes.length + 2) >> 8, (bytes.length + 2) & 255]),
    bytes,
  ]);
};

/** The quantization: all 16. */
const TABLE = segment(0xdb, [0, ...Array.from({ length: 64 }, () => 16)]);
/** One code of one bit in each: no difference from the block before, and the end of the block. */
const CODES = [0x00, 0x10].map((table) =>
  segment(0xc4, [table, 1, ...Array.from({ length: 15 }, () => 0), 0]),
);

/** A grey JPEG, padded with comments up to `bytes`, where given; `orientation` as EXIF says it. */
export function jpegOf({
  width = 16,
  height = 8,
  bytes = 0,
  orientation,
}: {
  width?: number;
  height?: number;
  bytes?: number;
  orientation?: number;
} = {}): Buffer {
  const blocks = Math.ceil(width / 8) * Math.ceil(height / 8);
  const exif = [0x45, 0x78, 0x69, 0x66, 0, 0, 0x4d, 0x4d, 0, 42, 0, 0, 0, 8, 0, 1];
  const turned =
    orientation === undefined
      ? []
      : [segment(0xe1, [...exif, 1, 0x12, 0, 3, 0, 0, 0, 1, 0, orientation, 0, 0, 0, 0, 0, 0])];
  const size = [height >> 8, height & 255, width >> 8, width & 255];
  const parts = [
    Buffer.from([0xff, 0xd8]),
    ...turned,
    TABLE,
    segment(0xc0, [8, ...size, 1, 1, 0x11, 0]),
    ...CODES,
    segment(0xda, [1, 1, 0, 0, 63, 0]),
    Buffer.alloc(Math.ceil(blocks / 4)),
    Buffer.from([0xff, 0xd9]),
  ];
  let missing = bytes - parts.reduce((sum, part) => sum + part.length, 0);
  while (missing >= 4) {
    const length = Math.min(missing - 4, 65_533);
    parts.splice(1, 0, segment(0xfe, Buffer.alloc(length, 'x')));
    missing -= length + 4;
  }
  return Buffer.concat(parts);
}

export const pngChunk = (name: string, content: Buffer): Buffer => {
  const bytes = Buffer.concat([Buffer.alloc(4), Buffer.from(name), content, Buffer.alloc(4)]);
  bytes.writeUInt32BE(content.length);
  bytes.writeUInt32BE(crc32(bytes.subarray(4, -4)), bytes.length - 4);
  return bytes;
};

export const PNG_SIGNATURE = Buffer.from('\x89PNG\r\n\x1a\n', 'latin1');

/** The header of a PNG of 8 bits. */
export function pngHeader(width: number, height: number, colourType: number, interlace = 0): Buffer {
  const header = Buffer.from([0, 0, 0, 0, 0, 0, 0, 0, 8, colourType, 0, 0, interlace]);
  header.writeUInt32BE(width, 0);
  header.writeUInt32BE(height, 4);
  return pngChunk('IHDR', header);
}

const SAMPLES: Record<number, number> = { 0: 1, 2: 3, 4: 2, 6: 4 };

/** Of the seven passes of an interlaced PNG: the first column and row, and how far the next ones lie. */
const PASSES = [
  [0, 0, 8, 8],
  [4, 0, 8, 8],
  [0, 4, 4, 8],
  [2, 0, 4, 4],
  [0, 2, 2, 4],
  [1, 0, 2, 2],
  [0, 1, 1, 2],
] as const;

/** A PNG of 8 bits: each sample of each pixel is what `sampleAt` gives for it, or grey. */
export function pngOf({
  width = 5,
  height = 3,
  colourType = 2,
  interlaced = false,
  sampleAt = () => 128,
  more = [],
}: {
  width?: number;
  height?: number;
  colourType?: 0 | 2 | 4 | 6;
  interlaced?: boolean;
  sampleAt?: (x: number, y: number, sample: number) => number;
  more?: readonly Buffer[];
} = {}): Buffer {
  const raw: number[] = [];
  for (const [left, top, across, down] of interlaced ? PASSES : [[0, 0, 1, 1] as const]) {
    if (left >= width) continue;
    for (let y = top; y < height; y += down) {
      raw.push(0); // the filter: none
      for (let x = left; x < width; x += across)
        for (let sample = 0; sample < SAMPLES[colourType]!; sample++) raw.push(sampleAt(x, y, sample));
    }
  }
  const header = pngHeader(width, height, colourType, interlaced ? 1 : 0);
  const data = pngChunk('IDAT', deflateSync(Buffer.from(raw)));
  return Buffer.concat([PNG_SIGNATURE, header, ...more, data, pngChunk('IEND', Buffer.alloc(0))]);
}
