import uPlot from 'uplot';
import 'uplot/dist/uPlot.min.css';
import { onPalette, type Palette, pagePalette } from '../../chart/palette.ts';
import type { Overlay } from './overlay.ts';

/** Drawing alone: two lines on one axis of minutes. They differ in form: one full, one dashed. */

const FONT_PX = 12;

interface Look {
  height: number;
  formatValue: (value: number) => string;
}

/** Where both are laid over each other. */
function drawZero({ ctx, bbox, valToPos }: uPlot, palette: Palette): void {
  const x = Math.round(valToPos(0, 'x', true));
  if (x < bbox.left || x > bbox.left + bbox.width) return;
  ctx.save();
  ctx.strokeStyle = palette.ink;
  ctx.lineWidth = devicePixelRatio;
  ctx.beginPath();
  ctx.moveTo(x, bbox.top);
  ctx.lineTo(x, bbox.top + bbox.height);
  ctx.stroke();
  ctx.restore();
}

/** @returns what takes it away again. */
export function drawOverlay(into: HTMLElement, { minutes, lines }: Overlay, look: Look): () => void {
  let palette = pagePalette();
  const axis: uPlot.Axis = {
    stroke: () => palette.quiet,
    font: `${FONT_PX}px system-ui, sans-serif`,
    grid: { stroke: () => palette.grid, width: 1 },
    ticks: { show: false },
  };
  const plot = new uPlot(
    {
      width: into.clientWidth,
      height: look.height,
      padding: [8, 12, 0, 0],
      legend: { show: false },
      cursor: { drag: { x: false, y: false }, points: { size: 7 } },
      scales: { x: { time: false } },
      axes: [
        { ...axis, size: 28, space: 64 },
        { ...axis, size: 46, space: 34, values: (_, splits) => splits.map(look.formatValue) },
      ],
      series: [
        {},
        { stroke: () => palette.ink, width: 2, points: { show: false } },
        { stroke: () => palette.ink, width: 1.75, dash: [3, 4], points: { show: false } },
      ],
      hooks: { drawAxes: [(self) => drawZero(self, palette)] },
    },
    [minutes, ...lines],
    into,
  );
  const resize = new ResizeObserver(() => {
    if (into.clientWidth > 0 && into.clientWidth !== plot.width)
      plot.setSize({ width: into.clientWidth, height: look.height });
  });
  resize.observe(into);
  const endRepainting = onPalette((next) => {
    palette = next;
    plot.redraw();
  });
  return () => {
    resize.disconnect();
    endRepainting();
    plot.destroy();
  };
}
