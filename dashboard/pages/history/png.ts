import type { Board } from '../../chart/board.ts';
import { createPlot, heightOf, LEFT_PX, RIGHT_PX, scaled } from '../../chart/draw.ts';
import { ON_PAPER } from '../../chart/palette.ts';
import { pictureMaker, stripPicture } from '../../chart/pictures.ts';
import { axisText, extremesOf, fullTime, lackOf, unitText } from '../../chart/said.ts';
import { drawStrip, rowsOf } from '../../chart/strip.ts';
import { isLive, knownUntil, now } from '../../store.ts';
import { channelTitle, HISTORY } from '../../texts/history.ts';
import { TEXTS } from '../../texts/live.ts';
import { duration } from '../../units.ts';

/** As wide as a page of paper takes, px, and as fine as the screen. */
const WIDTH_PX = 1100;
const MARGIN_PX = 24;
const LINE_PX = 18;

/** The range that is shown, as a picture on white, whatever the page looks like. Rejects where it cannot be made. */
export async function makePng(board: Board, site: string, vessel: string): Promise<Blob> {
  const px = devicePixelRatio;
  const window = board.window.peek();
  const plots = board.plots.peek();
  const inside = WIDTH_PX - LEFT_PX - RIGHT_PX;
  const place = document.createElement('div');
  place.className = 'unseen';
  place.setAttribute('aria-hidden', 'true');
  document.body.append(place);
  const drawn = plots.map((plot, i) => {
    const hasTimeAxis = i === plots.length - 1;
    const picture = pictureMaker(board, plot)(window, inside, hasTimeAxis);
    const look = {
      height: plot.height,
      width: WIDTH_PX,
      isSwitch: plot.kind === 'switch',
      lines: plot.channels.length,
      onOff: [HISTORY.off, HISTORY.on] as const,
      formatValue: axisText,
    };
    return { plot, height: heightOf(plot, hasTimeAxis), chart: createPlot(place, picture, look, ON_PAPER) };
  });
  try {
    // Plots are drawn when this turn of the page's loop is over.
    await new Promise((resolve) => setTimeout(resolve, 0));
    const notes = notesOf(board);
    const strip = stripPicture(board, window, inside);
    const stripHeight = rowsOf(strip).height;
    const height =
      2 * MARGIN_PX +
      3 * LINE_PX +
      stripHeight +
      drawn.reduce((sum, each) => sum + each.height + LINE_PX + 6, 0) +
      (notes.length + 1) * LINE_PX;
    const canvas = document.createElement('canvas');
    canvas.width = Math.round((WIDTH_PX + 2 * MARGIN_PX) * px);
    canvas.height = Math.round(height * px);
    const ctx = canvas.getContext('2d');
    if (ctx === null) throw new Error('no canvas');
    ctx.fillStyle = ON_PAPER.paper;
    ctx.fillRect(0, 0, canvas.width, canvas.height);
    ctx.scale(px, px);
    ctx.translate(MARGIN_PX, MARGIN_PX);
    ctx.textBaseline = 'top';
    let y = 0;
    const write = (text: string, font = scaled(1), colour = ON_PAPER.ink): void => {
      ctx.font = font;
      ctx.fillStyle = colour;
      ctx.fillText(text, 0, y, WIDTH_PX);
      y += LINE_PX;
    };
    write(HISTORY.pictureTitle(vessel, site), `bold ${scaled(1.4)}`);
    y += 4;
    const { timeZone } = Intl.DateTimeFormat().resolvedOptions();
    write(HISTORY.pictureRange(fullTime(window.fromMs), fullTime(window.toMs), timeZone));
    y += 8;
    ctx.save();
    ctx.translate(0, y);
    const laneNames = HISTORY.lanes;
    // Its own scale, on top of the margin that is there.
    const layer = document.createElement('canvas');
    layer.width = Math.round(WIDTH_PX * px);
    layer.height = Math.round(stripHeight * px);
    drawStrip(layer.getContext('2d')!, strip, { width: WIDTH_PX, px, palette: ON_PAPER, laneNames });
    if (stripHeight > 0) ctx.drawImage(layer, 0, 0, WIDTH_PX, stripHeight);
    ctx.restore();
    y += stripHeight + 6;
    for (const { plot, height: plotHeight, chart } of drawn) {
      write(captionOf(board, plot.channels, plot.kind === 'switch'), `bold ${scaled(1)}`);
      ctx.drawImage(chart.canvas, 0, y, WIDTH_PX, plotHeight);
      y += plotHeight + 6;
    }
    y += 4;
    for (const note of notes) write(note, scaled(1), ON_PAPER.quiet);
    return await new Promise<Blob>((resolve, reject) => {
      canvas.toBlob((blob) => (blob === null ? reject(new Error('no picture')) : resolve(blob)), 'image/png');
    });
  } finally {
    for (const { chart } of drawn) chart.destroy();
    place.remove();
  }
}

function captionOf(board: Board, channels: readonly string[], isSwitch: boolean): string {
  const several = channels.length > 1;
  const [first] = channels as [string];
  const title = HISTORY.titled(
    several ? HISTORY.probes : channelTitle(first),
    isSwitch ? '' : unitText(first),
  );
  const window = board.window.peek();
  const said = channels.flatMap((channel, i) => {
    const { columns, state } = board.feedOf(channel);
    const known = columns.peek();
    const found = known && extremesOf(channel, known, window);
    const texts = [
      isSwitch ? undefined : found?.extremes,
      lackOf(state.peek(), found === undefined, window, knownUntil.peek()),
    ].filter((text) => text !== undefined);
    return texts.length === 0 ? [] : `${several ? `${i + 1}: ` : ''}${texts.join('. ')}`;
  });
  return [title, ...said].join('   ');
}

function notesOf(board: Board): string[] {
  const steps = board.plots
    .peek()
    .flatMap(({ channels }) => channels.map((channel) => board.feedOf(channel).columns.peek()?.stepMs ?? 0));
  const longest = Math.max(0, ...steps);
  const hasLiquid = board.plots.peek().some(({ kind }) => kind === 'temperature');
  return [
    longest === 0 ? HISTORY.pictureSingle : HISTORY.pictureStep(duration(longest)),
    ...(hasLiquid
      ? [board.boiling.state.peek() === 'failed' ? HISTORY.boilingFailed : HISTORY.pictureBoiling]
      : []),
    ...(isLive.peek() ? [] : [HISTORY.pictureLost(fullTime(knownUntil.peek()))]),
    HISTORY.pictureMade(fullTime(now.peek()), TEXTS.product),
    TEXTS.footer,
  ];
}
