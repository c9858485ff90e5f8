import { useComputed, useSignal, useSignalEffect } from '@preact/signals';
import { useEffect, useMemo, useRef } from 'preact/hooks';
import type { Vessel } from '../../shared/wire/api.ts';
import { MIXING_CHANNELS } from '../../shared/wire/names.ts';
import type { Chart, Line, Picture } from '../chart/draw.ts';
import { createHistory, type History } from '../chart/history.ts';
import { gapAfterMs, summary, valueRange, withGaps } from '../chart/series.ts';
import { back, forward, SPANS_MS, type View, windowOf, withSpan } from '../chart/window.ts';
import { hourCycle, unit } from '../settings.ts';
import { batches, now, onReadings, synced, vesselAt } from '../store.ts';
import { channelName, channelUnit, STAGE_NAMES, TEXTS } from '../texts/live.ts';
import { clockTime, decimal, degree, toUnit } from '../units.ts';
import { amount, degrees, when } from './words.ts';

/** Least height of a value axis: °C, and turns or litres a minute. */
const LEAST_SPAN = { temperature: 6, mixing: 50 } as const;
const HEIGHT = { temperature: 300, mixing: 150 } as const;
/** How often what is shown is fetched anew, ms: means of buckets that were filled live are exact again. */
const REFETCH_MS = 60_000;

interface PlotProps {
  history: History;
  view: View;
  title: string;
  height: number;
  leastSpan: number;
  lines: Line[];
  stages: Picture['stages'];
  /** From the stored unit to the reader's. */
  toShown: (value: number) => number;
  say: (value: number) => string;
}

function Plot({ history, view, title, height, leastSpan, lines, stages, toShown, say }: PlotProps) {
  const place = useRef<HTMLDivElement>(null);
  const chart = useRef<Chart | undefined>(undefined);
  const { fromMs, toMs } = windowOf(view, now.value);
  const columns = history.columns.value;
  const state = history.state.value;

  const picture = useMemo((): Picture | undefined => {
    if (columns === undefined) return undefined;
    const shown = {
      ...columns,
      min: columns.min.map(toShown),
      mean: columns.mean.map(toShown),
      max: columns.max.map(toShown),
    };
    return {
      columns: withGaps(shown, gapAfterMs(columns.t)),
      fromMs,
      toMs,
      range: valueRange(
        shown,
        lines.map(({ value }) => value),
        leastSpan,
      ),
      lines,
      stages,
    };
  }, [columns, fromMs, toMs, lines, stages, toShown, leastSpan]);

  const latest = useRef(picture);
  latest.current = picture;
  const ready = picture !== undefined;
  const formatTime = (ms: number): string => clockTime(ms, hourCycle.value);
  const axisTime = useRef(formatTime);
  axisTime.current = formatTime;

  useEffect(() => {
    if (!ready) return undefined;
    let gone = false;
    // The charts' library is fetched only where a chart is looked at.
    void import('../chart/draw.ts').then(({ createChart }) => {
      if (gone || place.current === null || latest.current === undefined) return;
      chart.current = createChart(place.current, latest.current, {
        height,
        label: title,
        formatTime: (ms) => axisTime.current(ms),
        formatValue: (value) => decimal(value, 0),
      });
    });
    return () => {
      gone = true;
      chart.current?.destroy();
      chart.current = undefined;
    };
  }, [ready, height, title]);

  useEffect(() => {
    if (picture !== undefined) chart.current?.show(picture);
  }, [picture]);

  const spoken = columns === undefined ? undefined : summary(columns);
  const message =
    state === 'loading'
      ? TEXTS.chart.loading
      : state === 'failed'
        ? TEXTS.chart.failed
        : state === 'unfit'
          ? TEXTS.chart.unfit
          : spoken === undefined
            ? TEXTS.chart.none
            : undefined;
  return (
    <figure class="plot">
      <figcaption>
        <b>{title}</b>{' '}
        <span class="quiet">
          {message ?? (spoken && TEXTS.chart.summary(say(spoken.least), say(spoken.most), say(spoken.last)))}
        </span>
      </figcaption>
      <div ref={place} class="canvas" style={{ minHeight: ready ? height : 0 }} aria-hidden="true" />
    </figure>
  );
}

/** A vessel's channels on one time axis, kept live while the view follows the clock. */
export function Charts({ vesselKey }: { vesselKey: string }) {
  const view = useSignal<View>({ spanMs: SPANS_MS[0], endMs: null });
  const channel = useComputed(() => mixingChannel(vesselAt(vesselKey)));
  const mixing = channel.value;
  const temperatures = useMemo(() => createHistory(vesselKey, 'liquid-temperature'), [vesselKey]);
  const speeds = useMemo(
    () => (mixing === undefined ? undefined : createHistory(vesselKey, mixing)),
    [vesselKey, mixing],
  );
  const histories = speeds === undefined ? [temperatures] : [temperatures, speeds];
  const fetched = useSignal(0);

  useSignalEffect(() => {
    void synced.value;
    void fetched.value;
    void channel.value;
    const { fromMs, toMs } = windowOf(view.value, now.peek());
    for (const history of histories) void history.fetch(fromMs, toMs);
  });
  useEffect(() => {
    const timer = setInterval(() => {
      if (view.peek().endMs === null) fetched.value += 1;
    }, REFETCH_MS);
    return () => clearInterval(timer);
  }, [view, fetched]);
  useEffect(
    () =>
      onReadings((readings) => {
        if (view.peek().endMs !== null) return;
        const { fromMs } = windowOf(view.peek(), now.peek());
        const mine = readings.filter(({ key }) => key === vesselKey);
        for (const [history, name] of [
          [temperatures, 'liquid-temperature'],
          [speeds, mixing],
        ] as const) {
          const fresh = mine.filter((reading) => reading.channel === name);
          if (history === undefined || fresh.length === 0) continue;
          history.add(fresh);
          history.forget(fromMs);
        }
      }),
    [vesselKey, temperatures, speeds, mixing, view],
  );

  const vessel = vesselAt(vesselKey);
  const batch = vessel?.batch == null ? undefined : batches.value.get(vessel.batch);
  const stages = useMemo(
    () =>
      (batch?.stages ?? [])
        .filter((each) => each.vessel === vessel?.vessel)
        .map(({ at, stage }) => ({ t: Date.parse(at), label: STAGE_NAMES[stage] })),
    [batch, vessel?.vessel],
  );
  const unnamed = useMemo(() => stages.map(({ t }) => ({ t, label: '' })), [stages]);
  const shownUnit = unit.value;
  const boilingC = vessel?.boilingC;
  const boilingLine = useMemo(
    () =>
      boilingC === undefined
        ? []
        : [{ label: TEXTS.chart.boiling, value: toUnit(boilingC, shownUnit), ceiling: true }],
    [boilingC, shownUnit],
  );
  const lowest = vessel?.mixing?.lowest ?? null;
  const lowestLine = useMemo(
    () => (lowest === null ? [] : [{ label: TEXTS.chart.lowest, value: lowest, ceiling: false }]),
    [lowest],
  );
  const temperatureShown = useMemo(() => (celsius: number) => toUnit(celsius, shownUnit), [shownUnit]);
  const { fromMs, toMs } = windowOf(view.value, now.value);
  const go = (next: View): void => {
    view.value = next;
  };

  return (
    <section class="charts" aria-label={TEXTS.chart.region}>
      <div class="chart-controls">
        <fieldset class="spans">
          <legend class="unseen">{TEXTS.chart.spanLabel}</legend>
          {SPANS_MS.map((spanMs) => (
            <button
              key={spanMs}
              type="button"
              class="plain"
              aria-pressed={view.value.spanMs === spanMs}
              onClick={() => go(withSpan(view.value, spanMs))}
            >
              {TEXTS.chart.spans[spanMs]}
            </button>
          ))}
        </fieldset>
        <div class="steps">
          <button type="button" class="plain" onClick={() => go(back(view.value, now.value))}>
            <span aria-hidden="true">← </span>
            {TEXTS.chart.back}
          </button>
          <button
            type="button"
            class="plain"
            disabled={view.value.endMs === null}
            onClick={() => go(forward(view.value, now.value))}
          >
            {TEXTS.chart.forward}
            <span aria-hidden="true"> →</span>
          </button>
          <button
            type="button"
            class="plain"
            disabled={view.value.endMs === null}
            onClick={() => go({ ...view.value, endMs: null })}
          >
            {TEXTS.chart.now}
          </button>
        </div>
        <p class="quiet range">{TEXTS.chart.between(when(fromMs), when(toMs))}</p>
      </div>
      <Plot
        history={temperatures}
        view={view.value}
        title={TEXTS.chart.temperature(degree(shownUnit))}
        height={HEIGHT.temperature}
        leastSpan={LEAST_SPAN.temperature}
        lines={boilingLine}
        stages={stages}
        toShown={temperatureShown}
        say={degrees}
      />
      {speeds !== undefined && mixing !== undefined && (
        <Plot
          history={speeds}
          view={view.value}
          title={TEXTS.chart.mixing(channelName(mixing), channelUnit(mixing))}
          height={HEIGHT.mixing}
          leastSpan={mixing === 'pump' ? 1 : LEAST_SPAN.mixing}
          lines={lowestLine}
          stages={unnamed}
          toShown={same}
          say={amount}
        />
      )}
      <p class="quiet">{TEXTS.chart.boilingNote}</p>
    </section>
  );
}

const same = (value: number): number => value;

const mixingChannel = (vessel: Vessel | undefined): string | undefined =>
  vessel === undefined
    ? undefined
    : (vessel.mixing?.channel ?? MIXING_CHANNELS.find((channel) => Object.hasOwn(vessel.readings, channel)));
