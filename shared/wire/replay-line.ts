import { z } from 'zod';
import type { EngineInput, StatedPressure } from '../engine/events.ts';
import { resolveWatchPlan, type WatchPlan, watchPlanSchema } from '../plan/watch-plan.ts';
import { ALARM_NAMES, type AlarmName } from '../rules/names.ts';
import { siteBodySchema } from './api.ts';
import { isName, MOVED, type Moved, NAME_PATTERN, ROLES, type Role, STAGES, type Stage } from './names.ts';
import { parseIsoMs, parseWireTimeMs } from './time.ts';

/**
 * The lines of a recorded run. Reading lines, of which there may be millions, are taken apart by hand;
 * `replayLineSchema` says the same in full, and a property test holds the two together.
 */

const name = z.string().regex(NAME_PATTERN);
const time = z.union([z.string(), z.number()]).refine((at) => parseWireTimeMs(at) !== undefined);
const timed = { at: time, arrived: time.optional() };

/** What a vessel line says of its vessel. */
export const vesselFields = {
  vessel: name,
  role: z.enum(ROLES).optional(),
  site: siteBodySchema.optional(),
  plan: watchPlanSchema.optional(),
};
/** What a stage line says. */
export const stageFields = { at: time, vessel: name, stage: z.enum(STAGES) };

export const replayLineSchema = z.discriminatedUnion('type', [
  z.strictObject({
    type: z.literal('vessel'),
    at: time.optional(),
    arrived: time.optional(),
    ...vesselFields,
    /** The stored batch that it works for, until it is emptied; null: for none yet. */
    batch: z.string().min(1).max(100).nullable().optional(),
  }),
  z.strictObject({
    type: z.literal('reading'),
    ...timed,
    vessel: name,
    channel: name,
    value: z.number(),
    seq: z.number().int().min(0).max(Number.MAX_SAFE_INTEGER).optional(),
    typed: z.boolean().optional(),
    /** `at` is when it arrived, so that a step of the clock moves it along. */
    stamped: z.boolean().optional(),
  }),
  z.strictObject({ type: z.literal('stage'), ...timed, ...stageFields }),
  z.strictObject({
    type: z.literal('move'),
    ...timed,
    vessel: name.describe('From which'),
    to: name,
    what: z.enum(MOVED),
  }),
  /** What stands of the test of the conversion in the present pass. */
  z.strictObject({ type: z.literal('conversion-test'), ...timed, passed: z.boolean() }),
  z.strictObject({
    type: z.literal('device'),
    ...timed,
    /** Without it, whom it serves goes by the device's name. */
    vessel: name.optional(),
    /** Where several serve one vessel. */
    device: name.optional(),
    presence: z.enum(['here', 'gone']),
  }),
  /** Devices that send to one channel at the same time; fewer than two: no longer. */
  z.strictObject({
    type: z.literal('senders'),
    ...timed,
    vessel: name,
    channel: name,
    senders: z.array(z.string().min(1).max(400)).max(20),
  }),
  z.strictObject({ type: z.literal('acknowledge'), ...timed, vessel: name, alarm: z.enum(ALARM_NAMES) }),
  z.strictObject({ type: z.literal('start'), ...timed, downSince: time.optional() }),
  z.strictObject({ type: z.literal('clock-step'), ...timed, stepMs: z.number().int() }),
  z.strictObject({ type: z.literal('end'), ...timed }),
]);

export type ReplayLine =
  | {
      type: 'vessel';
      vessel: string;
      /** Null where the line does not say. */
      role: Role | null;
      site: StatedPressure | null;
      plan: WatchPlan;
      /** Undefined where the run has but one batch, without a name. */
      batch: string | null | undefined;
      arrivedMs: number | null;
    }
  | (Extract<EngineInput, { type: 'reading' }> & { seq: number | null })
  | { type: 'stage'; vessel: string; stage: Stage; atMs: number; arrivedMs: number }
  | { type: 'move'; vessel: string; to: string; what: Moved; atMs: number; arrivedMs: number }
  | { type: 'conversion-test'; passed: boolean; arrivedMs: number }
  /** The device is '' where the line does not say. */
  | Extract<EngineInput, { type: 'device' }>
  | Extract<EngineInput, { type: 'senders' }>
  /** A person has seen the vessel's alarm of that name. */
  | { type: 'acknowledge'; vessel: string; alarm: AlarmName; arrivedMs: number }
  /** The watching began; null where nobody had watched before. */
  | Extract<EngineInput, { type: 'start' | 'clock-step' }>
  | { type: 'end'; arrivedMs: number };

export type ReplayRefusal = { type: 'refused'; because: string };

/**
 * A reading with its fields in the order in which they stand in the docs: nearly every line of a
 * recorded run. Anything else is left to JSON, which takes three times as long.
 */
const PLAIN_READING =
  /^\{"type":"reading","at":"([^"\\]+)",(?:"arrived":"([^"\\]+)",)?"vessel":"([a-z0-9][a-z0-9-]{0,39})","channel":"([a-z0-9][a-z0-9-]{0,39})","value":(-?(?:0|[1-9]\d*)(?:\.\d+)?(?:[eE][+-]?\d+)?)\}$/;

const latest: { at: string; ms: number | undefined } = { at: '', ms: undefined };

/** The channels of one moment share their time: it is taken apart once. */
function parseSharedIsoMs(at: string): number | undefined {
  if (at !== latest.at) {
    latest.at = at;
    latest.ms = parseIsoMs(at);
  }
  return latest.ms;
}

function parsePlainReading(text: string): ReplayLine | undefined {
  const match = PLAIN_READING.exec(text);
  if (match === null) return undefined;
  const atMs = parseSharedIsoMs(match[1]!);
  const arrivedMs = match[2] === undefined ? atMs : parseIsoMs(match[2]);
  const value = Number(match[5]);
  if (atMs === undefined || arrivedMs === undefined || !Number.isFinite(value)) return undefined;
  return {
    type: 'reading',
    atMs,
    arrivedMs,
    vessel: match[3]!,
    channel: match[4]!,
    value,
    seq: null,
    typed: false,
    stamped: false,
  };
}

/** One line, or why it cannot be understood. */
export function parseReplayLine(text: string): ReplayLine | ReplayRefusal {
  const reading = parsePlainReading(text);
  if (reading !== undefined) return reading;
  let json: unknown;
  try {
    json = JSON.parse(text);
  } catch {
    return refuse('not JSON');
  }
  if (typeof json !== 'object' || json === null || Array.isArray(json)) return refuse('not a JSON object');
  const line = json as Record<string, unknown>;
  return line.type === 'reading' ? parseReadingLine(line) : parseRareLine(line);
}

const refuse = (because: string): ReplayRefusal => ({ type: 'refused', because });

const READING_FIELDS = new Set([
  'type',
  'at',
  'arrived',
  'vessel',
  'channel',
  'value',
  'seq',
  'typed',
  'stamped',
]);

function parseReadingLine(line: Record<string, unknown>): ReplayLine | ReplayRefusal {
  for (const field in line) if (!READING_FIELDS.has(field)) return refuse(`unknown field ${field}`);
  const { vessel, channel, value, seq, typed, stamped } = line;
  if (typeof vessel !== 'string' || !isName(vessel)) return refuse('vessel is not a name');
  if (typeof channel !== 'string' || !isName(channel)) return refuse('channel is not a name');
  if (typeof value !== 'number' || !Number.isFinite(value)) return refuse('value is not a number');
  if (seq !== undefined && !(Number.isSafeInteger(seq) && (seq as number) >= 0)) {
    return refuse('seq is not a whole number from 0');
  }
  if (typed !== undefined && typeof typed !== 'boolean') return refuse('typed is not true or false');
  if (stamped !== undefined && typeof stamped !== 'boolean') return refuse('stamped is not true or false');
  const atMs = parseWireTimeMs(line.at);
  if (atMs === undefined) return refuse('at is not a time');
  const arrivedMs = line.arrived === undefined ? atMs : parseWireTimeMs(line.arrived);
  if (arrivedMs === undefined) return refuse('arrived is not a time');
  return {
    type: 'reading',
    atMs,
    arrivedMs,
    vessel,
    channel,
    value,
    seq: (seq as number | undefined) ?? null,
    typed: typed === true,
    stamped: stamped === true,
  };
}

function parseRareLine(json: unknown): ReplayLine | ReplayRefusal {
  const parsed = replayLineSchema.safeParse(json);
  if (!parsed.success) {
    const issue = parsed.error.issues[0]!;
    return refuse(`${issue.path.join('.') || 'line'}: ${issue.message}`);
  }
  const line = parsed.data;
  switch (line.type) {
    case 'vessel':
      return {
        type: 'vessel',
        vessel: line.vessel,
        role: line.role ?? null,
        site: line.site ?? null,
        plan: resolveWatchPlan(line.plan),
        batch: line.batch,
        arrivedMs: parseWireTimeMs(line.arrived ?? line.at) ?? null,
      };
    case 'stage':
    case 'move': {
      const atMs = parseWireTimeMs(line.at)!;
      return { ...line, atMs, arrivedMs: parseWireTimeMs(line.arrived) ?? atMs };
    }
    case 'device': {
      const { type, vessel = null, device = '', presence } = line;
      return { type, vessel, device, presence, arrivedMs: parseWireTimeMs(line.arrived ?? line.at)! };
    }
    case 'senders': {
      const { type, vessel, channel, senders } = line;
      return { type, vessel, channel, senders, arrivedMs: parseWireTimeMs(line.arrived ?? line.at)! };
    }
    case 'conversion-test':
    case 'acknowledge':
      return { ...line, arrivedMs: parseWireTimeMs(line.arrived ?? line.at)! };
    case 'start': {
      const downSinceMs = parseWireTimeMs(line.downSince) ?? null;
      return { type: 'start', arrivedMs: parseWireTimeMs(line.arrived ?? line.at)!, downSinceMs };
    }
    case 'clock-step': {
      const { type, stepMs } = line;
      return { type, stepMs, arrivedMs: parseWireTimeMs(line.arrived ?? line.at)! };
    }
    case 'end':
      return { type: 'end', arrivedMs: parseWireTimeMs(line.arrived ?? line.at)! };
    case 'reading':
      return refuse('a reading line is parsed apart');
  }
}
