import type { Window } from '../../chart/view.ts';

/** What a person types into the two fields of a range: times of the reader's own clock. Pure. */

const two = (value: number): string => String(value).padStart(2, '0');

/** As a field of date and time takes it: '2026-03-02T10:15:00'. */
export function fieldTime(ms: number): string {
  const at = new Date(ms);
  const day = `${String(at.getFullYear()).padStart(4, '0')}-${two(at.getMonth() + 1)}-${two(at.getDate())}`;
  return `${day}T${two(at.getHours())}:${two(at.getMinutes())}:${two(at.getSeconds())}`;
}

/** The range that two fields name; undefined where they name none. */
export function typedRange(from: string, to: string): Window | undefined {
  const fromMs = new Date(from).getTime();
  const toMs = new Date(to).getTime();
  return Number.isFinite(fromMs) && Number.isFinite(toMs) && fromMs >= 0 && toMs > fromMs
    ? { fromMs, toMs }
    : undefined;
}

/** Channels as an address keeps them; undefined where all are wanted. */
export const channelsFrom = (query: URLSearchParams): ReadonlySet<string> | undefined => {
  const text = query.get('channels');
  return text === null ? undefined : new Set(text.split(',').filter((name) => name !== ''));
};

/** A file name that any system takes. */
export const pictureName = (site: string, vessel: string, { fromMs, toMs }: Window): string => {
  const at = (ms: number): string => fieldTime(ms).slice(0, 16).replaceAll(':', '').replace('T', '-');
  return `${site}-${vessel}-${at(fromMs)}-to-${at(toMs)}.png`;
};
