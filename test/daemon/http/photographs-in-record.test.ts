import { execFileSync } from 'node:child_process';
import { createHash } from 'node:crypto';
import { writeFileSync } from 'node:fs';
import { join } from 'node:path';
import { deflateSync } from 'node:zlib';
import Database from 'better-sqlite3';
import { afterAll, beforeAll, expect, test } from 'vitest';
import { recordSchema } from '../../../shared/wire/record.ts';
import { startChromium } from '../../support/chromium.ts';
import { ManualClock } from '../../support/manual-clock.ts';
import { jpegOf, PNG_SIGNATURE, pngChunk, pngHeader, pngOf } from '../../support/pictures.ts';
import { ask, type RunningDaemon, runDaemon } from '../running-daemon.ts';
import { temporaryDir } from '../store/fixture.ts';

const START_MS = Date.UTC(2026, 2, 2, 10);

let data: string;
let daemon: RunningDaemon;
const cleanUps: (() => Promise<void>)[] = [];
beforeAll(async () => {
  data = join(temporaryDir(afterAll), 'data');
  const clock = new ManualClock(START_MS);
  daemon = await runDaemon({ clock, data }, (cleanUp) => cleanUps.push(cleanUp));
  await daemon.read('barn/r1/liquid-temperature', 20);
  await daemon.send('PUT', '/api/v1/sites/barn', { altitudeM: 340 });
});
afterAll(async () => {
  for (const cleanUp of cleanUps) await cleanUp();
});

const sha256 = (bytes: Buffer) => createHash('sha256').update(bytes).digest('hex');
const isJpeg = (bytes: Buffer) => bytes[0] === 0xff;

/** A batch with these photographs, taken by Ida, each said to be `picture N`. */
async function photographed(pictures: readonly Buffer[]): Promise<string> {
  const { json } = await daemon.send('POST', '/api/v1/batches', { vessel: 'barn:r1', name: 'Öl' });
  for (const [i, picture] of pictures.entries()) {
    const path = `/api/v1/batches/${json.id}/photographs?by=Ida&text=picture%20${i + 1}%20%3Cb%3E`;
    const type = isJpeg(picture) ? 'image/jpeg' : 'image/png';
    const answer = await ask(daemon.httpPort, 'POST', path, { 'content-type': type }, picture);
    expect(answer.status, answer.text).toBe(201);
  }
  await daemon.send('POST', `/api/v1/batches/${json.id}/stage`, { stage: 'void' });
  return json.id;
}

const recordOf = (id: string, format: string, paper = 'a4') =>
  fetch(`http://127.0.0.1:${daemon.httpPort}/api/v1/batches/${id}/record?format=${format}&paper=${paper}`);

/** The PDF of a record: its bytes, its pages, their text, and the sizes of the pictures on each. */
async function pdfOf(id: string, paper = 'a4') {
  const answer = await recordOf(id, 'pdf', paper);
  expect(answer.status).toBe(200);
  const pdf = Buffer.from(await answer.arrayBuffer());
  const file = join(temporaryDir(), 'record.pdf');
  writeFileSync(file, pdf);
  const run = (command: string, ...args: string[]) =>
    execFileSync(command, args, { encoding: 'utf8', stdio: ['ignore', 'pipe', 'pipe'] });
  const images = run('pdfimages', '-list', file)
    .trimEnd()
    .split('\n')
    .slice(2)
    .map((line) => line.trim().split(/\s+/))
    .filter(([, , type]) => type === 'image')
    .map(([page, , , width, height]) => ({ page: Number(page), size: `${width}x${height}` }));
  const text = run('pdftotext', '-layout', file, '-').replaceAll(/\s+/g, ' ');
  return { bytes: pdf.length, text, images, pages: Number(/Pages: +(\d+)/.exec(run('pdfinfo', file))![1]) };
}

/** Rows whose checksums fit, and whose filters are none. */
const brokenPng = Buffer.concat([
  PNG_SIGNATURE,
  pngHeader(8, 8, 6),
  pngChunk('IDAT', deflateSync(Buffer.alloc(8 * 33, 9))),
  pngChunk('IEND', Buffer.alloc(0)),
]);
/** More pixels than anybody unpacks, in few bytes. */
const bomb = Buffer.concat([
  PNG_SIGNATURE,
  pngHeader(20_000, 20_000, 6),
  pngChunk('IDAT', deflateSync(Buffer.alloc(1000))),
  pngChunk('IEND', Buffer.alloc(0)),
]);

test('JSON names the photographs; HTML and PDF show them, four to a page, and say which cannot be drawn', {
  timeout: 60_000,
}, async () => {
  // With the names of chunks that the drawing library takes wrongly.
  const odd = [
    pngChunk('fcTL', Buffer.alloc(26)),
    pngChunk('tEXt', Buffer.alloc(300_000, 'x')),
    pngChunk('tRNS', Buffer.alloc(6)),
    pngChunk('PLTE', Buffer.alloc(6)),
  ];
  const pictures = [
    jpegOf({ width: 160, height: 120 }),
    jpegOf({ width: 161, height: 120, orientation: 6 }),
    pngOf({ width: 162, height: 90 }),
    pngOf({ width: 163, height: 90, colourType: 6, sampleAt: (x, y) => (x * y) % 251 }),
    brokenPng,
    pngOf({ width: 164, height: 90, more: odd }),
    bomb,
    pngOf({ width: 165, height: 90, colourType: 4 }),
    pngOf({ width: 166, height: 91, interlaced: true }),
    pngOf({ width: 5, height: 1, interlaced: true, colourType: 6 }),
    pngOf({ width: 4, height: 2, interlaced: true, colourType: 6 }),
  ];
  const id = await photographed(pictures);

  const record = recordSchema.parse(await (await recordOf(id, 'json')).json());
  expect(
    record.batch.entries.map(({ what }) => what.kind === 'photograph' && [what.text, what.sha256]),
  ).toEqual(pictures.map((picture, i) => [`picture ${i + 1} <b>`, sha256(picture)]));

  const html = await recordOf(id, 'html');
  expect(html.headers.get('content-security-policy')).toContain('img-src data:');
  const page = await html.text();
  const sources = [...page.matchAll(/<img src="data:(image\/\w+);base64,([^"]+)"/g)];
  expect(sources.map(([, type, text]) => [type, sha256(Buffer.from(text!, 'base64'))])).toEqual(
    pictures.map((picture) => [isJpeg(picture) ? 'image/jpeg' : 'image/png', sha256(picture)]),
  );
  expect(page).toContain('picture 1 &lt;b&gt;');
  expect(page).not.toContain('<b>');
  expect(page.match(/(src|href)="(?!data:image\/(jpeg|png);base64,)/)).toBeNull();

  // A browser draws them under the page's own policy, and turns what is to be turned.
  const browser = await startChromium();
  try {
    const shown = await browser.newPage();
    await shown.goto(`http://127.0.0.1:${daemon.httpPort}/api/v1/batches/${id}/record?format=html`);
    const widths = await shown
      .locator('img')
      .evaluateAll((all) => all.slice(0, 4).map((one) => (one as HTMLImageElement).naturalWidth));
    expect(widths).toEqual([160, 120, 162, 163]);
  } finally {
    await browser.close();
  }

  for (const paper of ['a4', 'letter']) {
    const { text, images, pages } = await pdfOf(id, paper);
    expect(images.map(({ size }) => size)).toEqual([
      '160x120',
      '161x120',
      '162x90',
      '163x90',
      '164x90',
      '165x90',
      '166x91',
      '5x1',
    ]);
    const own = images.map((image) => image.page);
    expect(new Set(own.slice(0, 4)).size).toBe(1);
    expect(own.slice(4)).toEqual(Array.from({ length: 4 }, () => own[0]! + 1));
    expect(pages).toBeGreaterThanOrEqual(own[0]! + 1);
    for (const [i, picture] of pictures.entries()) {
      expect(text).toContain(`picture ${i + 1} <b>`);
      expect(text.replaceAll(' ', '')).toContain(sha256(picture));
    }
    expect(text.match(/This picture cannot be drawn/g)).toHaveLength(3);
    expect(text).toContain(`page ${pages} of ${pages}`);
  }
  expect(daemon.errors).toEqual([]);
});

test('pictures that have no room are there by their hash', { timeout: 60_000 }, async () => {
  const noise = (x: number, y: number, sample: number) =>
    (Math.imul(4 * (600 * y + x) + sample, 0x9e3779b1) >>> 13) & 255;
  const pictures = [
    jpegOf({ width: 100, bytes: 2_000_000 }),
    jpegOf({ width: 101, bytes: 2_000_000 }),
    pngOf({ width: 600, height: 600, colourType: 6, sampleAt: noise }), // takes about as much again unpacked
    jpegOf({ width: 102, bytes: 4 * 1024 * 1024 }),
    jpegOf({ width: 103 }),
  ];
  const id = await photographed(pictures);
  const page = await (await recordOf(id, 'html')).text();
  const shown = [...page.matchAll(/base64,([^"]+)"/g)].map(([, text]) => Buffer.from(text!, 'base64'));
  expect(shown.reduce((sum, { length }) => sum + length, 0)).toBeLessThanOrEqual(3 * 1024 * 1024);
  expect(shown.map(({ length }) => length)).toContain(pictures[4]!.length);
  for (const picture of pictures) expect(page).toContain(sha256(picture));
  const left = pictures.length - shown.length;
  expect(page.match(/too large to be in here/g)).toHaveLength(left);
  expect(left).toBeGreaterThanOrEqual(2);

  const { bytes, images, text } = await pdfOf(id);
  expect(bytes).toBeLessThan(3_000_000);
  expect(images.map(({ size }) => size)).toEqual(expect.arrayContaining(['100x8', '103x8']));
  expect(text.match(/too large to be in here/g)).toHaveLength(pictures.length - images.length);
});

test('pictures that few bytes unpack to much are drawn up to 16 MiB each, and 64 MiB in all', {
  timeout: 60_000,
}, async () => {
  // Of one colour: a few kB each. 4 bytes a pixel, and a filter a row.
  const flat = (width: number, height: number) =>
    Buffer.concat([
      PNG_SIGNATURE,
      pngHeader(width, height, 6),
      pngChunk('IDAT', deflateSync(Buffer.alloc(height * (1 + 4 * width)))),
      pngChunk('IEND', Buffer.alloc(0)),
    ]);
  const pictures = [
    flat(2100, 2000), // 16.8 MB
    ...Array.from({ length: 9 }, (_, i) => flat(1700 + i, 1800)), // 12.3 MB each: five of them are 61 MB
    jpegOf({ width: 104 }),
  ];
  const id = await photographed(pictures);
  const { images, text } = await pdfOf(id);
  expect(images.map(({ size }) => size)).toEqual([
    '1700x1800',
    '1701x1800',
    '1702x1800',
    '1703x1800',
    '1704x1800',
    '104x8',
  ]);
  expect(text.match(/This picture cannot be drawn/g)).toHaveLength(1);
  expect(text.match(/too large to be in here/g)).toHaveLength(4);
});

test('a picture that somebody has changed breaks no record, and is given to nobody', {
  timeout: 60_000,
}, async () => {
  const id = await photographed([jpegOf({ width: 200 }), jpegOf({ width: 201 })]);
  const database = new Database(join(data, 'store.db'));
  database
    .prepare('UPDATE photograph SET content = ? WHERE sha256 = ?')
    .run(jpegOf({ width: 199 }), sha256(jpegOf({ width: 200 })));
  database.close();
  const page = await (await recordOf(id, 'html')).text();
  expect(page.match(/<img /g)).toHaveLength(1);
  expect(page).toContain('is not in the store as it was taken in');
  expect((await pdfOf(id)).images.map(({ size }) => size)).toEqual(['201x8']);
  expect((await daemon.get(`/api/v1/batches/${id}/photographs/${id}-1`)).status).toBe(503);
  expect((await daemon.get(`/api/v1/batches/${id}/photographs/${id}-2`)).status).toBe(200);
});
