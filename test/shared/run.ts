import { Replay } from '../../shared/engine/replay.ts';
import type { Priority, Stage } from '../../shared/wire/names.ts';

/** The start of every recorded run here. */
export const START_MS = Date.parse('2026-03-02T10:00:00.000Z');

/** An ISO time so many seconds into the run. */
export const at = (seconds: number): string => new Date(START_MS + Math.round(seconds * 1000)).toISOString();

/** Methanol's boiling point at 1013.25 hPa, °C, as `chemistry.test.ts` checks it. */
export const BOILING_C = 64.549;

export type Line = Record<string, unknown>;

export const vesselLine = (plan: object = {}, rest: object = {}): Line => ({
  type: 'vessel',
  vessel: 'r1',
  role: 'reactor',
  site: { pressureHPa: 1013.25 },
  plan,
  ...rest,
});

export const reading = (seconds: number, channel: string, value: number, rest: object = {}): Line => ({
  type: 'reading',
  at: at(seconds),
  vessel: 'r1',
  channel,
  value,
  ...rest,
});

export const liquid = (seconds: number, value: number, rest: object = {}): Line =>
  reading(seconds, 'liquid-temperature', value, rest);

export const speed = (seconds: number, value: number, rest: object = {}): Line =>
  reading(seconds, 'stirrer-speed', value, rest);

export const heater = (seconds: number, value: 0 | 1): Line => reading(seconds, 'heater', value);

export const stage = (seconds: number, name: Stage, vessel = 'r1'): Line => ({
  type: 'stage',
  at: at(seconds),
  vessel,
  stage: name,
});

export const end = (seconds: number): Line => ({ type: 'end', at: at(seconds) });

/** What a sequence of seconds gives, each turned into lines. */
export const every = (
  from: number,
  to: number,
  stepSeconds: number,
  lines: (seconds: number) => Line | Line[],
): Line[] => {
  const out: Line[] = [];
  for (let seconds = from; seconds <= to; seconds += stepSeconds) out.push(...[lines(seconds)].flat());
  return out;
};

export interface AlarmLine {
  type: 'alarm';
  at: string;
  vessel: string;
  alarm: string;
  event: 'raised' | 'cleared';
  priority: Priority;
  late: boolean;
  value: number | null;
  limit: number | null;
  because: string;
  explainedBy: string | null;
}

export interface SummaryLine {
  type: 'summary';
  vessel: string;
  creditedReactionMinutes: number;
  creditedSettleHours: number;
  highestLiquidC: number | null;
  smallestHeadroomC: number | null;
}

export interface Played {
  /** 'seconds vessel alarm event priority', one an alarm line. */
  alarms: string[];
  alarmLines: AlarmLine[];
  refused: { line: number; because: string }[];
  summaries: Record<string, SummaryLine>;
}

/** Plays lines, or texts as they stand in a file, through the rules. */
export function play(...lines: (Line | string | (Line | string)[])[]): Played {
  const replay = new Replay();
  const out = lines
    .flat()
    .flatMap((line) => replay.push(typeof line === 'string' ? line : JSON.stringify(line))) as Line[];
  out.push(...(replay.end() as Line[]));
  const alarmLines = out.filter(({ type }) => type === 'alarm') as unknown as AlarmLine[];
  return {
    alarms: alarmLines.map(
      ({ at: when, vessel, alarm, event, priority }) =>
        `${(Date.parse(when) - START_MS) / 1000} ${vessel} ${alarm} ${event} ${priority}`,
    ),
    alarmLines,
    refused: out.filter(({ type }) => type === 'refused') as unknown as Played['refused'],
    summaries: Object.fromEntries(
      out.filter(({ type }) => type === 'summary').map((summary) => [summary.vessel, summary]),
    ) as unknown as Played['summaries'],
  };
}

/** The alarms of one name, without the vessel and the name. */
export const ofAlarm = ({ alarms }: Played, name: string): string[] =>
  alarms.filter((line) => line.split(' ')[2] === name).map((line) => line.replace(` r1 ${name}`, ''));
