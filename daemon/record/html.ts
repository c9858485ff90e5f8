import type { BatchRecord } from '../../shared/wire/record.ts';
import { type Chart, chartsOf, LABEL_ROWS } from './chart.ts';
import { escaped } from './escaped.ts';
import { leftOutLine, type PictureOf, type Placed, placePictures, shotsOf } from './photographs.ts';
import { recordText, type Section } from './text.ts';

const [WIDTH, HEIGHT, LEFT, RIGHT, TOP, BOTTOM] = [720, 260, 48, 12, 26, 28];
const COLOURS = ['#1f5f8b', '#8a4b08', '#2e6b3e', '#7a2f6f', '#555555', '#a03030'];

/** Of pictures that the page holds, bytes in all: written as text they take a third more. */
const MOST_PICTURES_BYTES = 3 * 1024 * 1024;

/** A record as one page that loads nothing, to be read or printed. */
export async function recordHtml(record: BatchRecord, pictureOf: PictureOf): Promise<string> {
  const { title, lead, sections, caution } = recordText(record);
  const photographs = await placePictures(shotsOf(record), pictureOf, MOST_PICTURES_BYTES, (picture) => ({
    picture,
    bytes: picture.length,
  }));
  return `<!doctype html>
<html lang="en">
<head>
<meta charset="utf-8">
<meta name="viewport" content="width=device-width">
<title>${escaped(title)}</title>
<style>${STYLE}</style>
</head>
<body>
<h1>${escaped(title)}</h1>
${lead.map((line) => `<p>${escaped(line)}</p>`).join('\n')}
${chartsOf(record).map(chartSvg).join('\n')}
${sections.map(sectionHtml).join('\n')}
${photographsHtml(photographs)}
<p class="caution">${escaped(caution)}</p>
</body>
</html>
`;
}

const STYLE = `
body{font:15px/1.45 system-ui,sans-serif;color:#1b1b1b;background:#fff;max-width:62rem;margin:1.5rem auto;padding:0 1rem;overflow-wrap:break-word}
h1{font-size:1.6rem;margin:0 0 .5rem}h2{font-size:1.1rem;margin:1.6rem 0 .4rem}p{margin:.2rem 0}
.wide{overflow-x:auto}table{border-collapse:collapse;width:100%}th,td{text-align:left;vertical-align:top;padding:.25rem .6rem .25rem 0;border-bottom:1px solid #ccc;font-variant-numeric:tabular-nums}.long{overflow-wrap:anywhere}
svg{width:100%;height:auto;margin:.8rem 0}.caution{margin-top:1.6rem;border-top:2px solid #1b1b1b;padding-top:.5rem}
figure{margin:.8rem 0}img{display:block;max-width:100%;max-height:32rem}figcaption{overflow-wrap:anywhere;white-space:pre-line}
@media print{body{margin:0;max-width:none}table{font-size:8pt}tr,svg,figure{break-inside:avoid}}`;

function sectionHtml({ title, none, heads, rows }: Section): string {
  const cells = (tag: 'th' | 'td', row: readonly string[]): string =>
    `<tr>${row.map((cell) => `<${tag}>${cellHtml(cell)}</${tag}>`).join('')}</tr>`;
  const table =
    rows.length === 0
      ? `<p>${escaped(none)}</p>`
      : `<div class="wide"><table><thead>${cells('th', heads)}</thead><tbody>${rows.map((row) => cells('td', row)).join('')}</tbody></table></div>`;
  return `<h2>${escaped(title)}</h2>\n${table}`;
}

/** No word is so long: ids and hashes are, and may break anywhere. */
const LONG = /(\S{25,})/;

/** Only what is too long for a column breaks where there is no space. */
const cellHtml = (cell: string): string =>
  cell
    .split(LONG)
    .map((part) => (LONG.test(part) ? `<span class="long">${escaped(part)}</span>` : escaped(part)))
    .join('');

function photographsHtml(photographs: readonly Placed[]): string {
  if (photographs.length === 0) return '';
  const shown = photographs.map((one) => {
    const { caption, file, what } = one.shot;
    if ('why' in one) return `<p>${escaped(leftOutLine(one.shot, one.why))}</p>`;
    const source = `data:${what.type};base64,${one.picture.toString('base64')}`;
    return `<figure><img src="${source}" alt="${escaped(caption)}"><figcaption>${escaped(caption)}
<small>${escaped(file)}</small></figcaption></figure>`;
  });
  return `<h2>Photographs</h2>\n${shown.join('\n')}`;
}

function chartSvg({ title, lines, level, marks, xTicks, yTicks }: Chart): string {
  const x = (place: number): string => (LEFT + place * (WIDTH - LEFT - RIGHT)).toFixed(1);
  const y = (place: number): string => (HEIGHT - BOTTOM - place * (HEIGHT - TOP - BOTTOM)).toFixed(1);
  const across = (at: number, stroke: string): string =>
    `<path d="M${x(0)} ${y(at)}H${x(1)}" fill="none" stroke="${stroke}"/>`;
  const text = (at: string, of: string, anchor: string, label: string): string =>
    `<text x="${at}" y="${of}" text-anchor="${anchor}">${escaped(label)}</text>`;
  const drawn = lines.flatMap(({ stretches }, i) => {
    const colour = COLOURS[i % COLOURS.length]!;
    return stretches.map((points) => {
      const there = points.map((point) => `${x(point.x)} ${y(point.high)}`);
      const back = points.toReversed().map((point) => `${x(point.x)} ${y(point.low)}`);
      const mean = points.map((point) => `${x(point.x)} ${y(point.y)}`);
      return (
        `<path d="M${[...there, ...back].join('L')}Z" fill="${colour}" fill-opacity=".2"/>` +
        `<path d="M${mean.join('L')}" fill="none" stroke="${colour}" stroke-width="1.5"/>`
      );
    });
  });
  const names = lines.map(
    ({ name }, i) =>
      `<tspan fill="${COLOURS[i % COLOURS.length]}"${i === 0 ? '' : ' dx="14"'}>${escaped(name)}</tspan>`,
  );
  return `<svg viewBox="0 0 ${WIDTH} ${HEIGHT}" role="img" aria-label="${escaped(title)}" font-size="10" font-family="system-ui,sans-serif">
<text x="${LEFT}" y="12" font-size="12" font-weight="600">${escaped(title)}</text><text x="${WIDTH - RIGHT}" y="12" text-anchor="end">${names.join('')}</text>
${yTicks.map((tick) => across(tick.y, '#ddd') + text(String(LEFT - 5), String(Number(y(tick.y)) + 3), 'end', tick.label)).join('')}
${xTicks.map((tick) => text(x(tick.x), String(HEIGHT - BOTTOM + 14), 'middle', tick.label)).join('')}
${marks.map((mark) => `<path d="M${x(mark.x)} ${y(0)}V${y(1)}" stroke="#999" stroke-dasharray="2 3"/><text transform="translate(${Number(x(mark.x)) + (mark.x > 0.98 ? -3 : 9)} ${y(0.02 + mark.row / LABEL_ROWS)}) rotate(-90)">${escaped(mark.label)}</text>`).join('')}
${level === null ? '' : `<path d="M${x(0)} ${y(level.y)}H${x(1)}" stroke="#b00020" stroke-width="1.5"/>${text(x(0.995), String(Number(y(level.y)) - 4), 'end', level.name)}`}
${drawn.join('')}
</svg>`;
}
