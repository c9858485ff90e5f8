import { channelKind } from '../../../shared/wire/names.ts';
import { KIND_UNITS, SET_UP } from '../../texts/set-up.ts';
import { amount, degrees } from '../../views/words.ts';

/** A reading of a channel, with its unit as the reader has it. */
export function readingWords(channel: string, value: number): string {
  const kind = channelKind(channel);
  const { on, off, running, stopped } = SET_UP.channels;
  if (kind === 'temperature') return degrees(value);
  if (kind === 'switch')
    return channel === 'pump' ? (value === 1 ? running : stopped) : value === 1 ? on : off;
  return `${amount(value)} ${KIND_UNITS[kind]}`.trim();
}
