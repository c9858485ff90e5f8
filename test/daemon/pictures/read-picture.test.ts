import { deflateSync } from 'node:zlib';
import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import { NoPicture, readPicture } from '../../../daemon/pictures/read-picture.ts';
import { jpegOf, PNG_SIGNATURE, pngChunk, pngHeader, pngOf } from '../../support/pictures.ts';

const jpeg = (bytes: Buffer) => readPicture('image/jpeg', bytes);
const png = (bytes: Buffer) => readPicture('image/png', bytes);
const side = fc.integer({ min: 1, max: 300 });

describe('a whole picture', () => {
  test('says its size', () => {
    fc.assert(
      fc.property(side, side, (width, height) => {
        expect(jpeg(jpegOf({ width, height }))).toMatchObject({ type: 'image/jpeg', width, height });
        expect(png(pngOf({ width, height }))).toMatchObject({ type: 'image/png', width, height });
      }),
      { numRuns: 40 },
    );
  });

  test('may have comments, a turn by EXIF, and in a JPEG something behind its end', () => {
    expect(jpeg(jpegOf({ width: 9, bytes: 200_000 }))).toMatchObject({ width: 9 });
    expect(jpeg(jpegOf({ width: 9, height: 4, orientation: 6 }))).toMatchObject({ width: 9, height: 4 });
    expect(jpeg(Buffer.concat([jpegOf(), Buffer.from('a short film')]))).toMatchObject({ width: 16 });
    expect(png(pngOf({ more: [pngChunk('tEXt', Buffer.from('a\0b'))] }))).toMatchObject({ width: 5 });
  });

  test('is progressive, with restarts and fill bytes, too', () => {
    const made = jpegOf();
    const frame = made.indexOf(Buffer.from([0xff, 0xc0]));
    made[frame + 1] = 0xc2;
    const rest = [0xff, 0x00, 0xff, 0xd0, 1, 0xff, 0xff, 0xd9];
    expect(jpeg(Buffer.concat([made.subarray(0, -2), Buffer.from(rest)]))).toMatchObject({ frame: 0xc2 });
  });

  test('has at most 20,000 pixels a side', () => {
    const header = (width: number, height: number) =>
      png(
        Buffer.concat([
          PNG_SIGNATURE,
          pngHeader(width, height, 0),
          pngChunk('IDAT', deflateSync(Buffer.alloc(1))),
          pngChunk('IEND', Buffer.alloc(0)),
        ]),
      );
    expect(header(20_000, 20_000)).toMatchObject({ width: 20_000, height: 20_000 });
    for (const [width, height] of [
      [20_001, 1],
      [1, 20_001],
      [0, 5],
      [5, 0],
      [0xffffffff, 1],
    ])
      expect(() => header(width!, height!)).toThrow(NoPicture);
    expect(() => jpeg(jpegOf({ width: 20_001, height: 1 }))).toThrow(NoPicture);
  });
});

describe('what is no whole picture is told', () => {
  test.for([
    ['image/jpeg', jpegOf({ bytes: 400 })],
    ['image/png', pngOf({ more: [pngChunk('tEXt', Buffer.from('a\0b'))] })],
  ] as const)('%s, cut anywhere', ([type, whole]) => {
    for (let length = 0; length < whole.length; length++)
      expect(() => readPicture(type, whole.subarray(0, length)), String(length)).toThrow(NoPicture);
  });

  test('of the other type', () => {
    expect(() => png(jpegOf())).toThrow(NoPicture);
    expect(() => jpeg(pngOf())).toThrow(NoPicture);
  });

  test('a PNG with any byte changed behind its signature', () => {
    const whole = pngOf();
    for (let at = 8; at < whole.length; at++) {
      const changed = Buffer.from(whole);
      changed[at]! ^= 0x55;
      expect(() => png(changed), String(at)).toThrow(NoPicture);
    }
  });

  test('a PNG of very many parts, before it is looked into them', () => {
    const parted = (parts: number) => pngOf({ more: Array.from({ length: parts }, () => empty) });
    const empty = pngChunk('teXt', Buffer.alloc(0));
    // Beside them there are a header, the data and an end.
    expect(png(parted(2000 - 3))).toMatchObject({ width: 5 });
    expect(() => png(parted(2000 - 2))).toThrow(NoPicture);
    const damaged = parted(2000 - 2);
    damaged[40]! ^= 1;
    expect(() => png(damaged)).toThrow(/more than 2000 parts/);
  });

  test('any bytes at all, in no other way than that, and soon', () => {
    const start = fc.constantFrom(
      Buffer.alloc(0),
      Buffer.from([0xff, 0xd8]),
      jpegOf().subarray(0, 160),
      PNG_SIGNATURE,
    );
    fc.assert(
      fc.property(start, fc.uint8Array({ maxLength: 300 }), (begin, rest) => {
        for (const type of ['image/jpeg', 'image/png'] as const) {
          try {
            readPicture(type, Buffer.concat([begin, rest]));
          } catch (error) {
            expect(error).toBeInstanceOf(NoPicture);
          }
        }
      }),
      { numRuns: 2000 },
    );
  });

  test.for([
    ['no frame', Buffer.from([0xff, 0xd8, 0xff, 0xd9])],
    ['a frame only', Buffer.concat([jpegOf().subarray(0, 71 + 2 + 11), Buffer.from([0xff, 0xd9])])],
    [
      'a PNG without a picture',
      Buffer.concat([PNG_SIGNATURE, pngHeader(1, 1, 0), pngChunk('IEND', Buffer.alloc(0))]),
    ],
    ['a PNG that goes on', Buffer.concat([pngOf(), Buffer.from('more')])],
    [
      'a PNG of a colour type that is none',
      Buffer.concat([PNG_SIGNATURE, pngHeader(5, 3, 5), pngOf().subarray(33)]),
    ],
  ] as const)('%s', ([, bytes]) => {
    expect(() => readPicture(bytes[0] === 0xff ? 'image/jpeg' : 'image/png', bytes)).toThrow(NoPicture);
  });
});
