import type { Timeline } from '../../shared/wire/history.ts';
import { MIXING_STAGES, type Stage } from '../../shared/wire/names.ts';
import { hourCycle, unit } from '../settings.ts';
import { knownUntil } from '../store.ts';
import { HISTORY } from '../texts/history.ts';
import { STAGE_NAMES } from '../texts/live.ts';
import type { Board } from './board.ts';
import type { Level, Picture } from './draw.ts';
import { gather } from './marks.ts';
import { type PlotSpec, stretches } from './plots.ts';
import { alarmMarks, deedMarks, shownOf } from './said.ts';
import { type Columns, type Drawable, drawable, indicesIn, switchStretches, valueRange } from './series.ts';
import { LANE_PX, type StripPicture } from './strip.ts';
import { type Ticks, ticksOf, tickTexts } from './ticks.ts';
import { shareOf, type Window } from './view.ts';

/** What is drawn, made from what the board knows, and not beyond the daemon's last word. Reads signals: whoever calls it in an effect follows them. */

/** One tick in so many px. */
const TICK_PX = 92;
/** Stages in which the liquid is to come to the planned temperature. */
const PLANNED_STAGES: readonly Stage[] = ['warm', 'dose', 'react'];

const NOTHING: Columns = { t: [], min: [], mean: [], max: [], live: [], stepMs: 0 };

const endOf = (to: string | null): number => (to === null ? Number.MAX_SAFE_INTEGER : Date.parse(to));

const ticksFor = (window: Window, width: number) =>
  ticksOf(window.fromMs, window.toMs, Math.max(2, Math.floor(width / TICK_PX)));

/** A text that would reach into the value axis is left out. */
const EDGE_PX = 26;

const textsWithin = (ticks: Ticks, window: Window, width: number): string[] =>
  tickTexts(ticks, hourCycle.value).map((text, i) =>
    shareOf(ticks.at[i]!, window) * width < EDGE_PX ? '' : text,
  );

/** Makes the pictures of one plot; what did not change since the last one is not worked out again. */
export function pictureMaker(
  board: Board,
  plot: PlotSpec,
): (window: Window, width: number, hasTimeAxis: boolean) => Picture {
  let known: { from: readonly unknown[]; data: Drawable } | undefined;
  let ceilingKnown: { from: readonly unknown[]; columns: Columns } | undefined;
  return (window, width, hasTimeAxis) => {
    const feeds = plot.channels.map(board.feedOf);
    const columns = feeds.map((feed) => feed.columns.value ?? NOTHING);
    const toShown = shownOf(plot.id);
    const from = [unit.value, ...columns];
    if (known === undefined || !isSame(known.from, from)) {
      const series = columns.map((each, i) => ({ columns: each, gapMs: feeds[i]!.gapMs() }));
      const data = plot.kind === 'switch' ? { t: [], lines: columns.map(noLine) } : drawable(series, toShown);
      known = { from, data };
    }
    const ticks = ticksFor(window, width);
    const timeline = board.timeline.value;
    const untilMs = knownUntil.peek();
    const picture = {
      window,
      data: known.data,
      labels: plot.channels.length === 1 ? [''] : plot.channels.map((_, i) => String(i + 1)),
      edges: (timeline?.stages ?? []).map((stage) => Date.parse(stage.from)),
      ticks: ticks.at,
      tickTexts: hasTimeAxis ? textsWithin(ticks, window, width) : null,
    };
    if (plot.kind === 'switch') {
      const on = switchStretches(columns[0]!, feeds[0]!.gapMs());
      return { ...picture, range: { min: 0, max: 1.2 }, ceiling: undefined, levels: [], on };
    }
    const levels = levelsOf(plot, timeline, untilMs).filter(
      ({ fromMs, toMs }) => fromMs <= window.toMs && toMs >= window.fromMs,
    );
    const boiling = plot.kind === 'temperature' ? board.boiling.columns.value : undefined;
    const marks = [
      ...levels.map(({ value }) => value),
      ...(boiling === undefined ? [] : extremes(boiling, window)),
    ];
    const fits = stretches(plot.id);
    const range = valueRange(columns, marks, plot.leastSpan, { ...window, fits, fromZero: plot.fromZero });
    if (boiling !== undefined) {
      const made = [unit.value, boiling];
      if (ceilingKnown === undefined || !isSame(ceilingKnown.from, made)) {
        const shown = {
          min: boiling.min.map(toShown),
          mean: boiling.mean.map(toShown),
          max: boiling.max.map(toShown),
        };
        ceilingKnown = { from: made, columns: { ...boiling, ...shown } };
      }
    }
    return {
      ...picture,
      range: { min: toShown(range.min), max: toShown(range.max) },
      ceiling:
        boiling === undefined
          ? undefined
          : {
              ...ceilingKnown!.columns,
              label: HISTORY.boiling,
              endMs: Math.max(untilMs, boiling.t.at(-1) ?? 0),
            },
      levels: levels.map((level) => ({ ...level, value: toShown(level.value) })),
      on: [],
    };
  };
}

const noLine = () => ({ min: [], mean: [], max: [] });

const isSame = (a: readonly unknown[], b: readonly unknown[]): boolean =>
  a.length === b.length && a.every((each, i) => each === b[i]);

function extremes({ t, min, max }: Columns, { fromMs, toMs }: Window): number[] {
  if (t.length === 0) return [];
  const [first, last] = indicesIn(t, fromMs, toMs);
  let least = Number.POSITIVE_INFINITY;
  let most = Number.NEGATIVE_INFINITY;
  for (let i = first; i <= last; i++) {
    least = Math.min(least, min[i]!);
    most = Math.max(most, max[i]!);
  }
  return Number.isFinite(least) ? [least, most] : [];
}

/** Planned temperatures and the lowest speed that counts, where each held. In the stored unit. */
function levelsOf(plot: PlotSpec, timeline: Timeline | undefined, untilMs: number): Level[] {
  if (timeline === undefined) return [];
  const batches = new Map(timeline.batches.map((batch) => [batch.batch, batch]));
  const levels = timeline.stages.flatMap(({ stage, batch: id, from, to }): Level[] => {
    const batch = batches.get(id);
    if (batch === undefined) return [];
    const times = { fromMs: Date.parse(from), toMs: Math.min(endOf(to), untilMs) };
    if (plot.kind === 'temperature')
      return PLANNED_STAGES.includes(stage)
        ? [{ ...times, label: HISTORY.planned, value: batch.reactionTemperatureC }]
        : [];
    const lowest =
      plot.id === 'stirrer-speed'
        ? batch.lowestStirrerSpeed
        : plot.id === 'pump-flow'
          ? batch.lowestPumpFlow
          : null;
    return lowest !== null && MIXING_STAGES.includes(stage)
      ? [{ ...times, label: HISTORY.lowest, value: lowest }]
      : [];
  });
  // One line through stages that follow on each other.
  return levels.reduce<Level[]>((joined, level) => {
    const last = joined.at(-1);
    if (last !== undefined && last.value === level.value && last.toMs >= level.fromMs)
      last.toMs = Math.max(last.toMs, level.toMs);
    else joined.push({ ...level });
    return joined;
  }, []);
}

/** What lies over the plots; `width` is that of a plot's inside. */
export function stripPicture(board: Board, window: Window, width: number) {
  const timeline = board.timeline.value;
  const apartMs = ((window.toMs - window.fromMs) / Math.max(1, width)) * LANE_PX;
  const untilMs = knownUntil.peek();
  return {
    window,
    stages: (timeline?.stages ?? []).map(({ stage, from, to }) => ({
      fromMs: Date.parse(from),
      toMs: Math.min(endOf(to), untilMs),
      name: STAGE_NAMES[stage],
    })),
    alarms: gather(alarmMarks(timeline), apartMs),
    stood: (timeline?.alarms ?? []).map(({ at, clearedAt, priority }) => ({
      fromMs: Date.parse(at),
      toMs: Math.min(endOf(clearedAt), untilMs),
      priority,
    })),
    deeds: gather(deedMarks(timeline), apartMs),
  } satisfies StripPicture;
}
