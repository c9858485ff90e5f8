import { deflateSync } from 'node:zlib';
import type { Page } from 'playwright-core';
import { PNG_SIGNATURE, pngChunk, pngHeader } from '../support/pictures.ts';

const COLOURS = 256;
const BY_PALETTE = 3;

/**
 * A PNG as one of a palette: the 256 commonest colours, and for every other pixel the nearest of them. A page in
 * neutrals has few more, and is a third as large. `tab` reads it: any page will do.
 */
export async function smallPng(tab: Page, png: Buffer): Promise<Buffer> {
  const { width, height, pixels } = await tab.evaluate(pixelsOf, png.toString('base64'));
  const bytes = Buffer.from(pixels, 'base64');
  const counts = new Map<number, number>();
  for (let i = 0; i < bytes.length; i += 4) {
    const colour = bytes.readUIntBE(i, 3);
    counts.set(colour, (counts.get(colour) ?? 0) + 1);
  }
  const palette = [...counts]
    .sort(([, a], [, b]) => b - a)
    .slice(0, COLOURS)
    .map(([colour]) => colour);
  const places = new Map(palette.map((colour, place) => [colour, place]));
  const rows = Buffer.alloc(height * (1 + width));
  for (let y = 0; y < height; y++) {
    // The first byte of a row is its filter: none, which suits a palette.
    for (let x = 0; x < width; x++) {
      const colour = bytes.readUIntBE(4 * (y * width + x), 3);
      let place = places.get(colour);
      if (place === undefined) {
        place = nearest(palette, colour);
        places.set(colour, place);
      }
      rows[y * (1 + width) + 1 + x] = place;
    }
  }
  const colours = Buffer.alloc(3 * palette.length);
  for (const [place, colour] of palette.entries()) colours.writeUIntBE(colour, 3 * place, 3);
  return Buffer.concat([
    PNG_SIGNATURE,
    pngHeader(width, height, BY_PALETTE),
    pngChunk('PLTE', colours),
    pngChunk('IDAT', deflateSync(rows, { level: 9 })),
    pngChunk('IEND', Buffer.alloc(0)),
  ]);
}

function nearest(palette: readonly number[], colour: number): number {
  const apart = (other: number): number =>
    [16, 8, 0].reduce((sum, shift) => sum + (((colour >> shift) & 255) - ((other >> shift) & 255)) ** 2, 0);
  return palette.reduce((best, other, place) => (apart(other) < apart(palette[best]!) ? place : best), 0);
}

/** Runs in the browser, which knows how to read one. */
async function pixelsOf(base64: string) {
  const image = await createImageBitmap(await (await fetch(`data:image/png;base64,${base64}`)).blob());
  const { width, height } = image;
  const context = new OffscreenCanvas(width, height).getContext('2d')!;
  context.drawImage(image, 0, 0);
  const { data } = context.getImageData(0, 0, width, height);
  let text = '';
  for (let i = 0; i < data.length; i += 32_768) {
    text += String.fromCharCode(...data.subarray(i, i + 32_768));
  }
  return { width, height, pixels: btoa(text) };
}
