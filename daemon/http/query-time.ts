import { parseWireTimeMs } from '../../shared/wire/time.ts';
import { Problem } from './problem.ts';

/** Epoch ms of a time in a query; throws a `body-invalid` that names the field. */
export function queryTimeMs(field: string, text: string): number {
  const ms = parseWireTimeMs(/^-?\d+$/.test(text) ? Number(text) : text);
  if (ms === undefined)
    throw new Problem('body-invalid', `${field} is neither ISO 8601 UTC nor epoch milliseconds`);
  return ms;
}
