import { celsiusFromFahrenheit, celsiusFromKelvin } from '../units/temperature.ts';
import { channelKind } from './names.ts';
import type { RefusalCode } from './refusals.ts';
import { parseWireTimeMs } from './time.ts';

/**
 * What a device sends, taken apart without a schema library: this is the path every reading takes.
 * It accepts and refuses exactly what `readingPayloadSchema` does; a property test holds the two together.
 */

/** A reading as sent; `atMs` is null where it has no time of its own. */
export interface SentReading {
  value: number;
  atMs: number | null;
  seq: number | null;
  unit: string | null;
}

/** A reading in the channel's own unit. Without a time of its own it gets the arrival's. */
export interface ParsedReading {
  value: number;
  atMs: number;
  seq: number | null;
  stamped: boolean;
}

export type Refused = { refused: RefusalCode };
export type Parsed = (ParsedReading | Refused)[];

export const MOST_BYTES = 256 * 1024;
export const MOST_READINGS = 5000;
export const AHEAD_MS = 60_000;
const YEAR_2000_MS = Date.UTC(2000, 0, 1);
const DECIMAL = /^[+-]?(\d+\.?\d*|\.\d+)([eE][+-]?\d+)?$/;

/**
 * The readings of one message, or why they are refused: as a whole, or each on its own where an array
 * was sent.
 */
export function parsePayload(text: string, channel: string, arrivedMs: number, retained: boolean): Parsed {
  const trimmed = text.trim();
  if (trimmed === '') return [{ refused: 'payload-empty' }];
  const first = trimmed[0]!;
  const sent =
    first === '{' || first === '[' ? parseJson(trimmed, arrivedMs, retained) : [parsePlain(trimmed)];
  return sent.map((reading) =>
    'refused' in reading ? reading : finish(reading, channel, arrivedMs, retained),
  );
}

/** A plain decimal number; NaN for any other text. */
export const parseDecimal = (text: string): number => (DECIMAL.test(text) ? Number(text) : Number.NaN);

function parsePlain(text: string): SentReading | Refused {
  const value = parseDecimal(text);
  return Number.isFinite(value)
    ? { value, atMs: null, seq: null, unit: null }
    : { refused: 'value-not-number' };
}

function parseJson(text: string, arrivedMs: number, retained: boolean): (SentReading | Refused)[] {
  let json: unknown;
  try {
    json = JSON.parse(text);
  } catch {
    return [{ refused: 'payload-form' }];
  }
  if (!Array.isArray(json)) return [parseReadingObject(json)];
  if (json.length === 0) return [{ refused: 'payload-empty' }];
  if (json.length > MOST_READINGS) return [{ refused: 'array-too-long' }];
  return json.some(isSenmlRecord) ? parseSenml(json, arrivedMs, retained) : json.map(parseReadingObject);
}

const FIELDS = new Set(['value', 'at', 'seq', 'unit']);

export function parseReadingObject(json: unknown): SentReading | Refused {
  if (typeof json !== 'object' || json === null || Array.isArray(json)) return { refused: 'payload-form' };
  const { value, at, seq, unit } = json as Record<string, unknown>;
  for (const field in json) if (!FIELDS.has(field)) return { refused: 'payload-field' };
  if (value === undefined) return { refused: 'value-missing' };
  if (typeof value !== 'number' || !Number.isFinite(value)) return { refused: 'value-not-number' };
  const atMs = at === undefined ? null : parseWireTimeMs(at);
  if (atMs === undefined) return { refused: 'time-form' };
  if (seq !== undefined && !(Number.isSafeInteger(seq) && (seq as number) >= 0))
    return { refused: 'seq-form' };
  if (unit !== undefined && typeof unit !== 'string') return { refused: 'unit-unknown' };
  return { value, atMs, seq: (seq as number | undefined) ?? null, unit: unit ?? null };
}

// ---- what is the same for all forms ----

function finish(
  sent: SentReading,
  channel: string,
  arrivedMs: number,
  retained: boolean,
): ParsedReading | Refused {
  const value = inChannelUnit(sent.value, sent.unit, channel);
  if (value === undefined) return { refused: 'unit-unknown' };
  if (sent.atMs === null) {
    return retained
      ? { refused: 'retained-without-time' }
      : { value, atMs: arrivedMs, seq: sent.seq, stamped: true };
  }
  if (sent.atMs < YEAR_2000_MS) return { refused: 'time-before-2000' };
  if (sent.atMs > arrivedMs + AHEAD_MS) return { refused: 'clock-ahead' };
  return { value, atMs: sent.atMs, seq: sent.seq, stamped: false };
}

/** Units by what a channel measures, names as in the SenML registry (RFC 8428, 12.1; RFC 8798). */
const OWN_UNITS: Record<string, readonly string[]> = {
  speed: ['1/min'],
  flow: ['l/min', 'L/min'],
  current: ['A'],
  switch: ['/'],
  pressure: ['hPa'],
  vapour: ['ppm'],
};

/** The value in the channel's own unit; undefined for a unit that the channel cannot have. */
function inChannelUnit(value: number, unit: string | null, channel: string): number | undefined {
  if (unit === null) return value;
  const kind = channelKind(channel);
  if (kind === 'temperature' || kind === 'other') {
    if (unit === 'Cel') return value;
    if (unit === 'degF') return celsiusFromFahrenheit(value);
    if (unit === 'K') return celsiusFromKelvin(value);
  }
  if (kind === 'pressure' && unit === 'Pa') return value / 100;
  return kind === 'other' || OWN_UNITS[kind]?.includes(unit) ? value : undefined;
}

// ---- SenML (RFC 8428) ----

const SENML_FIELDS = new Set('bn bt bu bv bs bver n u v vs vb vd s t ut'.split(' '));
const SENML_NAME = /^[A-Za-z0-9][A-Za-z0-9\-:./_]*$/;
const SENML_VERSION = 10;
/** Times below this are relative to now, seconds (RFC 8428, 4.5.3). */
const RELATIVE_BELOW_S = 2 ** 28;

/** Whether an object of an array is a SenML record rather than a reading of our own form. */
function isSenmlRecord(json: unknown): boolean {
  if (typeof json !== 'object' || json === null || 'value' in json) return false;
  return Object.keys(json).some((key) => SENML_FIELDS.has(key));
}

/** Resolves a pack (RFC 8428, 4.6). One bad record makes the pack unintelligible: it is refused whole. */
function parseSenml(
  pack: readonly unknown[],
  arrivedMs: number,
  retained: boolean,
): (SentReading | Refused)[] {
  const base = { n: '', t: 0, u: null as string | null, v: 0 };
  const names = new Set<string>();
  const readings: SentReading[] = [];
  for (const record of pack) {
    if (typeof record !== 'object' || record === null || Array.isArray(record)) {
      return [{ refused: 'payload-form' }];
    }
    const fields = record as Record<string, unknown>;
    for (const key in fields) {
      // A label that ends in '_' must be understood (RFC 8428, 4.4).
      if (key.endsWith('_')) return [{ refused: 'senml-field' }];
    }
    if ((fields.bver ?? SENML_VERSION) !== SENML_VERSION) return [{ refused: 'senml-version' }];
    if (!hasTypes(fields, ['bn', 'bu', 'n', 'u', 'vs', 'vd'], 'string')) return [{ refused: 'senml-field' }];
    if (!hasTypes(fields, ['bt', 'bv', 'bs', 's', 't', 'ut'], 'number')) return [{ refused: 'senml-field' }];
    if (fields.bn !== undefined) base.n = fields.bn as string;
    if (fields.bt !== undefined) base.t = fields.bt as number;
    if (fields.bu !== undefined) base.u = fields.bu as string;
    if (fields.bv !== undefined) base.v = fields.bv as number;
    if (fields.v === undefined) return [{ refused: 'value-missing' }];
    const value = typeof fields.v === 'number' ? fields.v + base.v : Number.NaN;
    if (!Number.isFinite(value)) return [{ refused: 'value-not-number' }];
    const name = base.n + ((fields.n as string | undefined) ?? '');
    if (!SENML_NAME.test(name)) return [{ refused: 'senml-name' }];
    names.add(name);
    const seconds = base.t + ((fields.t as number | undefined) ?? 0);
    // Relative times hang on the arrival, which tells nothing of the age of what was retained; 'now'
    // itself is no time of its own at all.
    if (retained && seconds < RELATIVE_BELOW_S) return [{ refused: 'retained-without-time' }];
    const atMs =
      seconds === 0
        ? null
        : parseWireTimeMs(seconds < RELATIVE_BELOW_S ? arrivedMs + seconds * 1000 : seconds * 1000);
    if (atMs === undefined) return [{ refused: 'time-form' }];
    readings.push({ value, atMs, seq: null, unit: (fields.u as string | undefined) ?? base.u });
  }
  return names.size > 1 ? [{ refused: 'senml-name' }] : readings;
}

function hasTypes(
  fields: Record<string, unknown>,
  keys: readonly string[],
  type: 'string' | 'number',
): boolean {
  return keys.every((key) => {
    const field = fields[key];
    if (field === undefined) return true;
    return typeof field === type && (type === 'string' || Number.isFinite(field));
  });
}
