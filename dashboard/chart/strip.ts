import type { Priority } from '../../shared/wire/names.ts';
import { SHAPES } from '../views/alarms.tsx';
import { LEFT_PX, RIGHT_PX, scaled } from './draw.ts';
import type { Gathered, Mark } from './marks.ts';
import type { Palette } from './palette.ts';
import { shareOf, type Window } from './view.ts';

/** The strip over the plots: stages as named bands, alarms and deeds as marks. */

export interface StripPicture {
  window: Window;
  stages: readonly { fromMs: number; toMs: number; name: string }[];
  alarms: readonly Gathered<Mark>[];
  /** How long each alarm stood. */
  stood: readonly { fromMs: number; toMs: number; priority: Priority }[];
  deeds: readonly Gathered<Mark>[];
}

export const STAGE_PX = 24;
/** As high as a finger needs. */
export const LANE_PX = 48;

export interface StripRows {
  alarmsTop: number;
  deedsTop: number;
  height: number;
}

/** Where its rows lie: those that have nothing in them at all take no room. */
export function rowsOf({ stages, alarms, deeds }: StripPicture): StripRows {
  const alarmsTop = stages.length > 0 ? STAGE_PX : 0;
  const deedsTop = alarmsTop + (alarms.length > 0 ? LANE_PX : 0);
  return { alarmsTop, deedsTop, height: deedsTop + (deeds.length > 0 ? LANE_PX : 0) };
}

/** Where a moment lies in the strip and in every plot below it, px from the left. */
export const xOf = (ms: number, window: Window, width: number): number =>
  LEFT_PX + shareOf(ms, window) * (width - LEFT_PX - RIGHT_PX);

const SIZE_PX = 20;
const DEED = 'M5 5h14v14H5z';

export function drawStrip(
  ctx: CanvasRenderingContext2D,
  picture: StripPicture,
  {
    width,
    px,
    palette,
    laneNames,
  }: {
    width: number;
    px: number;
    palette: Palette;
    /** Written over the lanes where they have anything in them. */
    laneNames: readonly [alarms: string, deeds: string];
  },
): void {
  const { window } = picture;
  const { alarmsTop, deedsTop, height } = rowsOf(picture);
  const left = LEFT_PX;
  const right = width - RIGHT_PX;
  const x = (ms: number): number => xOf(ms, window, width);
  ctx.save();
  ctx.scale(px, px);
  ctx.clearRect(0, 0, width, height);
  ctx.font = scaled(1);
  ctx.textBaseline = 'middle';

  ctx.save();
  ctx.beginPath();
  ctx.rect(left, 0, right - left, height);
  ctx.clip();
  let writtenTo = left;
  picture.stages.forEach(({ fromMs, toMs, name }, i) => {
    const from = Math.max(left, x(fromMs));
    const to = Math.min(right, x(toMs));
    if (to < left || from > right) return;
    ctx.fillStyle = i % 2 === 0 ? palette.stage : palette.paper;
    ctx.fillRect(from, 0, Math.max(1, to - from), STAGE_PX);
    ctx.strokeStyle = palette.rule;
    ctx.lineWidth = 1;
    ctx.strokeRect(from + 0.5, 0.5, Math.max(1, to - from - 1), STAGE_PX - 1);
    if (from < writtenTo || ctx.measureText(name).width + 10 > to - from) return;
    ctx.fillStyle = palette.ink;
    ctx.textAlign = 'left';
    ctx.fillText(name, from + 5, STAGE_PX / 2 + 1);
    writtenTo = to;
  });

  const alarmY = alarmsTop + LANE_PX / 2;
  for (const { fromMs, toMs, priority } of picture.stood) {
    const from = Math.max(left, x(fromMs));
    const to = Math.min(right, x(toMs));
    if (to <= from) continue;
    ctx.fillStyle = palette.priority[priority];
    ctx.fillRect(from, alarmY + SIZE_PX / 2 + 3, Math.max(1, to - from), priority === 'critical' ? 5 : 3);
  }
  ctx.restore();

  ctx.strokeStyle = palette.rule;
  ctx.lineWidth = 1;
  [picture.alarms, picture.deeds].forEach((lane, i) => {
    if (lane.length === 0) return;
    const top = i === 0 ? alarmsTop : deedsTop;
    ctx.beginPath();
    ctx.moveTo(left, top + LANE_PX - 0.5);
    ctx.lineTo(right, top + LANE_PX - 0.5);
    ctx.stroke();
    ctx.textAlign = 'right';
    ctx.fillStyle = palette.quiet;
    ctx.fillText(laneNames[i]!, left - 4, top + LANE_PX / 2, left - 4);
    for (const group of lane)
      if (group.ms >= window.fromMs && group.ms <= window.toMs)
        drawGroup(ctx, group, x(group.ms), top + LANE_PX / 2, palette);
  });
  ctx.restore();
}

function drawGroup(
  ctx: CanvasRenderingContext2D,
  { priority, marks }: Gathered<Mark>,
  x: number,
  y: number,
  palette: Palette,
): void {
  const size = priority === null ? SIZE_PX * 0.8 : SIZE_PX;
  const shape = new Path2D(priority === null ? DEED : SHAPES[priority]);
  const colour = priority === null ? palette.quiet : palette.priority[priority];
  ctx.save();
  ctx.translate(x - size / 2, y - size / 2);
  ctx.scale(size / 24, size / 24);
  ctx.lineWidth = 2.5;
  ctx.strokeStyle = colour;
  ctx.fillStyle = priority === 'critical' ? colour : palette.paper;
  ctx.fill(shape);
  ctx.stroke(shape);
  ctx.restore();
  if (marks.length === 1) return;
  ctx.fillStyle = palette.ink;
  ctx.textAlign = 'left';
  ctx.fillText(String(marks.length), x + size / 2 + 2, y);
}
