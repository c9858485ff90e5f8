import uPlot from 'uplot';
import 'uplot/dist/uPlot.min.css';
import { isDark } from '../theme.ts';
import type { Drawable, Range } from './series.ts';

/** Drawing alone: columns that are known to be fit come in, a canvas comes out. */

export interface Line {
  label: string;
  value: number;
  /** Whether what lies above it is hatched: there the liquid boils. */
  ceiling: boolean;
}

export interface Picture {
  columns: Drawable;
  fromMs: number;
  toMs: number;
  range: Range;
  lines: Line[];
  stages: { t: number; label: string }[];
}

export interface Look {
  height: number;
  label: string;
  formatTime: (ms: number) => string;
  formatValue: (value: number) => string;
}

export interface Chart {
  show: (picture: Picture) => void;
  destroy: () => void;
}

const FONT_PX = 12;
const AXIS_PX = 46;
const TIME_AXIS_PX = 28;

const colour = (name: string): string =>
  getComputedStyle(document.documentElement).getPropertyValue(name).trim();

function hatchAbove({ ctx, bbox }: uPlot, bottom: number): void {
  ctx.save();
  ctx.beginPath();
  ctx.rect(bbox.left, bbox.top, bbox.width, bottom - bbox.top);
  ctx.clip();
  ctx.strokeStyle = colour('--hatch');
  ctx.lineWidth = devicePixelRatio;
  const apart = 7 * devicePixelRatio;
  ctx.beginPath();
  for (let x = bbox.left - (bottom - bbox.top); x < bbox.left + bbox.width; x += apart) {
    ctx.moveTo(x, bottom);
    ctx.lineTo(x + (bottom - bbox.top), bbox.top);
  }
  ctx.stroke();
  ctx.restore();
}

function drawLines(plot: uPlot, picture: Picture): void {
  const { ctx, bbox } = plot;
  const px = devicePixelRatio;
  ctx.save();
  ctx.font = `${FONT_PX * px}px system-ui, sans-serif`;
  for (const { label, value, ceiling } of picture.lines) {
    const y = Math.round(plot.valToPos(value, 'y', true));
    if (y < bbox.top || y > bbox.top + bbox.height) continue;
    if (ceiling) hatchAbove(plot, y);
    ctx.strokeStyle = colour('--ink');
    ctx.lineWidth = (ceiling ? 2 : 1) * px;
    ctx.setLineDash(ceiling ? [] : [4 * px, 4 * px]);
    ctx.beginPath();
    ctx.moveTo(bbox.left, y);
    ctx.lineTo(bbox.left + bbox.width, y);
    ctx.stroke();
    ctx.setLineDash([]);
    ctx.textAlign = 'left';
    ctx.textBaseline = 'bottom';
    const width = ctx.measureText(label).width;
    ctx.fillStyle = colour('--paper');
    ctx.fillRect(bbox.left + 4 * px, y - (FONT_PX + 5) * px, width + 6 * px, (FONT_PX + 3) * px);
    ctx.fillStyle = colour('--ink');
    ctx.fillText(label, bbox.left + 7 * px, y - 3 * px);
  }
  ctx.restore();
}

/** Where each stage began, named at the foot of the chart. */
function drawStages(plot: uPlot, picture: Picture): void {
  const { ctx, bbox } = plot;
  const px = devicePixelRatio;
  ctx.save();
  ctx.font = `${FONT_PX * px}px system-ui, sans-serif`;
  ctx.textAlign = 'left';
  ctx.textBaseline = 'bottom';
  picture.stages.forEach(({ t, label }, i) => {
    const from = Math.max(bbox.left, plot.valToPos(t / 1000, 'x', true));
    const end = picture.stages[i + 1]?.t ?? picture.toMs;
    const to = Math.min(bbox.left + bbox.width, plot.valToPos(end / 1000, 'x', true));
    if (to <= from) return;
    ctx.strokeStyle = colour('--rule');
    ctx.lineWidth = px;
    if (t >= picture.fromMs) {
      ctx.beginPath();
      ctx.moveTo(from, bbox.top);
      ctx.lineTo(from, bbox.top + bbox.height);
      ctx.stroke();
    }
    if (ctx.measureText(label).width + 8 * px > to - from) return;
    ctx.fillStyle = colour('--quiet');
    ctx.fillText(label, from + 4 * px, bbox.top + bbox.height - 3 * px);
  });
  ctx.restore();
}

export function createChart(into: HTMLElement, first: Picture, look: Look): Chart {
  let picture = first;
  const dataOf = ({ columns }: Picture): uPlot.AlignedData => [
    columns.t.map((t) => t / 1000),
    columns.min,
    columns.max,
    columns.mean,
  ];
  const axis: uPlot.Axis = {
    stroke: () => colour('--quiet'),
    font: `${FONT_PX}px system-ui, sans-serif`,
    grid: { stroke: () => colour('--grid'), width: 1 },
    ticks: { show: false },
  };
  const edge: uPlot.Series = { stroke: 'transparent', points: { show: false } };
  const plot = new uPlot(
    {
      width: into.clientWidth,
      padding: [8, 28, 0, 0],
      height: look.height,
      legend: { show: false },
      cursor: { sync: { key: 'vessel' }, drag: { x: false, y: false }, points: { size: 7 } },
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
        { ...axis, size: AXIS_PX, space: 34, values: (_, splits) => splits.map(look.formatValue) },
      ],
      series: [
        {},
        edge,
        edge,
        { label: look.label, stroke: () => colour('--ink'), width: 1.75, points: { size: 4 } },
      ],
      bands: [{ series: [2, 1], fill: () => colour('--band') }],
      hooks: {
        drawAxes: [(self) => drawStages(self, picture)],
        draw: [(self) => drawLines(self, picture)],
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
  const endRepainting = isDark.subscribe(() => plot.redraw());

  return {
    show: (next) => {
      picture = next;
      plot.setData(dataOf(next));
    },
    destroy: () => {
      resize.disconnect();
      endRepainting();
      plot.destroy();
    },
  };
}
