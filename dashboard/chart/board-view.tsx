import { useComputed, useSignal, useSignalEffect } from '@preact/signals';
import type { ComponentChildren } from 'preact';
import { useEffect, useMemo, useRef } from 'preact/hooks';
import { channelKind } from '../../shared/wire/names.ts';
import { idHref } from '../route.ts';
import { knownUntil, now } from '../store.ts';
import { channelTitle, HISTORY } from '../texts/history.ts';
import { STAGE_NAMES } from '../texts/live.ts';
import { when } from '../views/words.ts';
import type { Board } from './board.ts';
import { fetchEarliest } from './calls.ts';
import './charts.css';
import { createPlot, DASHES, heightOf, LEFT_PX, type Picture, type Plot, RIGHT_PX } from './draw.ts';
import type { Gathered } from './marks.ts';
import { onPalette, pagePalette } from './palette.ts';
import { pictureMaker, stripPicture } from './pictures.ts';
import type { PlotSpec } from './plots.ts';
import {
  type AnyMark,
  axisText,
  belowBoilingAt,
  extremesOf,
  fullTime,
  lackOf,
  markText,
  saidAt,
  stageAt,
  unitText,
} from './said.ts';
import { drawStrip, LANE_PX, rowsOf, xOf } from './strip.ts';
import {
  keyed,
  momentAt,
  panned,
  pinched,
  type View,
  viewOf,
  type Window,
  windowOf,
  withSpan,
  zoomed,
} from './view.ts';

/** What is drawn waits for the next frame: of what changes meanwhile only the last is drawn. */
function frames(): { next: (draw: () => void) => void; end: () => void } {
  let wanted: (() => void) | undefined;
  let frame = 0;
  return {
    next(draw) {
      wanted = draw;
      frame ||= requestAnimationFrame(() => {
        frame = 0;
        wanted?.();
      });
    },
    end: () => cancelAnimationFrame(frame),
  };
}

const px = (length: number): string => `${length}px`;

/** A piece of the line as it is drawn. */
const Sample = ({ index }: { index: number }) => (
  <svg class="sample" viewBox="0 0 28 8" aria-hidden="true">
    <path d="M0 4h28" stroke-dasharray={DASHES[index % DASHES.length]!.join(' ') || undefined} />
  </svg>
);

function Caption({ board, plot }: { board: Board; plot: PlotSpec }) {
  const several = plot.channels.length > 1;
  const window = board.window.value;
  const cursor = board.cursor.value;
  const unit = plot.kind === 'switch' ? '' : unitText(plot.id);
  const title = several ? HISTORY.probes : channelTitle(plot.id);
  return (
    <figcaption>
      <b>{HISTORY.titled(title, unit)}</b>
      {channelKind(plot.id) === 'other' && <span class="quiet"> {HISTORY.unread}</span>}
      {plot.channels.map((channel, i) => {
        const feed = board.feedOf(channel);
        const columns = feed.columns.value;
        const shown = columns && extremesOf(channel, columns, window);
        const lack = lackOf(feed.state.value, shown === undefined, window, knownUntil.value);
        return (
          <span key={channel} class="said">
            {several && (
              <>
                <Sample index={i} /> {i + 1}{' '}
              </>
            )}
            {cursor === undefined
              ? shown !== undefined && <b>{HISTORY.last(shown.last)}</b>
              : columns !== undefined && <b>{saidAt(channel, columns, cursor, feed.gapMs())}</b>}{' '}
            <span class="quiet">
              {plot.kind !== 'switch' && shown?.extremes} {lack}
            </span>
          </span>
        );
      })}
    </figcaption>
  );
}

function PlotView({ board, plot, isLast }: { board: Board; plot: PlotSpec; isLast: boolean }) {
  const place = useRef<HTMLDivElement>(null);
  const made = useRef<Plot | undefined>(undefined);
  const last = useRef(isLast);
  last.current = isLast;
  const redraw = useSignal(0);
  useEffect(() => {
    redraw.value += 1;
  }, [isLast, redraw]);
  const pictureOf = useMemo(() => pictureMaker(board, plot), [board, plot]);
  const drawing = useMemo(frames, []);
  useEffect(() => {
    const endPainting = onPalette((palette) => made.current?.repaint(palette));
    return () => {
      endPainting();
      drawing.end();
      made.current?.destroy();
      made.current = undefined;
    };
  }, [drawing]);

  useSignalEffect(() => {
    void redraw.value;
    const width = board.width.value;
    if (width <= 0) return;
    const picture: Picture = pictureOf(board.window.value, width, last.current);
    const whole = width + LEFT_PX + RIGHT_PX;
    drawing.next(() => {
      if (place.current === null) return;
      if (made.current === undefined) {
        const look = {
          height: plot.height,
          width: whole,
          isSwitch: plot.kind === 'switch',
          lines: plot.channels.length,
          onOff: [HISTORY.off, HISTORY.on] as const,
          formatValue: axisText,
        };
        made.current = createPlot(place.current, picture, look, pagePalette());
        return;
      }
      made.current.resize(whole);
      made.current.show(picture);
    });
  });

  return (
    <figure class="plot">
      <Caption board={board} plot={plot} />
      <div ref={place} class="canvas" aria-hidden="true" style={{ minHeight: px(heightOf(plot, isLast)) }} />
    </figure>
  );
}

function Strip({ board, onGroup }: { board: Board; onGroup: (group: Gathered<AnyMark>) => void }) {
  const canvas = useRef<HTMLCanvasElement>(null);
  const drawing = useMemo(frames, []);
  const painted = useSignal(pagePalette());
  useEffect(() => {
    const end = onPalette((palette) => {
      painted.value = palette;
    });
    return () => {
      end();
      drawing.end();
    };
  }, [drawing, painted]);
  const picture = useComputed(() => stripPicture(board, board.window.value, board.width.value));
  useSignalEffect(() => {
    const width = board.width.value + LEFT_PX + RIGHT_PX;
    const shown = picture.value;
    const palette = painted.value;
    if (board.width.value <= 0) return;
    drawing.next(() => {
      const place = canvas.current;
      const ctx = place?.getContext('2d');
      if (place === null || ctx == null) return;
      const fine = devicePixelRatio;
      place.width = Math.round(width * fine);
      const { height } = rowsOf(shown);
      place.height = Math.round(height * fine);
      place.style.width = `${width}px`;
      place.style.height = `${height}px`;
      drawStrip(ctx, shown, { width, px: fine, palette, laneNames: HISTORY.lanes });
    });
  });
  const width = board.width.value + LEFT_PX + RIGHT_PX;
  const { window, alarms, deeds } = picture.value;
  const { alarmsTop, deedsTop, height } = rowsOf(picture.value);
  const inView = ({ ms }: { ms: number }): boolean => ms >= window.fromMs && ms <= window.toMs;
  const mark = (group: Gathered<AnyMark>, top: number) => {
    const [only] = group.marks as [AnyMark];
    const style = { left: px(xOf(group.ms, window, width) - LANE_PX / 2), top: px(top) };
    const href = group.marks.length > 1 ? undefined : hrefOfMark(only);
    const text = group.marks.length > 1 ? HISTORY.gathered(group.marks.length) : markText(only);
    const key = `${top} ${group.fromMs} ${only.id}`;
    return href === undefined ? (
      <button
        key={key}
        type="button"
        tabIndex={-1}
        style={style}
        title={text}
        onClick={() => onGroup(group)}
      />
    ) : (
      // biome-ignore lint/a11y/useAnchorContent: the list below says the same to those who do not see it
      <a key={key} tabIndex={-1} style={style} title={text} href={href} draggable={false} />
    );
  };
  return (
    <div class="strip" style={{ height: px(height) }} aria-hidden="true">
      <canvas ref={canvas} />
      {alarms.filter(inView).map((group) => mark(group as Gathered<AnyMark>, alarmsTop))}
      {deeds.filter(inView).map((group) => mark(group as Gathered<AnyMark>, deedsTop))}
    </div>
  );
}

const hrefOfMark = (mark: AnyMark): string | undefined => {
  if (mark.kind === 'alarm') return idHref('alarm', mark.id);
  if (mark.deed.alarm !== null) return idHref('alarm', mark.deed.alarm);
  return mark.deed.batch === null ? undefined : idHref('batch', mark.deed.batch);
};

/** Rows that are listed at once. */
const MOST_ROWS = 100;
/** A list that follows every movement would hold it up, ms. */
const LIST_AFTER_MS = 250;

function Happened({ board, open }: { board: Board; open: boolean }) {
  const isOpen = useSignal(open);
  const settled = useSignal<Window>(board.window.peek());
  useSignalEffect(() => {
    const next = board.window.value;
    const timer = setTimeout(() => {
      settled.value = next;
    }, LIST_AFTER_MS);
    return () => clearTimeout(timer);
  });
  const { fromMs, toMs } = settled.value;
  const picture = board.timeline.value;
  const marks = useComputed(() => {
    const { alarms, deeds } = stripPicture(board, settled.value, 1e9);
    return [...alarms, ...deeds].flatMap((group) => group.marks as AnyMark[]).sort((a, b) => a.ms - b.ms);
  });
  // An alarm that still stands belongs to a time after its beginning, too.
  const rows = marks.value.filter(
    (mark) =>
      mark.ms <= toMs &&
      (mark.ms >= fromMs ||
        (mark.kind === 'alarm' &&
          (mark.alarm.clearedAt === null || Date.parse(mark.alarm.clearedAt) >= fromMs))),
  );
  return (
    <details
      class="happened"
      open={isOpen.value}
      onToggle={(event) => {
        isOpen.value = event.currentTarget.open;
      }}
    >
      <summary>
        <b>{HISTORY.happened}</b> <span class="quiet">({rows.length})</span>
      </summary>
      {isOpen.value && rows.length === 0 && <p class="quiet">{HISTORY.nothingHappened}</p>}
      {isOpen.value && rows.length > 0 && (
        <table>
          <thead>
            <tr>
              <th scope="col">{HISTORY.columns.at}</th>
              <th scope="col">{HISTORY.columns.what}</th>
              <th scope="col">{HISTORY.columns.who}</th>
            </tr>
          </thead>
          <tbody>
            {rows.slice(-MOST_ROWS).map((mark) => (
              <tr key={mark.id}>
                <td class="time">
                  <button
                    type="button"
                    class="plain small"
                    title={HISTORY.showTime}
                    onClick={() => {
                      board.cursor.value = mark.ms;
                    }}
                  >
                    {when(mark.ms, 'second')}
                  </button>
                  <span class="on-paper">{when(mark.ms, 'second')}</span>
                </td>
                <td>
                  {markText(mark)}
                  {mark.kind === 'alarm' && (
                    <span class="quiet">
                      {' – '}
                      {mark.alarm.clearedAt === null
                        ? HISTORY.stands
                        : HISTORY.until(when(mark.alarm.clearedAt, 'second'))}
                    </span>
                  )}{' '}
                  <MarkLink mark={mark} />
                </td>
                <td data-name={HISTORY.columns.who}>
                  <bdi>{mark.kind === 'deed' ? mark.deed.by : (mark.alarm.acknowledged?.by ?? '–')}</bdi>
                </td>
              </tr>
            ))}
          </tbody>
        </table>
      )}
      {(picture?.more || rows.length > MOST_ROWS) && <p class="quiet">{HISTORY.moreHappened}</p>}
    </details>
  );
}

function MarkLink({ mark }: { mark: AnyMark }) {
  const href = hrefOfMark(mark);
  if (href === undefined) return null;
  const isAlarm = mark.kind === 'alarm' || mark.deed.alarm !== null;
  return (
    <a class="follow" href={href}>
      {isAlarm ? HISTORY.openAlarm : HISTORY.openBatch}
    </a>
  );
}

/** What all channels say at the cursor, in one line. */
function Moment({ board }: { board: Board }) {
  const cursor = board.cursor.value;
  if (cursor === undefined) return <p class="moment quiet">{HISTORY.cursorNone}</p>;
  const stage = stageAt(board.timeline.value, cursor);
  const probes = board.plots.value.find(({ kind }) => kind === 'temperature')?.channels ?? [];
  const known = probes.flatMap((channel) => {
    const feed = board.feedOf(channel);
    return feed.columns.value === undefined ? [] : [{ columns: feed.columns.value, gapMs: feed.gapMs() }];
  });
  const below = belowBoilingAt(known, board.boiling.columns.value, cursor);
  return (
    <p class="moment">
      <b>{HISTORY.cursorAt(fullTime(cursor))}</b>
      {stage !== undefined && <> · {STAGE_NAMES[stage]}</>}
      {below !== undefined && <> · {below}</>}
    </p>
  );
}

/** The same with every channel, as one sentence for those who hear the page. */
function spokenAt(board: Board, ms: number): string {
  const values = board.plots.peek().flatMap(({ channels }) =>
    channels.flatMap((channel) => {
      const feed = board.feedOf(channel);
      const columns = feed.columns.peek();
      return columns === undefined
        ? []
        : `${channelTitle(channel)} ${saidAt(channel, columns, ms, feed.gapMs())}`;
    }),
  );
  const stage = stageAt(board.timeline.peek(), ms);
  return HISTORY.saidAt(fullTime(ms), stage === undefined ? '' : STAGE_NAMES[stage], values.join('; '));
}

/** Moved less than this, px, it was a click. */
const CLICK_PX = 5;
const WHEEL_ZOOM = 0.0016;
/** One step of the cursor by the keyboard, as a share of what is shown. */
const CURSOR_STEP = 0.01;

/** All that moves and zooms: pointers, fingers, wheel and keys. */
function useHands(board: Board, say: (text: string) => void) {
  return useMemo(() => {
    const fingers = new Map<number, { x: number; y: number }>();
    const moving = frames();
    let pending: View | undefined;
    let start: { x: number; window: Window } | undefined;
    let pinch: { t0: number; t1: number; ids: [number, number] } | undefined;
    let moved = false;
    const go = (next: View): void => {
      pending = next;
      moving.next(() => {
        if (pending !== undefined) board.view.value = pending;
        pending = undefined;
      });
    };
    const view = (): View => pending ?? board.view.peek();
    const windowNow = (): Window => windowOf(view(), now.peek());
    const share = (x: number, of: HTMLElement): number =>
      (x - of.getBoundingClientRect().left - LEFT_PX) / Math.max(1, board.width.peek());
    const begin = (of: HTMLElement): void => {
      const all = [...fingers];
      pinch = undefined;
      start = undefined;
      if (all.length >= 2) {
        const [[a, one], [b, other]] = all as [(typeof all)[0], (typeof all)[0]];
        const t0 = momentAt(share(one.x, of), windowNow());
        const t1 = momentAt(share(other.x, of), windowNow());
        pinch = { t0, t1, ids: [a, b] };
      } else if (all.length === 1) start = { x: all[0]![1].x, window: windowNow() };
    };
    const isOnChart = (x: number, of: HTMLElement): boolean => {
      const at = share(x, of);
      return at >= 0 && at <= 1;
    };

    return {
      onPointerDown(event: PointerEvent & { currentTarget: HTMLElement }) {
        if (event.pointerType === 'mouse' && event.button !== 0) return;
        moved = false;
        fingers.set(event.pointerId, { x: event.clientX, y: event.clientY });
        begin(event.currentTarget);
      },
      onPointerMove(event: PointerEvent & { currentTarget: HTMLElement }) {
        const of = event.currentTarget;
        const finger = fingers.get(event.pointerId);
        if (finger === undefined) {
          if (event.pointerType !== 'mouse') return;
          board.cursor.value = isOnChart(event.clientX, of)
            ? momentAt(share(event.clientX, of), board.window.peek())
            : undefined;
          return;
        }
        finger.x = event.clientX;
        finger.y = event.clientY;
        if (pinch !== undefined) {
          moved = true;
          const [x0, x1] = pinch.ids.map((id) => share(fingers.get(id)!.x, of)) as [number, number];
          go(pinched({ x0, t0: pinch.t0, x1, t1: pinch.t1 }, view(), now.peek()));
          return;
        }
        if (start === undefined) return;
        const shift = event.clientX - start.x;
        if (!moved && Math.abs(shift) < CLICK_PX) return;
        if (!moved) of.setPointerCapture(event.pointerId);
        moved = true;
        const { fromMs, toMs } = start.window;
        const shiftMs = (-shift / Math.max(1, board.width.peek())) * (toMs - fromMs);
        go(
          shiftMs <= 0
            ? { spanMs: toMs - fromMs, endMs: Math.min(toMs + shiftMs, now.peek()) }
            : viewOf({ fromMs: fromMs + shiftMs, toMs: Math.min(toMs + shiftMs, now.peek()) }, now.peek()),
        );
      },
      onPointerUp(event: PointerEvent & { currentTarget: HTMLElement }) {
        if (!fingers.delete(event.pointerId)) return;
        const of = event.currentTarget;
        if (!moved && isOnChart(event.clientX, of))
          board.cursor.value = momentAt(share(event.clientX, of), board.window.peek());
        begin(of);
      },
      onPointerCancel(event: PointerEvent & { currentTarget: HTMLElement }) {
        fingers.delete(event.pointerId);
        begin(event.currentTarget);
      },
      onPointerLeave(event: PointerEvent) {
        if (event.pointerType === 'mouse' && !fingers.has(event.pointerId)) board.cursor.value = undefined;
      },
      /** After a drag that began on a mark the mark is not followed. */
      onClickCapture(event: MouseEvent) {
        if (!moved) return;
        event.preventDefault();
        event.stopPropagation();
        moved = false;
      },
      onWheel(event: WheelEvent & { currentTarget: HTMLElement }) {
        const of = event.currentTarget;
        const sideways = Math.abs(event.deltaX) > Math.abs(event.deltaY) ? event.deltaX : 0;
        const px = event.deltaMode === 1 ? 24 : 1;
        if (sideways !== 0 || event.shiftKey) {
          event.preventDefault();
          const by = (sideways || event.deltaY) * px;
          go(panned(view(), by / Math.max(1, board.width.peek()), now.peek()));
          return;
        }
        // Elsewhere the wheel moves the page.
        if (!event.ctrlKey && !event.metaKey && !of.contains(document.activeElement)) return;
        event.preventDefault();
        const factor = Math.exp(Math.max(-1, Math.min(1, event.deltaY * px * WHEEL_ZOOM)));
        const anchor = Math.min(1, Math.max(0, share(event.clientX, of)));
        go(zoomed(view(), factor, anchor, now.peek()));
      },
      onKeyDown(event: KeyboardEvent) {
        if (event.ctrlKey || event.altKey || event.metaKey) return;
        const { key } = event;
        if (event.shiftKey && (key === 'ArrowLeft' || key === 'ArrowRight')) {
          event.preventDefault();
          const { fromMs, toMs } = board.window.peek();
          const step = (toMs - fromMs) * CURSOR_STEP * (key === 'ArrowLeft' ? -1 : 1);
          const at = (board.cursor.peek() ?? (key === 'ArrowLeft' ? toMs : fromMs)) + step;
          board.cursor.value = Math.min(toMs, Math.max(fromMs, at));
          say(spokenAt(board, board.cursor.value));
          return;
        }
        if (key === 'Escape') {
          board.cursor.value = undefined;
          return;
        }
        if (key === 'Home') {
          event.preventDefault();
          fetchEarliest(board.vesselKey, board.channels.peek(), now.peek()).then(
            (earliest) => {
              if (earliest !== undefined) go(keyed('Home', view(), now.peek(), earliest)!);
            },
            () => {},
          );
          return;
        }
        const next = keyed(key, view(), now.peek(), 0);
        if (next === undefined) return;
        event.preventDefault();
        go(next);
      },
      end: moving.end,
    };
  }, [board]);
}

interface BoardViewProps {
  board: Board;
  spans: readonly number[];
  /** Whether what happened is listed from the start. */
  listed: boolean;
  /** Between the charts and the list. */
  children?: ComponentChildren;
}

/** A vessel's channels on one time axis. */
export function BoardView({ board, spans, listed, children }: BoardViewProps) {
  const place = useRef<HTMLDivElement>(null);
  const spoken = useSignal('');
  const hands = useHands(board, (text) => {
    spoken.value = text;
  });
  const { end: endHands, ...handlers } = hands;
  useEffect(() => endHands, [endHands]);
  useEffect(() => {
    const measure = (): void => {
      const width = (place.current?.clientWidth ?? 0) - LEFT_PX - RIGHT_PX;
      if (width > 0) board.width.value = width;
    };
    measure();
    const observer = new ResizeObserver(measure);
    observer.observe(place.current!);
    return () => observer.disconnect();
  }, [board]);

  const view = board.view.value;
  const go = (next: View): void => {
    board.view.value = next;
  };
  const plots = board.plots.value;
  const follows = view.endMs === null;
  const boilingFailed =
    board.boiling.state.value === 'failed' && plots.some(({ kind }) => kind === 'temperature');
  const failed =
    boilingFailed ||
    plots.some(({ channels }) => channels.some((channel) => board.feedOf(channel).state.value === 'failed'));
  return (
    <section class="charts" aria-label={HISTORY.region}>
      <div class="chart-controls">
        <fieldset class="spans">
          <legend class="unseen">{HISTORY.spanLabel}</legend>
          {spans.map((spanMs) => (
            <button
              key={spanMs}
              type="button"
              class="plain"
              aria-pressed={view.spanMs === spanMs}
              onClick={() => go(withSpan(view, spanMs))}
            >
              {HISTORY.spans[spanMs]}
            </button>
          ))}
        </fieldset>
        <div class="steps">
          <button type="button" class="plain" onClick={() => go(panned(view, -0.5, now.peek()))}>
            <span aria-hidden="true">← </span>
            {HISTORY.earlier}
          </button>
          <button
            type="button"
            class="plain"
            aria-disabled={follows}
            onClick={() => go(panned(view, 0.5, now.peek()))}
          >
            {HISTORY.later}
            <span aria-hidden="true"> →</span>
          </button>
          <button
            type="button"
            class="plain"
            aria-disabled={follows}
            onClick={() => go({ ...view, endMs: null })}
          >
            {HISTORY.now}
          </button>
        </div>
        <div class="steps">
          <button
            type="button"
            class="plain"
            aria-label={HISTORY.farther}
            title={HISTORY.farther}
            onClick={() => go(keyed('-', view, now.peek(), 0)!)}
          >
            −
          </button>
          <button
            type="button"
            class="plain"
            aria-label={HISTORY.nearer}
            title={HISTORY.nearer}
            onClick={() => go(keyed('+', view, now.peek(), 0)!)}
          >
            +
          </button>
        </div>
        <Between board={board} />
        {failed && (
          <button type="button" class="plain" onClick={board.renew}>
            {HISTORY.again}
          </button>
        )}
      </div>
      {plots.length === 0 && board.timeline.value !== undefined && <p class="quiet">{HISTORY.noChannels}</p>}
      {/* biome-ignore lint/a11y/useSemanticElements: a fieldset is for form controls */}
      <div
        ref={place}
        class="board"
        role="group"
        aria-label={HISTORY.group}
        aria-describedby="chart-keys"
        // biome-ignore lint/a11y/noNoninteractiveTabindex: keys move and zoom it
        tabIndex={0}
        {...handlers}
      >
        <div class="on-paper">
          <Between board={board} />
        </div>
        <Moment board={board} />
        <Strip
          board={board}
          onGroup={(group) => {
            const apart = group.toMs - group.fromMs;
            if (apart > 1000)
              go(viewOf({ fromMs: group.fromMs - apart, toMs: group.toMs + apart }, now.peek()));
            else board.cursor.value = group.ms;
          }}
        />
        <CursorLine board={board} />
        {plots.map((plot, i) => (
          <PlotView key={plot.channels.join()} board={board} plot={plot} isLast={i === plots.length - 1} />
        ))}
      </div>
      <p class="unseen" role="status">
        {spoken.value}
      </p>
      <details class="keys">
        <summary>{HISTORY.hintTitle}</summary>
        <p id="chart-keys" class="quiet">
          {HISTORY.hint}
        </p>
      </details>
      {boilingFailed && <p class="note">{HISTORY.boilingFailed}</p>}
      <p class="quiet note">{HISTORY.boilingNote}</p>
      {children}
      <Happened board={board} open={listed} />
    </section>
  );
}

function Between({ board }: { board: Board }) {
  const { fromMs, toMs } = board.window.value;
  return <p class="quiet range">{HISTORY.between(fullTime(fromMs), fullTime(Math.min(toMs, now.peek())))}</p>;
}

/** One line through the strip and all plots. */
function CursorLine({ board }: { board: Board }) {
  const cursor = board.cursor.value;
  const window = board.window.value;
  if (cursor === undefined || cursor < window.fromMs || cursor > window.toMs) return null;
  const left = xOf(cursor, window, board.width.value + LEFT_PX + RIGHT_PX);
  return <div class="cursor-line" style={{ left: px(left) }} aria-hidden="true" />;
}
