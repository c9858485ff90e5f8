import { type Signal, useComputed, useSignal } from '@preact/signals';
import { useEffect, useMemo, useRef } from 'preact/hooks';
import type { Limits } from '../../../shared/rules/limits.ts';
import type { AlarmWhy } from '../../../shared/wire/alarm-why.ts';
import type { Alarm } from '../../../shared/wire/api.ts';
import { fetchBoiling, fetchReadings } from '../../chart/calls.ts';
import { plotsOf, stretches } from '../../chart/plots.ts';
import { axisText, isTemperature, shownOf, unitText } from '../../chart/said.ts';
import { type Columns, drawable, faultOf, gapAfterMs, lastNotAfter, valueRange } from '../../chart/series.ts';
import { hourCycle, unit } from '../../settings.ts';
import { knownUntil, now, speed, synced, vesselAt } from '../../store.ts';
import { ALARM_TEXTS } from '../../texts/alarms.ts';
import { channelTitle, HISTORY } from '../../texts/history.ts';
import { clockTime } from '../../units.ts';
import { keyOf } from '../../vessels.ts';
import { amount, capital, degrees, when } from '../../views/words.ts';
import { boilingOf, channelsOf, linesOf, type MomentLine, SPANS_MS, stretchAround } from './moment.ts';
import { createMomentChart, type MomentChart, type MomentPicture } from './moment-chart.ts';
import type { Tried } from './run.ts';

const texts = ALARM_TEXTS.one;
const POINTS = 600;
const HEIGHT = { first: 300, others: 150 } as const;
/** While it stands, readings that came since are fetched after this share of what is shown, and not more often than this, ms. */
const FOLLOW = { share: 1 / 60, leastMs: 10_000 } as const;
/** Where methanol boiled is asked for this stretch before an alarm, ms. */
const BOILING_MS = 1000;

/** The limits that it went by, and those that are tried. */
type DrawnLine = Omit<MomentLine, 'what'> & { what: MomentLine['what'] | 'tried' };

interface ReadingsProps {
  why: AlarmWhy;
  tried: Signal<Tried>;
}

/** The readings around an alarm, with the limit and the moment. */
export function Readings({ why, tried }: ReadingsProps) {
  const { limits, insteadMs } = tried.value;
  const { alarm, plan } = why;
  const atMs = Date.parse(alarm.at);
  const span = useSignal<number>(SPANS_MS[1]);
  const vessel = vesselAt(keyOf(alarm));
  const known = Object.keys(vessel?.readings ?? {}).join();
  const channels = useMemo(() => channelsOf(alarm, known === '' ? [] : known.split(',')), [alarm, known]);
  const boilingThen = boilingOf(alarm);
  const reckonedC = useSignal<number | undefined>(undefined);
  useEffect(() => {
    if (boilingThen !== undefined) return undefined;
    let outdated = false;
    fetchBoiling(keyOf(alarm), { fromMs: atMs - BOILING_MS, toMs: atMs, points: 1 }).then(
      ({ mean }) => {
        if (!outdated) reckonedC.value = mean.at(-1);
      },
      // Without it there is no line that hangs on it; the next connection asks again.
      () => {},
    );
    return () => {
      outdated = true;
    };
  }, [alarm.id, boilingThen, synced.value]);
  const boilingC = boilingThen ?? reckonedC.value;
  const lines = useMemo((): DrawnLine[] => {
    const own = linesOf(alarm, plan.limits as Limits, plan, boilingC);
    const others = linesOf(alarm, { ...plan.limits, ...limits } as Limits, plan, boilingC).filter(
      ({ value }, i) => value !== own[i]?.value,
    );
    return [...own, ...others.map((line) => ({ ...line, what: 'tried' as const }))];
  }, [alarm, limits, plan, boilingC]);
  const nowMs = useComputed(() => {
    const stepMs = Math.max(span.value * FOLLOW.share, FOLLOW.leastMs * Math.max(1, speed.value));
    return Math.ceil(now.value / stepMs) * stepMs;
  }).value;
  const { fromMs, toMs } = stretchAround(atMs, span.value, nowMs);

  if (vessel === undefined || channels.length === 0) return <p class="quiet">{texts.noChannel}</p>;
  return (
    <div class="around">
      <fieldset class="spans">
        <legend class="unseen">{texts.span}</legend>
        {SPANS_MS.map((spanMs) => (
          <button
            key={spanMs}
            type="button"
            class="plain"
            aria-pressed={span.value === spanMs}
            onClick={() => {
              span.value = spanMs;
            }}
          >
            {texts.spans[spanMs]}
          </button>
        ))}
      </fieldset>
      {channels.map((channel, i) => (
        <ChannelAround
          key={channel}
          alarm={alarm}
          channel={channel}
          fromMs={fromMs}
          toMs={toMs}
          height={i === 0 ? HEIGHT.first : HEIGHT.others}
          lines={lines}
          insteadMs={insteadMs}
        />
      ))}
      {boilingThen === undefined && lines.some(({ what }) => what === 'boiling') && (
        <p class="quiet">{texts.boilingReckoned}</p>
      )}
    </div>
  );
}

interface ChannelProps {
  alarm: Alarm;
  channel: string;
  fromMs: number;
  toMs: number;
  height: number;
  lines: DrawnLine[];
  insteadMs: number | null;
}

function ChannelAround({ alarm, channel, fromMs, toMs, height, lines: all, insteadMs }: ChannelProps) {
  const place = useRef<HTMLDivElement>(null);
  const chart = useRef<MomentChart | undefined>(undefined);
  const columns = useSignal<Columns | undefined>(undefined);
  const message = useSignal<string | undefined>(HISTORY.loading);
  const lines = useMemo(() => all.filter((line) => line.channel === channel), [all, channel]);
  const plot = useMemo(() => plotsOf([channel])[0]!, [channel]);
  const shownUnit = unit.value;
  const atMs = Date.parse(alarm.at);

  useEffect(() => {
    let outdated = false;
    fetchReadings(keyOf(alarm), channel, { fromMs, toMs, points: POINTS }).then(
      (answer) => {
        if (outdated) return;
        const isUnfit = faultOf(answer) !== undefined;
        columns.value = isUnfit ? undefined : answer;
        message.value = isUnfit ? HISTORY.unfit : answer.t.length === 0 ? HISTORY.none : undefined;
      },
      () => {
        if (!outdated) message.value = HISTORY.failed;
      },
    );
    return () => {
      outdated = true;
    };
  }, [alarm.id, channel, fromMs, toMs, synced.value]);

  const found = columns.value;
  const convert = useMemo(() => shownOf(channel), [channel, shownUnit]);
  const data = useMemo(
    () => found && drawable([{ columns: found, gapMs: gapAfterMs(found.t, found.stepMs) }], convert),
    [found, convert],
  );

  const picture = useMemo((): MomentPicture | undefined => {
    if (found === undefined || data === undefined) return undefined;
    const drawn = lines.map(({ what, value }) => ({
      label: texts[what],
      value: convert(value),
      look: what,
    }));
    const { min, max } = valueRange(
      [found],
      lines.map(({ value }) => value),
      plot.leastSpan,
      { fits: stretches(channel), fromZero: plot.fromZero },
    );
    const endMs = alarm.clearedAt === null ? knownUntil.peek() : Date.parse(alarm.clearedAt);
    return {
      data,
      fromMs,
      toMs,
      range: { min: convert(min), max: convert(max) },
      lines: drawn,
      moments: [
        { atMs, label: texts.moment, look: 'own' },
        ...(insteadMs === null || insteadMs === atMs
          ? []
          : [{ atMs: insteadMs, label: texts.instead, look: 'other' as const }]),
      ],
      stood: { fromMs: atMs, toMs: endMs },
    };
  }, [found, data, convert, lines, plot, channel, fromMs, toMs, atMs, alarm.clearedAt, insteadMs]);

  const latest = useRef(picture);
  latest.current = picture;
  const ready = picture !== undefined;
  useEffect(() => {
    if (place.current === null || latest.current === undefined) return undefined;
    chart.current = createMomentChart(place.current, latest.current, {
      height,
      formatTime: (ms) => clockTime(ms, hourCycle.value),
      formatValue: axisText,
    });
    return () => {
      chart.current?.destroy();
      chart.current = undefined;
    };
  }, [ready, height]);
  useEffect(() => {
    if (picture !== undefined) chart.current?.show(picture);
  }, [picture]);

  const title = HISTORY.titled(channelTitle(channel), plot.kind === 'switch' ? '' : unitText(channel));
  return (
    <figure class="plot">
      <figcaption>
        <b>{title}</b> <span class="quiet">{message.value ?? spoken(found, atMs, channel, lines)}</span>
      </figcaption>
      <div ref={place} class="canvas" style={{ minHeight: ready ? height : 0 }} aria-hidden="true" />
    </figure>
  );
}

/** What the picture shows, in words. */
function spoken(columns: Columns | undefined, atMs: number, channel: string, lines: DrawnLine[]): string {
  if (columns === undefined) return '';
  const say = isTemperature(channel) ? degrees : amount;
  const i = lastNotAfter(columns.t, atMs);
  const held = lines.map(({ what, value }) => `${texts[what]} ${say(value)}`).join(', ');
  const moment = i < 0 ? '–' : say(columns.mean[i]!);
  return texts.summary(`${when(atMs, 'second')}, ${moment}`, held === '' ? '' : `${capital(held)}.`);
}
