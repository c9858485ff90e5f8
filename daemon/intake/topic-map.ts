import { type DeviceTopic, parseDeviceTopic } from '../../shared/wire/topics.ts';
import type { MappedTopic } from '../config.ts';

/** Where a message belongs: one payload of another shape may hold what several channels are to have. */
export type Destination = DeviceTopic | { kind: 'mapped'; mappings: readonly MappedTopic[] };

/** Finds the channels of a topic: the project's own, or those that the configuration maps. */
export class TopicMap {
  readonly #mapped: readonly MappedTopic[];

  constructor(mapped: readonly MappedTopic[]) {
    this.#mapped = mapped;
  }

  get filters(): string[] {
    return this.#mapped.map(({ filter }) => filter);
  }

  find(topic: string): Destination {
    const own = parseDeviceTopic(topic);
    if (own.kind !== 'unknown') return own;
    const mappings = this.#mapped.filter(({ filter }) => matches(filter, topic));
    return mappings.length === 0 ? own : { kind: 'mapped', mappings };
  }
}

/** Whether a topic matches a filter (MQTT 3.1.1, 4.7). */
export function matches(filter: string, topic: string): boolean {
  if (topic.startsWith('$') !== filter.startsWith('$')) return false;
  const levels = topic.split('/');
  const wanted = filter.split('/');
  for (const [i, level] of wanted.entries()) {
    if (level === '#') return true;
    if (i >= levels.length || (level !== '+' && level !== levels[i])) return false;
  }
  return wanted.length === levels.length;
}

/** The number of a mapped payload as a plain decimal, or the text unchanged where it is none. */
export function mappedText(text: string, { path, scale, offset }: MappedTopic): string {
  let number: unknown;
  if (path === undefined) number = Number(text.trim() || Number.NaN);
  else {
    try {
      number = path
        .split('.')
        .reduce<unknown>((at, key) => (at as Record<string, unknown>)?.[key], JSON.parse(text));
    } catch {
      return text;
    }
  }
  return typeof number === 'number' && Number.isFinite(number)
    ? String(number * scale + offset)
    : text || ' ';
}
