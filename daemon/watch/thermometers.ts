import { correctedC, type KnownPoints } from '../../shared/thermometer/correction.ts';
import type { Check } from '../../shared/wire/thermometers.ts';
import { isoTime } from '../../shared/wire/time.ts';
import type { Correction, NewAction, NewEntry, NewReading } from '../store/store.ts';
import type { Action } from './actions.ts';

/** What became of one thermometer, in order. */
interface Kept {
  checks: Check[];
  corrections: Correction[];
}

/**
 * The checks of a site's thermometers: made from its actions alone, in order, and so re-made at every start. A
 * reading is corrected by what stands where it is stored, so that the order of the site says what was sent.
 */
export class Thermometers {
  readonly #site: string;
  /** By `VESSEL/CHANNEL`. */
  readonly #kept = new Map<string, Kept>();

  constructor(site: string) {
    this.#site = site;
  }

  apply(stored: NewAction, position: number): void {
    const { action, body } = stored as unknown as Action;
    if (action !== 'thermometer-checked' && action !== 'thermometer-check-withdrawn') return;
    const key = `${body.vessel}/${body.channel}`;
    const kept = this.#kept.get(key) ?? { checks: [], corrections: [] };
    this.#kept.set(key, kept);
    const { by } = stored;
    const noted = isoTime(stored.arrivedMs);
    const before = kept.checks.at(-1);
    const isCheck = action === 'thermometer-checked';
    if (before?.ended === null) before.ended = { at: noted, by, reason: isCheck ? null : body.reason };
    if (isCheck) {
      const check = { site: this.#site, ...body, at: isoTime(stored.atMs), noted, by, ended: null };
      kept.checks.push(check);
    }
    kept.corrections.push({ after: position, points: isCheck ? pointsOfCheck(body) : null });
  }

  /** Those of a thermometer, the earliest first; the last may have ended too. */
  checks(vessel: string, channel: string): readonly Check[] {
    return this.#kept.get(`${vessel}/${channel}`)?.checks ?? [];
  }

  /** The check by which a thermometer is corrected now. */
  standing(vessel: string, channel: string): Check | null {
    const newest = this.checks(vessel, channel).at(-1);
    return newest?.ended === null ? newest : null;
  }

  /** How readings were corrected after which positions. */
  corrections(vessel: string, channel: string): readonly Correction[] {
    return this.#kept.get(`${vessel}/${channel}`)?.corrections ?? [];
  }

  /** Entries as they are to be stored now: what a person typed in is none of a thermometer that was checked. */
  corrected(entries: readonly NewEntry[]): readonly NewEntry[] {
    if (this.#kept.size === 0) return entries;
    return entries.map((entry) => {
      if (entry.kind !== 'reading' || entry.source === 'typed') return entry;
      const points = this.corrections(entry.vessel, entry.channel).at(-1)?.points;
      return points == null ? entry : { ...entry, value: correctedC(points, entry.value) };
    });
  }

  /** Whether a stored value is what a reading, as it came, became before any check or by one of them. */
  isStoredAs({ vessel, channel, value, source }: NewReading, storedValue: number): boolean {
    if (source === 'typed') return false;
    return [null, ...this.corrections(vessel, channel).map(({ points }) => points)].some(
      (points) => (points === null ? value : correctedC(points, value)) === storedValue,
    );
  }
}

/** What a check corrects by. */
export function pointsOfCheck({ ice, boiling }: Pick<Check, 'ice' | 'boiling'>): KnownPoints {
  return [ice, boiling].filter((point) => point !== null) as unknown as KnownPoints;
}
