import uPlot from 'uplot';
import 'uplot/dist/uPlot.min.css';
import { onPalette, type Palette, pagePalette } from '../../chart/palette.ts';
import type { Drawable, Range } from '../../chart/series.ts';

/** Draws the readings around a moment, with what they were held against. Drawing alone. */

export interface MomentPicture {
  data: Drawable;
  fromMs: number;
  toMs: number;
  range: Range;
  /** Across, in the unit shown. `ceiling`: above it the liquid boils. */
  lines: { label: string; value: number; look: 'limit' | 'tried' | 'boiling' | 'plan' }[];
  /** Upright. */
  moments: { atMs: number; label: string; look: 'own' | 'other' }[];
  /** While it stood. */
  stood: { fromMs: number; toMs: number };
}

export interface MomentLook {
  height: number;
  formatTime: (ms: number) => string;
  formatValue: (value: number, step: number) => string;
}

export interface MomentChart {
  show: (picture: MomentPicture) => void;
  destroy: () => void;
}

const FONT_PX = 12;
const AXIS_PX = 46;
const TIME_AXIS_PX = 28;

const LINES = {
  limit: { width: 1.5, dash: [7, 4] },
  tried: { width: 1.5, dash: [3, 3] },
  boiling: { width: 2, dash: [] },
  plan: { width: 1, dash: [2, 4] },
} as const;

function drawStood({ ctx, bbox, valToPos }: uPlot, { stood }: MomentPicture, palette: Palette): void {
  const from = Math.max(bbox.left, valToPos(stood.fromMs / 1000, 'x', true));
  const to = Math.min(bbox.left + bbox.width, valToPos(stood.toMs / 1000, 'x', true));
  if (to <= from) return;
  ctx.save();
  ctx.fillStyle = palette.grid;
  ctx.fillRect(from, bbox.top, to - from, bbox.height);
  ctx.restore();
}

/** Hatched above: the ceiling under which the liquid has to stay. */
function hatch({ ctx, bbox }: uPlot, y: number, palette: Palette): void {
  ctx.save();
  ctx.beginPath();
  ctx.rect(bbox.left, bbox.top, bbox.width, y - bbox.top);
  ctx.clip();
  ctx.strokeStyle = palette.hatch;
  ctx.lineWidth = devicePixelRatio;
  ctx.beginPath();
  for (let x = bbox.left - (y - bbox.top); x < bbox.left + bbox.width; x += 7 * devicePixelRatio) {
    ctx.moveTo(x, y);
    ctx.lineTo(x + (y - bbox.top), bbox.top);
  }
  ctx.stroke();
  ctx.restore();
}

function say({ ctx, bbox }: uPlot, label: string, x: number, y: number, palette: Palette): void {
  const px = devicePixelRatio;
  const width = ctx.measureText(label).width + 6 * px;
  const left = Math.max(bbox.left, Math.min(x, bbox.left + bbox.width - width));
  ctx.fillStyle = palette.paper;
  ctx.fillRect(left, y - (FONT_PX + 3) * px, width, (FONT_PX + 4) * px);
  ctx.fillStyle = palette.ink;
  ctx.fillText(label, left + 3 * px, y);
}

function drawLines(plot: uPlot, picture: MomentPicture, palette: Palette): void {
  const { ctx, bbox } = plot;
  const px = devicePixelRatio;
  const right = bbox.left + bbox.width;
  ctx.save();
  ctx.font = `${FONT_PX * px}px system-ui, sans-serif`;
  ctx.textAlign = 'left';
  ctx.textBaseline = 'bottom';
  ctx.strokeStyle = palette.ink;
  for (const { label, value, look } of picture.lines) {
    const y = Math.round(plot.valToPos(value, 'y', true));
    if (y < bbox.top || y > bbox.top + bbox.height) continue;
    if (look === 'boiling') hatch(plot, y, palette);
    ctx.lineWidth = LINES[look].width * px;
    ctx.setLineDash(LINES[look].dash.map((length) => length * px));
    ctx.beginPath();
    ctx.moveTo(bbox.left, y);
    ctx.lineTo(right, y);
    ctx.stroke();
    ctx.setLineDash([]);
    // The limit below its line, so that one near boiling can be told from it.
    const x = bbox.left + (look === 'tried' ? 60 : 4) * px;
    say(plot, label, x, look === 'limit' || look === 'tried' ? y + (FONT_PX + 6) * px : y - 3 * px, palette);
  }
  const inside = picture.moments.filter(({ atMs }) => atMs >= picture.fromMs && atMs <= picture.toMs);
  for (const { atMs, label, look } of inside) {
    const x = Math.round(plot.valToPos(atMs / 1000, 'x', true));
    ctx.lineWidth = (look === 'own' ? 2.5 : 1.5) * px;
    ctx.setLineDash(look === 'own' ? [] : [3 * px, 3 * px]);
    ctx.beginPath();
    ctx.moveTo(x, bbox.top);
    ctx.lineTo(x, bbox.top + bbox.height);
    ctx.stroke();
    ctx.setLineDash([]);
    const foot = bbox.top + bbox.height - (look === 'own' ? 3 : 21) * px;
    say(plot, label, x + 4 * px, foot, palette);
  }
  ctx.restore();
}

export function createMomentChart(into: HTMLElement, first: MomentPicture, look: MomentLook): MomentChart {
  let picture = first;
  let palette = pagePalette();
  const dataOf = ({ data }: MomentPicture): uPlot.AlignedData => {
    const [line] = data.lines;
    return [data.t.map((t) => t / 1000), line?.min ?? [], line?.max ?? [], line?.mean ?? []];
  };
  const axis: uPlot.Axis = {
    stroke: () => palette.quiet,
    font: `${FONT_PX}px system-ui, sans-serif`,
    grid: { stroke: () => palette.grid, width: 1 },
    ticks: { show: false },
  };
  const edge: uPlot.Series = { stroke: 'transparent', points: { show: false } };
  const plot = new uPlot(
    {
      width: into.clientWidth,
      padding: [8, 28, 0, 0],
      height: look.height,
      legend: { show: false },
      cursor: { sync: { key: 'moment' }, drag: { x: false, y: false }, points: { size: 7 } },
      scales: {
        x: { time: true, range: () => [picture.fromMs / 1000, picture.toMs / 1000] },
        y: { range: () => [picture.range.min, picture.range.max] },
      },
      axes: [
        {
          ...axis,
          size: TIME_AXIS_PX,
          space: 84,
          values: (_, splits) => splits.map((s) => look.formatTime(s * 1000)),
        },
        {
          ...axis,
          size: AXIS_PX,
          space: 34,
          values: (_, splits) =>
            splits.map((value) => look.formatValue(value, Math.abs((splits[1] ?? 1) - splits[0]!))),
        },
      ],
      series: [{}, edge, edge, { stroke: () => palette.ink, width: 1.75, points: { size: 4 } }],
      bands: [{ series: [2, 1], fill: () => palette.band }],
      hooks: {
        drawAxes: [(self) => drawStood(self, picture, palette)],
        draw: [(self) => drawLines(self, picture, palette)],
      },
    },
    dataOf(first),
    into,
  );
  const resize = new ResizeObserver(() => {
    if (into.clientWidth > 0 && into.clientWidth !== plot.width) {
      plot.setSize({ width: into.clientWidth, height: look.height });
    }
  });
  resize.observe(into);
  const endRepainting = onPalette((next) => {
    palette = next;
    plot.redraw();
  });
  return {
    show: (next) => {
      const isOther = next.data !== picture.data;
      picture = next;
      if (isOther) plot.setData(dataOf(next));
      else plot.redraw(false, true);
    },
    destroy: () => {
      resize.disconnect();
      endRepainting();
      plot.destroy();
    },
  };
}
