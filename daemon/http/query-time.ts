import { parseWireTimeMs } from '../../shared/wire/time.ts';
import { Problem } from './problem.ts';

/** A time in a query, epoch ms; throws a `body-invalid` that names the field. */
export function queryTimeMs(field: string, text: string): number {
  const ms = parseWireTimeMs(/^-?\d+$/.test(text) ? Number(text) : text);
  if (ms === undefined)
    throw new Problem('body-invalid', `${field} is neither ISO 8601 UTC nor epoch milliseconds`);
  return ms;
}

const HOUR_MS = 3_600_000;

/** The range that a query names; the last hour where it names none. Throws a `body-invalid`. */
export function rangeOf(
  { from, to }: { from?: string | undefined; to?: string | undefined },
  nowMs: number,
): { fromMs: number; toMs: number } {
  const toMs = to === undefined ? nowMs : queryTimeMs('to', to);
  const fromMs = from === undefined ? toMs - HOUR_MS : queryTimeMs('from', from);
  if (fromMs > toMs) throw new Problem('body-invalid', 'from is after to');
  return { fromMs, toMs };
}
