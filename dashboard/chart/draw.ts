import uPlot from 'uplot';
import 'uplot/dist/uPlot.min.css';
import type { Palette } from './palette.ts';
import { type Columns, type Drawable, indicesIn, type Range } from './series.ts';
import type { Window } from './view.ts';

/** Drawing of one plot: columns that are known to be fit come in, a canvas comes out. */

/** A level over a stretch of time, such as a planned temperature. */
export interface Level {
  label: string;
  fromMs: number;
  toMs: number;
  value: number;
}

export interface Picture {
  window: Window;
  data: Drawable;
  /** Written at the end of each line; empty for one that is alone. */
  labels: readonly string[];
  range: Range;
  /** Methanol's boiling point: what lies above it is hatched. Holds until the next row, and to `ceilingEndMs`. */
  ceiling: (Columns & { label: string; endMs: number }) | undefined;
  levels: readonly Level[];
  /** Where stages begin and end. */
  edges: readonly number[];
  /** Of a switch, instead of lines: for which share of each stretch it was on. */
  on: readonly { fromMs: number; toMs: number; share: number }[];
  ticks: readonly number[];
  /** Of the ticks; null where another plot below has the time axis. */
  tickTexts: readonly string[] | null;
}

export interface PlotLook {
  height: number;
  width: number;
  isSwitch: boolean;
  lines: number;
  /** Also of the canvas of a switch, at its left. */
  onOff: readonly [off: string, on: string];
  formatValue: (value: number, step: number) => string;
}

export interface Plot {
  show: (picture: Picture) => void;
  resize: (width: number) => void;
  repaint: (palette: Palette) => void;
  readonly canvas: HTMLCanvasElement;
  destroy: () => void;
}

const FONT_PX = 12;
const FONT = `${FONT_PX}px system-ui, "Segoe UI", Roboto, "Liberation Sans", sans-serif`;
/** Room for the value axis and at the right end, px; the same in all plots, so that moments stand below each other. */
export const LEFT_PX = 50;
export const RIGHT_PX = 26;
const TOP_PX = 6;
const TIME_AXIS_PX = 26;
/** Probes differ in their dashes: colour is for what is abnormal. */
export const DASHES: readonly (readonly number[])[] = [[], [9, 4], [2, 3], [12, 3, 2, 3]];

export const heightOf = (look: { height: number }, hasTimeAxis: boolean): number =>
  look.height + (hasTimeAxis ? TIME_AXIS_PX : 0);

type Context = CanvasRenderingContext2D;

function hatch(ctx: Context, { left, top, width, height }: uPlot.BBox, px: number): void {
  const apart = 7 * px;
  ctx.beginPath();
  for (let x = left - height; x < left + width; x += apart) {
    ctx.moveTo(x, top + height);
    ctx.lineTo(x + height, top);
  }
  ctx.stroke();
}

const within = (box: uPlot.BBox, x: number): number => Math.min(box.left + box.width, Math.max(box.left, x));

function drawCeiling(plot: uPlot, { ceiling, window }: Picture, palette: Palette): void {
  if (ceiling === undefined || ceiling.t.length === 0) return;
  const { ctx, bbox } = plot;
  const px = uPlot.pxRatio;
  const [first, last] = indicesIn(ceiling.t, window.fromMs, window.toMs);
  const x = (ms: number): number => within(bbox, plot.valToPos(ms, 'x', true));
  const y = (value: number): number => plot.valToPos(value, 'y', true);
  // Steps that look alike are one: a clip of a thousand rectangles is slow.
  const steps: { x0: number; x1: number; least: number; most: number }[] = [];
  for (let i = first; i <= last; i++) {
    const x0 = x(ceiling.t[i]!);
    const x1 = x(ceiling.t[i + 1] ?? ceiling.endMs);
    if (x1 <= x0) continue;
    const least = Math.round(y(ceiling.min[i]!));
    const most = Math.round(y(ceiling.max[i]!));
    const before = steps.at(-1);
    if (before !== undefined && before.least === least && before.most === most) before.x1 = x1;
    else steps.push({ x0, x1, least, most });
  }
  if (steps.length === 0) return;
  const outline = (): void => {
    ctx.beginPath();
    steps.forEach(({ x0, x1, least }, i) => {
      if (i === 0) ctx.moveTo(x0, least);
      else ctx.lineTo(x0, least);
      ctx.lineTo(x1, least);
    });
  };
  ctx.save();
  ctx.beginPath();
  ctx.rect(bbox.left, bbox.top, bbox.width, bbox.height);
  ctx.clip();
  // Above the least of each bucket it may have boiled.
  ctx.save();
  outline();
  ctx.lineTo(steps.at(-1)!.x1, bbox.top);
  ctx.lineTo(steps[0]!.x0, bbox.top);
  ctx.clip();
  ctx.strokeStyle = palette.hatch;
  ctx.lineWidth = px;
  const lowest = Math.min(bbox.top + bbox.height, Math.max(...steps.map(({ least }) => least)));
  hatch(ctx, { ...bbox, height: Math.max(0, lowest - bbox.top) }, px);
  ctx.restore();
  ctx.fillStyle = palette.band;
  for (const { x0, x1, least, most } of steps)
    if (least - most > px) ctx.fillRect(x0, most, x1 - x0, least - most);
  ctx.strokeStyle = palette.ink;
  ctx.lineWidth = 2 * px;
  outline();
  ctx.stroke();
  const at = steps[0]!;
  writeOn(ctx, ceiling.label, at.x0 + 4 * px, at.least - 4 * px, px, palette);
  ctx.restore();
}

/** A word on the drawing, on a scrap of paper so that lines do not strike it through. */
function writeOn(ctx: Context, text: string, x: number, bottom: number, px: number, palette: Palette): void {
  if (text === '') return;
  ctx.font = scaled(px);
  ctx.textAlign = 'left';
  ctx.textBaseline = 'bottom';
  const width = ctx.measureText(text).width;
  ctx.fillStyle = palette.paper;
  ctx.fillRect(x - 2 * px, bottom - (FONT_PX + 1) * px, width + 4 * px, (FONT_PX + 2) * px);
  ctx.fillStyle = palette.ink;
  ctx.fillText(text, x, bottom);
}

export const scaled = (px: number): string => FONT.replace(`${FONT_PX}px`, `${FONT_PX * px}px`);

function drawLevels(plot: uPlot, { levels }: Picture, palette: Palette): void {
  const { ctx, bbox } = plot;
  const px = uPlot.pxRatio;
  ctx.save();
  ctx.beginPath();
  ctx.rect(bbox.left, bbox.top, bbox.width, bbox.height);
  ctx.clip();
  const written = new Set<string>();
  for (const { label, fromMs, toMs, value } of levels) {
    const x0 = within(bbox, plot.valToPos(fromMs, 'x', true));
    const x1 = within(bbox, plot.valToPos(toMs, 'x', true));
    if (x1 <= x0) continue;
    const y = Math.round(plot.valToPos(value, 'y', true)) + (px % 2) / 2;
    ctx.strokeStyle = palette.ink;
    ctx.lineWidth = px;
    ctx.setLineDash([5 * px, 4 * px]);
    ctx.beginPath();
    ctx.moveTo(x0, y);
    ctx.lineTo(x1, y);
    ctx.stroke();
    ctx.setLineDash([]);
    ctx.font = scaled(px);
    if (written.has(label) || ctx.measureText(label).width + 12 * px > x1 - x0) continue;
    written.add(label);
    writeOn(ctx, label, x0 + 4 * px, y - 3 * px, px, palette);
  }
  ctx.restore();
}

function drawEdges(plot: uPlot, { edges }: Picture, palette: Palette): void {
  const { ctx, bbox } = plot;
  ctx.save();
  ctx.strokeStyle = palette.rule;
  ctx.lineWidth = uPlot.pxRatio;
  ctx.beginPath();
  for (const ms of edges) {
    const x = Math.round(plot.valToPos(ms, 'x', true));
    if (x < bbox.left || x > bbox.left + bbox.width) continue;
    ctx.moveTo(x, bbox.top);
    ctx.lineTo(x, bbox.top + bbox.height);
  }
  ctx.stroke();
  ctx.restore();
}

/** A switch: full where it was on throughout, lower where only for a part; never so low that it is not seen. Off is a thin line. */
function drawOn(plot: uPlot, { on }: Picture, palette: Palette): void {
  const { ctx, bbox } = plot;
  const px = uPlot.pxRatio;
  ctx.save();
  ctx.fillStyle = palette.quiet;
  for (const { fromMs, toMs, share } of on) {
    const x0 = plot.valToPos(fromMs, 'x', true);
    const x1 = plot.valToPos(toMs, 'x', true);
    if (x1 < bbox.left || x0 > bbox.left + bbox.width) continue;
    const left = within(bbox, x0);
    const width = Math.max(px, within(bbox, x1) - left);
    const height = share === 0 ? px : Math.max(4 * px, bbox.height * share);
    ctx.fillRect(left, bbox.top + bbox.height - height, width, height);
  }
  ctx.restore();
}

type Cells = readonly (number | null | undefined)[];
const before = (cells: Cells, i: number): number | null | undefined => {
  for (let j = i - 1; j >= 0; j--) if (cells[j] !== undefined) return cells[j];
  return null;
};
const after = (cells: Cells, i: number): number | null | undefined => {
  for (let j = i + 1; j < cells.length; j++) if (cells[j] !== undefined) return cells[j];
  return null;
};

/** A row between two gaps has no line: its extremes are joined, so that it is seen. */
function drawAlone(plot: uPlot, { data }: Picture, palette: Palette): void {
  const { ctx, bbox } = plot;
  const px = uPlot.pxRatio;
  ctx.save();
  ctx.strokeStyle = palette.ink;
  ctx.lineWidth = 3 * px;
  ctx.lineCap = 'round';
  ctx.beginPath();
  for (const { mean, min, max } of data.lines) {
    for (let i = 0; i < mean.length; i++) {
      if (mean[i] == null || before(mean, i) !== null || after(mean, i) !== null) continue;
      const x = plot.valToPos(data.t[i]!, 'x', true);
      if (x < bbox.left || x > bbox.left + bbox.width) continue;
      ctx.moveTo(x, plot.valToPos(min[i]!, 'y', true) + px / 2);
      ctx.lineTo(x, plot.valToPos(max[i]!, 'y', true));
    }
  }
  ctx.stroke();
  ctx.restore();
}

/** The number of each probe where its line ends. */
function drawLabels(plot: uPlot, { data, labels, window }: Picture, palette: Palette): void {
  const { ctx, bbox } = plot;
  const px = uPlot.pxRatio;
  ctx.save();
  ctx.font = scaled(px);
  ctx.textBaseline = 'middle';
  ctx.fillStyle = palette.ink;
  const taken: number[] = [];
  labels.forEach((label, i) => {
    if (label === '') return;
    const mean = data.lines[i]?.mean ?? [];
    let last = indicesIn(data.t, window.fromMs, window.toMs)[1];
    while (last >= 0 && (mean[last] == null || data.t[last]! > window.toMs)) last--;
    if (last < 0) return;
    let y = plot.valToPos(mean[last]!, 'y', true);
    while (taken.some((other) => Math.abs(other - y) < FONT_PX * px)) y += FONT_PX * px;
    taken.push(y);
    const x = within(bbox, plot.valToPos(data.t[last]!, 'x', true));
    ctx.fillText(label, x + 4 * px, y);
  });
  ctx.restore();
}

const dataOf = ({ data }: Picture): uPlot.AlignedData => [
  data.t,
  ...data.lines.flatMap(({ min, max, mean }) => [min, max, mean]),
];

export function createPlot(into: HTMLElement, first: Picture, look: PlotLook, firstPalette: Palette): Plot {
  let picture = first;
  let palette = firstPalette;
  const hasTimeAxis = (): boolean => picture.tickTexts !== null;
  const axis: uPlot.Axis = {
    stroke: () => palette.quiet,
    font: FONT,
    grid: { stroke: () => palette.grid, width: 1 },
    ticks: { show: false },
  };
  const edge: uPlot.Series = { stroke: 'transparent', points: { show: false } };
  const line = (i: number): uPlot.Series => ({
    stroke: () => palette.ink,
    width: 1.75,
    dash: [...DASHES[i % DASHES.length]!],
    points: { show: false },
  });
  const onOff: uPlot.Axis = { splits: [0, 1], values: () => [...look.onOff], grid: { show: false } };
  const plot = new uPlot(
    {
      width: look.width,
      height: heightOf(look, hasTimeAxis()),
      padding: [TOP_PX, RIGHT_PX, 0, 0],
      ms: 1,
      legend: { show: false },
      // The page has one cursor for all plots.
      cursor: { show: false },
      select: { show: false, left: 0, top: 0, width: 0, height: 0 },
      scales: {
        x: { time: false, range: () => [picture.window.fromMs, picture.window.toMs] },
        y: { range: () => [picture.range.min, picture.range.max] },
      },
      axes: [
        {
          ...axis,
          size: () => (hasTimeAxis() ? TIME_AXIS_PX : 2),
          splits: () => [...picture.ticks],
          values: (_, splits) => splits.map((_split, i) => picture.tickTexts?.[i] ?? ''),
        },
        {
          ...axis,
          size: LEFT_PX,
          space: 32,
          values: (_, splits) =>
            splits.map((value) => look.formatValue(value, Math.abs((splits[1] ?? 1) - splits[0]!))),
          ...(look.isSwitch ? onOff : {}),
        },
      ],
      series: [{}, ...Array.from({ length: look.lines }, (_, i) => [edge, edge, line(i)]).flat()],
      bands: Array.from({ length: look.lines }, (_, i) => ({
        series: [3 * i + 2, 3 * i + 1] as [number, number],
        fill: () => palette.band,
      })),
      hooks: {
        drawAxes: [
          () => {
            drawEdges(plot, picture, palette);
            drawOn(plot, picture, palette);
          },
        ],
        draw: [
          () => {
            // The dashes of the last line drawn would go on.
            plot.ctx.setLineDash([]);
            drawCeiling(plot, picture, palette);
            drawLevels(plot, picture, palette);
            drawAlone(plot, picture, palette);
            drawLabels(plot, picture, palette);
          },
        ],
      },
    },
    undefined,
    into,
  );
  plot.setData(dataOf(first));

  return {
    show(next) {
      const { data } = picture;
      const had = hasTimeAxis();
      picture = next;
      if (had !== hasTimeAxis()) plot.setSize({ width: plot.width, height: heightOf(look, hasTimeAxis()) });
      if (next.data !== data) {
        plot.setData(dataOf(next));
        return;
      }
      plot.batch(() => {
        plot.setScale('x', { min: next.window.fromMs, max: next.window.toMs });
        plot.setScale('y', { min: next.range.min, max: next.range.max });
        // What hangs on neither scale, such as a level, is drawn anew as well.
        plot.redraw(false, true);
      });
    },
    resize(width) {
      if (width > 0 && width !== plot.width) plot.setSize({ width, height: plot.height });
    },
    repaint(next) {
      palette = next;
      plot.redraw(false, true);
    },
    canvas: plot.ctx.canvas,
    destroy: () => plot.destroy(),
  };
}
