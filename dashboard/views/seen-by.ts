import type { Alarm } from '../../shared/wire/api.ts';
import { isolated } from '../texts/isolated.ts';
import { when } from './words.ts';

/** Who saw an alarm, when, and what they noted; a dash where nobody did. */
export function seenBy({ acknowledged }: Alarm): string {
  if (acknowledged === null) return '–';
  const { by, at, reason } = acknowledged;
  return `${isolated(by)}, ${when(at)}${reason === null ? '' : `: ‘${reason}’`}`;
}
