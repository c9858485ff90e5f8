import PDFDocument from 'pdfkit';
import type { PhotographWhat } from '../../shared/wire/entries.ts';
import type { BatchRecord, Paper } from '../../shared/wire/record.ts';
import { drawablePng, isRemade, unpackedBytes } from '../pictures/drawable-png.ts';
import { type JpegPicture, readPicture } from '../pictures/read-picture.ts';
import { type Chart, chartsOf, LABEL_ROWS } from './chart.ts';
import {
  leftOutLine,
  type PictureOf,
  type Prepared,
  placePictures,
  type Shot,
  shotsOf,
} from './photographs.ts';
import { recordText, type Section } from './text.ts';

/** Points, of 1/72 inch. */
const MARGIN = 48;
const CHART_HEIGHT = 190;
const COLOURS = ['#1f5f8b', '#8a4b08', '#2e6b3e', '#7a2f6f', '#555555', '#a03030'];
const BODY = 'Helvetica';
const BOLD = 'Helvetica-Bold';
const TEXT_SIZE = 9;
/** Of all pictures, bytes: with all else that is in it a PDF stays near 3 MB. */
const MOST_PICTURES_BYTES = 2_800_000;
/** Of all pictures as they are unpacked, bytes: whatever few bytes claim, memory stays bounded. */
const MOST_UNPACKED_BYTES = 64 * 1024 * 1024;
/** Between pictures, and below each of them. */
const CELL_GAP = 16;
const CAPTION_HEIGHT = 76;
/** Frames of a JPEG that a PDF takes (ISO 32000-1, 7.4.8): baseline, extended, progressive. */
const PDF_FRAMES = [0xc0, 0xc1, 0xc2];

/** A record as PDF: searchable text, charts as lines, numbered pages. */
export async function recordPdf(
  record: BatchRecord,
  pictureOf: PictureOf,
  paper: Paper,
): Promise<Uint8Array> {
  const { title, lead, sections, caution } = recordText(record);
  const document = new PDFDocument({
    size: paper === 'a4' ? 'A4' : 'LETTER',
    margin: MARGIN,
    bufferPages: true,
    info: { Title: plain(title), Creator: 'esterwatch' },
  });
  const written = bytesOf(document);

  document.font(BOLD).fontSize(17).text(plain(title));
  document
    .font(BODY)
    .fontSize(TEXT_SIZE + 1)
    .moveDown(0.3);
  for (const line of lead) document.text(plain(line));
  for (const chart of chartsOf(record)) drawChart(document, chart);
  for (const section of sections) drawSection(document, section);
  await drawPhotographs(document, shotsOf(record), pictureOf);
  needRoom(document, 60);
  document.moveDown(1).font(BODY).fontSize(TEXT_SIZE).text(plain(caution));
  drawFooters(document, record);
  document.end();
  return written;
}

/** All of a document, once it has ended. */
async function bytesOf(document: Page): Promise<Buffer> {
  const chunks: Buffer[] = [];
  document.on('data', (chunk: Buffer) => chunks.push(chunk));
  await new Promise((resolve) => document.on('end', resolve));
  return Buffer.concat(chunks);
}

type Page = PDFKit.PDFDocument;

const left = (document: Page): number => document.page.margins.left;
const widthOf = (document: Page): number => document.page.width - 2 * MARGIN;
const bottomOf = (document: Page): number => document.page.height - MARGIN - 14;

function needRoom(document: Page, height: number): void {
  if (document.y + height > bottomOf(document)) document.addPage();
}

/** What our own texts and units have beyond the letters of the fonts, and what is read the same. */
const INSTEAD: Partial<Record<string, string>> = {
  '\u2212': '-', // minus
  '\u2010': '-',
  '\u2011': '-',
  '–': '-',
  '—': '-',
  '≤': '<=',
  '≥': '>=',
  '≈': '~',
  '→': '->',
  '′': "'",
  '″': '"',
};

/** The fonts that every reader has know Western European letters only. */
const plain = (text: string): string =>
  text.normalize('NFC').replaceAll(/[^\u0020-\u007e\u00a0-\u00ff€‘’“”•…]/g, (one) => {
    const base = one.normalize('NFKD')[0]!;
    return INSTEAD[one] ?? (/[\u0020-\u007e]/.test(base) ? base : '?');
  });

function drawSection(document: Page, { title, none, heads, rows }: Section): void {
  needRoom(document, 60);
  document.x = left(document);
  document.moveDown(0.9).font(BOLD).fontSize(12).text(plain(title), left(document));
  document.moveDown(0.2).fontSize(TEXT_SIZE);
  if (rows.length === 0) {
    document.font(BODY).text(plain(none), left(document));
    return;
  }
  const widths = columnWidths(document, heads, rows);
  drawRow(document, heads, widths, BOLD);
  for (const row of rows) {
    if (document.y + rowHeight(document, row, widths) > bottomOf(document)) {
      document.addPage();
      drawRow(document, heads, widths, BOLD);
    }
    drawRow(document, row, widths, BODY);
  }
  document.x = left(document);
}

/** Shares of the page by what stands in them, where there is room for it without a word broken. */
function columnWidths(
  document: Page,
  heads: readonly string[],
  rows: readonly (readonly string[])[],
): number[] {
  document.font(BOLD).fontSize(TEXT_SIZE);
  const widest = (texts: readonly string[]): number =>
    Math.min(260, Math.max(...texts.map((text) => document.widthOfString(plain(text)) + 8)));
  const columns = heads.map((head, column) => [head, ...rows.map((row) => row[column]!)]);
  const wanted = columns.map(widest);
  const total = sum(wanted);
  const width = widthOf(document);
  if (total <= width) return wanted;
  const least = columns.map((texts) => widest(texts.flatMap((text) => text.split(' '))));
  const spare = width - sum(least);
  if (spare < 0) return wanted.map((one) => (one * width) / total);
  return wanted.map((one, i) => least[i]! + ((one - least[i]!) * spare) / (total - sum(least)));
}

const sum = (widths: readonly number[]): number => widths.reduce((all, width) => all + width, 0);

const rowHeight = (document: Page, row: readonly string[], widths: readonly number[]): number =>
  4 +
  Math.max(...row.map((cell, i) => document.heightOfString(plain(cell) || ' ', { width: widths[i]! - 6 })));

function drawRow(document: Page, row: readonly string[], widths: readonly number[], font: string): void {
  document.font(font).fontSize(TEXT_SIZE);
  const top = document.y;
  const height = rowHeight(document, row, widths);
  let x = left(document);
  for (const [i, cell] of row.entries()) {
    document.text(plain(cell) || ' ', x, top + 2, { width: widths[i]! - 6 });
    x += widths[i]!;
  }
  document
    .moveTo(left(document), top + height)
    .lineTo(x, top + height)
    .lineWidth(0.4)
    .strokeColor('#bbbbbb')
    .stroke();
  document.y = top + height;
}

function drawChart(document: Page, { title, lines, level, marks, xTicks, yTicks }: Chart): void {
  needRoom(document, CHART_HEIGHT + 20);
  const top = document.y + 12;
  const [from, to] = [left(document) + 30, left(document) + widthOf(document)];
  const [low, high] = [top + CHART_HEIGHT - 18, top + 16];
  const x = (place: number): number => from + place * (to - from);
  const y = (place: number): number => low - place * (low - high);
  document
    .font(BOLD)
    .fontSize(TEXT_SIZE)
    .fillColor('#000000')
    .text(plain(title), from, top, { lineBreak: false });
  let nameX = to;
  document.font(BODY).fontSize(7);
  for (const [i, { name }] of [...lines.entries()].toReversed()) {
    nameX -= document.widthOfString(plain(name)) + 10;
    document.fillColor(colourOf(i)).text(plain(name), nameX, top + 2, { lineBreak: false });
  }
  document.fillColor('#000000').lineWidth(0.4);
  for (const tick of yTicks) {
    document.moveTo(from, y(tick.y)).lineTo(to, y(tick.y)).strokeColor('#dddddd').stroke();
    document.text(tick.label, left(document), y(tick.y) - 3, { width: 26, align: 'right', lineBreak: false });
  }
  for (const tick of xTicks)
    document.text(tick.label, x(tick.x) - 20, low + 4, { width: 40, align: 'center', lineBreak: false });
  for (const mark of marks) {
    document
      .moveTo(x(mark.x), low)
      .lineTo(x(mark.x), high)
      .dash(1.5, { space: 2 })
      .strokeColor('#999999')
      .stroke()
      .undash();
    const at = [x(mark.x) + (mark.x > 0.98 ? -9 : 2), y(mark.row / LABEL_ROWS) - 2] as const;
    document.save().rotate(-90, { origin: [...at] });
    document.text(mark.label, ...at, { lineBreak: false }).restore();
  }
  if (level !== null) {
    document.moveTo(from, y(level.y)).lineTo(to, y(level.y)).lineWidth(1).strokeColor('#b00020').stroke();
    document.text(level.name, to - 80, y(level.y) - 9, { width: 80, align: 'right', lineBreak: false });
  }
  for (const [i, { stretches }] of lines.entries()) {
    for (const points of stretches) {
      const outline = [
        ...points.map((p) => [x(p.x), y(p.high)]),
        ...points.toReversed().map((p) => [x(p.x), y(p.low)]),
      ];
      trace(document, outline).closePath().fillOpacity(0.2).fill(colourOf(i)).fillOpacity(1);
      trace(
        document,
        points.map((p) => [x(p.x), y(p.y)]),
      )
        .lineWidth(0.9)
        .strokeColor(colourOf(i))
        .stroke();
    }
  }
  document.fillColor('#000000');
  document.x = left(document);
  document.y = top + CHART_HEIGHT;
}

const colourOf = (i: number): string => COLOURS[i % COLOURS.length]!;

function trace(document: Page, points: readonly (readonly number[])[]): Page {
  for (const [i, [x, y]] of points.entries()) {
    if (i === 0) document.moveTo(x!, y!);
    else document.lineTo(x!, y!);
  }
  return document;
}

/** Four to a page, and a line for each that has no room or cannot be drawn. */
async function drawPhotographs(document: Page, shots: readonly Shot[], pictureOf: PictureOf): Promise<void> {
  if (shots.length === 0) return;
  const placed = await placePictures(shots, pictureOf, MOST_PICTURES_BYTES, preparing());
  const shown = placed.flatMap((one) => ('picture' in one ? [one] : []));
  const [across, down] = [2, 2];
  for (const [i, { shot, picture }] of shown.entries()) {
    const place = i % (across * down);
    if (place === 0) {
      document.addPage();
      document.font(BOLD).fontSize(12).text('Photographs', left(document), MARGIN);
    }
    const width = (widthOf(document) - CELL_GAP * (across - 1)) / across;
    const height = (bottomOf(document) - MARGIN - 20) / down;
    const x = left(document) + (place % across) * (width + CELL_GAP);
    const y = MARGIN + 20 + Math.floor(place / across) * height;
    drawPicture(document, { shot, picture }, { x, y, width, height });
    document.x = left(document);
    document.y = y + height;
  }
  const others = placed.flatMap((one) => ('why' in one ? [leftOutLine(one.shot, one.why)] : []));
  if (others.length === 0) return;
  needRoom(document, 60);
  document.moveDown(0.9).font(BOLD).fontSize(12).text('Photographs that are not drawn here', left(document));
  document.moveDown(0.2).font(BODY).fontSize(TEXT_SIZE);
  for (const line of others) document.text(plain(line), { paragraphGap: 3 });
}

function drawPicture(
  document: Page,
  { shot, picture }: { shot: Shot; picture: Buffer },
  { x, y, width, height }: { x: number; y: number; width: number; height: number },
): void {
  const below = y + height - CAPTION_HEIGHT;
  document.font(BODY).fontSize(8);
  try {
    const fit: [number, number] = [width, height - CAPTION_HEIGHT - 4];
    document.image(picture, x, y, { fit, align: 'center', valign: 'center' });
  } catch {
    document.text('cannot be drawn', x, y + height / 3, { width, align: 'center' });
  }
  // All of what it shows stands among what was noted.
  document.text(plain(shot.caption), x, below, { width, height: CAPTION_HEIGHT - 32, ellipsis: true });
  document.fontSize(6).text(plain(shot.file), { width, height: 14 });
}

/** Makes pictures such as the library can draw; null for one that it cannot: no picture may break a record. */
function preparing(): (bytes: Buffer, what: PhotographWhat) => Promise<Prepared | 'no-room' | null> {
  let left = MOST_UNPACKED_BYTES;
  return async (bytes, { type }) => {
    try {
      const read = readPicture(type, bytes);
      if (read.type === 'image/jpeg')
        return canDrawJpeg(read) ? { picture: bytes, bytes: bytes.length } : null;
      const unpacked = unpackedBytes(read);
      if (unpacked > left) return 'no-room';
      left -= unpacked;
      const picture = drawablePng(bytes, read);
      return picture && { picture, bytes: isRemade(read) ? await sizeDrawn(picture) : picture.length };
    } catch {
      return null;
    }
  };
}

const canDrawJpeg = ({ frame, bits, components }: JpegPicture): boolean =>
  PDF_FRAMES.includes(frame) && bits === 8 && [1, 3, 4].includes(components);

/** How many bytes a picture takes in a PDF that unpacks it. */
async function sizeDrawn(picture: Buffer): Promise<number> {
  const document = new PDFDocument();
  const written = bytesOf(document);
  document.image(picture, 0, 0, { fit: [9, 9] });
  document.end();
  return (await written).length;
}

/** On every page: which batch, the head that the history can be looked up by, and which page of how many. */
function drawFooters(document: Page, { batch, chain }: BatchRecord): void {
  const { start, count } = document.bufferedPageRange();
  const { entries, head } = chain.sealed ?? chain;
  for (let i = 0; i < count; i++) {
    document.switchToPage(start + i);
    const y = document.page.height - MARGIN;
    // Below the margin a line would begin another page.
    document.page.margins.bottom = 0;
    document.font(BODY).fontSize(7).fillColor('#555555');
    document.text(
      `${batch.id} · chain of ${plain(batch.site)}, ${entries} entries: ${head}`,
      left(document),
      y,
      { lineBreak: false },
    );
    document.text(`page ${i + 1} of ${count}`, left(document), y, {
      width: widthOf(document),
      align: 'right',
      lineBreak: false,
    });
  }
}
