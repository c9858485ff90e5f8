import { channelKind, isLiquidTemperature, MIXING_CHANNELS } from '../../shared/wire/names.ts';
import type { BatchRecord } from '../../shared/wire/record.ts';
import { STAGE_NAMES } from '../../shared/words/stages.ts';

/** A chart to be drawn; all places from 0 to 1, y upwards. */
export interface Chart {
  title: string;
  lines: readonly ChartLine[];
  /** A level across, such as a boiling point. */
  level: { name: string; y: number } | null;
  /** Where stages begin. */
  marks: readonly ChartMark[];
  xTicks: readonly { x: number; label: string }[];
  yTicks: readonly { y: number; label: string }[];
}

export interface ChartMark {
  x: number;
  label: string;
  /** Labels of marks that are close together stand above each other: which row this one's is in. */
  row: number;
}

export interface ChartLine {
  name: string;
  /** The mean of each step; a new stretch where nothing was read for long. */
  stretches: readonly (readonly { x: number; y: number; low: number; high: number }[])[];
}

type Channel = BatchRecord['channels'][number];

/** A line is broken where more than so many steps have nothing. */
const GAP_STEPS = 3;
const TICKS = 5;
/** Of a chart's width. */
const LABEL_WIDTH = 0.02;
/** So many labels find room above each other. */
export const LABEL_ROWS = 3;
const MOST_DRAWN = 1e6;
const MINUTE_MS = 60_000;
const HOUR_MS = 60 * MINUTE_MS;
const TICK_STEPS_MS = [1, 2, 5, 10, 15, 30, 60, 120, 240, 360, 720, 1440, 2880, 7200, 14_400, 43_200].map(
  (minutes) => minutes * MINUTE_MS,
);

/** Temperatures with methanol's boiling point, and what tells of mixing; those that the batch has. */
export function chartsOf(record: BatchRecord): Chart[] {
  const temperatures = record.channels.filter(({ channel }) => isLiquidTemperature(channel));
  const mixing = MIXING_CHANNELS.map((name) => record.channels.filter(({ channel }) => channel === name));
  const level = record.boilingC === null ? null : { name: 'methanol boils', value: record.boilingC };
  return [
    ...(temperatures.length === 0 ? [] : [chartOf(record, 'Liquid temperature, °C', temperatures, level)]),
    ...mixing
      .filter((channels) => channels.length > 0)
      .map((channels) =>
        chartOf(record, TITLES[channelKind(channels[0]!.channel)] ?? channels[0]!.channel, channels, null),
      ),
  ];
}

const TITLES: Partial<Record<ReturnType<typeof channelKind>, string>> = {
  speed: 'Stirrer, turns a minute',
  flow: 'Pump, L/min',
  switch: 'Pump, 1 on and 0 off',
};

function chartOf(
  record: BatchRecord,
  title: string,
  channels: readonly Channel[],
  level: { name: string; value: number } | null,
): Chart {
  const fromMs = Date.parse(record.from);
  const toMs = Math.max(Date.parse(record.to), fromMs + MINUTE_MS);
  const extremes = channels.flatMap(({ least, most }) => [least, most]);
  // No axis is stretched to what no instrument reads.
  const values = [
    ...extremes.filter((value) => Math.abs(value) < MOST_DRAWN),
    ...(level ? [level.value] : []),
  ];
  if (values.length === 0) values.push(0);
  const { low, high, step } = roundRange(Math.min(...values), Math.max(...values));
  const x = (ms: number): number => (ms - fromMs) / (toMs - fromMs);
  const y = (value: number): number => Math.min(1, Math.max(0, (value - low) / (high - low)));
  return {
    title,
    lines: channels.map((channel) => ({
      name: lineName(channel),
      stretches: stretchesOf(channel, x, y),
    })),
    level: level && { name: level.name, y: y(level.value) },
    marks: marksOf(
      record.batch.stages.map(({ stage, at }) => ({ x: x(Date.parse(at)), label: STAGE_NAMES[stage] })),
    ),
    xTicks: timeTicks(fromMs, toMs).map((ms) => ({ x: x(ms), label: shortTime(ms, toMs - fromMs) })),
    yTicks: Array.from({ length: Math.round((high - low) / step) + 1 }, (_, i) => {
      const value = low + i * step;
      return { y: y(value), label: String(Number(value.toPrecision(6))) };
    }),
  };
}

/** The title says what it is: the vessel, and which probe where it is not the first. */
const lineName = ({ vessel, channel }: Channel): string => {
  const probe = /^liquid-temperature-(\d+)$/.exec(channel)?.[1];
  return probe === undefined ? vessel : `${vessel}, probe ${probe}`;
};

function marksOf(marks: readonly { x: number; label: string }[]): ChartMark[] {
  const rows: number[] = [];
  return marks
    .toSorted((a, b) => a.x - b.x)
    .map((mark) => {
      const free = rows.findIndex((x) => mark.x - x > LABEL_WIDTH);
      const row =
        free !== -1 ? free : rows.length < LABEL_ROWS ? rows.length : rows.indexOf(Math.min(...rows));
      rows[row] = mark.x;
      return { ...mark, row };
    });
}

function stretchesOf(
  { line: { t, min, mean, max, stepMs } }: Channel,
  x: (ms: number) => number,
  y: (value: number) => number,
): ChartLine['stretches'] {
  const stretches: { x: number; y: number; low: number; high: number }[][] = [];
  for (let i = 0; i < t.length; i++) {
    const isNew = i === 0 || t[i]! - t[i - 1]! > GAP_STEPS * stepMs;
    if (isNew) stretches.push([]);
    stretches.at(-1)!.push({ x: x(t[i]! + stepMs / 2), y: y(mean[i]!), low: y(min[i]!), high: y(max[i]!) });
  }
  return stretches;
}

/** A range of round numbers around two, with a step of which it is a whole multiple. */
function roundRange(least: number, most: number): { low: number; high: number; step: number } {
  const span = Math.max(most - least, 1);
  const rough = span / TICKS;
  const power = 10 ** Math.floor(Math.log10(rough));
  const step = [1, 2, 5, 10].map((factor) => factor * power).find((one) => one >= rough)!;
  const low = Math.floor(least / step) * step;
  return { low, high: Math.max(Math.ceil(most / step) * step, low + step), step };
}

function timeTicks(fromMs: number, toMs: number): number[] {
  const step = TICK_STEPS_MS.find((one) => (toMs - fromMs) / one <= 8) ?? TICK_STEPS_MS.at(-1)!;
  const ticks: number[] = [];
  for (let ms = Math.ceil(fromMs / step) * step; ms <= toMs; ms += step) ticks.push(ms);
  return ticks;
}

/** UTC; with the day where the chart spans several. */
function shortTime(ms: number, spanMs: number): string {
  const iso = new Date(ms).toISOString();
  return spanMs > 30 * HOUR_MS ? `${iso.slice(5, 10)} ${iso.slice(11, 16)}` : iso.slice(11, 16);
}
