import { parseDecimal } from '../../../shared/wire/payload.ts';
import { parseIsoMs } from '../../../shared/wire/time.ts';

/** Epoch ms of a time as a logger wrote it; undefined where it does not have the form. */
export type TimeReader = (text: string) => number | undefined;

/** `+01:00`, `-0530`, `Z`. */
export const OFFSET = /^(?:Z|[+-]\d{2}:?\d{2})$/;

const ISO = /^(\d{4}-\d{2}-\d{2})[T ](\d{2}:\d{2})(:\d{2})?(?:[.,](\d{1,9}))? ?(Z|[+-]\d{2}:?\d{2})?$/;

/** The parts of a pattern: what each may hold, as a regular expression. */
const PARTS = {
  YYYY: '\\d{4}',
  YY: '\\d{2}',
  MM: '\\d{2}',
  M: '\\d{1,2}',
  DD: '\\d{2}',
  D: '\\d{1,2}',
  HH: '\\d{2}',
  H: '\\d{1,2}',
  hh: '\\d{2}',
  h: '\\d{1,2}',
  mm: '\\d{2}',
  ss: '\\d{2}',
  SSS: '\\d{1,9}',
  A: '[AaPp][Mm]',
} as const;
const PART = /YYYY|YY|MM|M|DD|D|HH|H|hh|h|mm|ss|SSS|A/g;

/** Each of these must be in a pattern, in one of its ways. */
const NEEDED = [['YYYY', 'YY'], ['MM', 'M'], ['DD', 'D'], ['HH', 'H', 'hh', 'h'], ['mm']];

/**
 * How to read the times of a form: `iso` (ISO 8601, the seconds optional), `epoch-s`, `epoch-ms`, or a
 * pattern such as `DD.MM.YYYY HH:mm:ss`. `offset` is that of the clock, where the text does not say it.
 * A text says what is wrong with the form.
 */
export function timeReader(form: string, offset: string | undefined): TimeReader | string {
  if (form === 'iso') return (text) => readIso(text, offset);
  if (form === 'epoch-s') return (text) => epochMs(text, 1000);
  if (form === 'epoch-ms') return (text) => epochMs(text, 1);
  return patternReader(form, offset);
}

function epochMs(text: string, scale: number): number | undefined {
  const ms = Math.round(parseDecimal(text.replace(',', '.')) * scale);
  return Number.isFinite(ms) ? ms : undefined;
}

function readIso(text: string, offset: string | undefined): number | undefined {
  const [, date, time, seconds = ':00', fraction = '0', own = offset] = ISO.exec(text) ?? [];
  if (own === undefined) return undefined;
  return lessOffset(parseIsoMs(`${date}T${time}${seconds}.${fraction}Z`), own);
}

function patternReader(pattern: string, offset: string | undefined): TimeReader | string {
  if (offset === undefined) return 'a pattern wants the offset of the clock too';
  const parts = pattern.match(PART) ?? [];
  const count = (ways: readonly string[]) => parts.filter((part) => ways.includes(part)).length;
  const wrong = NEEDED.find((ways) => count(ways) !== 1);
  if (wrong !== undefined) return `a pattern has ${wrong.join(' or ')} once`;
  if (count(['ss']) > 1 || count(['SSS']) > 1) return 'a pattern has ss and SSS once at most';
  if (count(['hh', 'h']) !== count(['A'])) return 'a pattern has A (AM or PM) with hh or h, and only then';
  const form = new RegExp(
    `^${pattern
      .replace(/[.*+?^${}()|[\]\\]/g, '\\$&')
      .replace(PART, (part) => `(?<${part}>${PARTS[part as keyof typeof PARTS]})`)}$`,
  );
  return (text) => {
    const found = form.exec(text)?.groups;
    if (found === undefined) return undefined;
    const year = found.YYYY ?? `20${found.YY}`;
    const month = twoDigits(found.MM ?? found.M!);
    const day = twoDigits(found.DD ?? found.D!);
    const hour = found.A === undefined ? (found.HH ?? found.H!) : hourOf24(found.hh ?? found.h!, found.A);
    if (hour === undefined) return undefined;
    const { mm, ss = '00', SSS = '0' } = found;
    return lessOffset(parseIsoMs(`${year}-${month}-${day}T${twoDigits(hour)}:${mm}:${ss}.${SSS}Z`), offset);
  };
}

const twoDigits = (text: string): string => text.padStart(2, '0');

/** 12 AM is midnight, 12 PM noon. */
function hourOf24(text: string, half: string): string | undefined {
  const hour = Number(text);
  if (hour < 1 || hour > 12) return undefined;
  return String((hour % 12) + (half[0]!.toUpperCase() === 'P' ? 12 : 0));
}

function lessOffset(ms: number | undefined, offset: string): number | undefined {
  if (ms === undefined || offset === 'Z') return ms;
  const minutes = Number(offset.slice(1, 3)) * 60 + Number(offset.slice(-2));
  return ms - (offset[0] === '-' ? -minutes : minutes) * 60_000;
}
