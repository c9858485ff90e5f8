import { ReadingRecords } from './reading-records.ts';
import type { EntryResult, NewAction, NewAlarmEvent, WriteResult, WriteUnit } from './store.ts';

/**
 * A unit to be written as it goes to the writing thread: readings in bytes, since objects one by one would
 * take longer to cross than to be stored.
 */
export interface PackedUnit extends Pick<WriteUnit, 'site' | 'judged' | 'snapshot'> {
  /** Entries in all. */
  count: number;
  /** Of these the readings are, each by its place in this list. */
  channels: readonly { vessel: string; channel: string }[];
  /** `ReadingRecords`; for `position` the place among the entries. */
  readings: Uint8Array;
  /** What is no reading, by its place among the entries, ascending. */
  others: readonly { place: number; entry: NewAction | NewAlarmEvent }[];
}

/** What became of each entry of a unit: three numbers each, which `ResultsOf` puts. */
export interface PackedResults {
  site: string;
  entries: Float64Array;
}

const STORED = 0;
const DUPLICATE = 1;
const CONFLICT = 2;
const NUMBERS = 3;

/** Throws a `StoreError` for a reading that cannot be kept, as `ReadingRecords` says. */
export function packUnits(units: readonly WriteUnit[]): PackedUnit[] {
  return units.map(({ site, entries, judged, snapshot }) => {
    const channels: { vessel: string; channel: string }[] = [];
    const known = new Map<string, Map<string, number>>();
    const others: { place: number; entry: NewAction | NewAlarmEvent }[] = [];
    const records = ReadingRecords.ofLength(entries.length);
    let readings = 0;
    for (let place = 0; place < entries.length; place++) {
      const entry = entries[place]!;
      if (entry.kind !== 'reading') {
        others.push({ place, entry });
        continue;
      }
      const { vessel, channel, atMs, arrivedMs, value, seq, stamped, source } = entry;
      let ofVessel = known.get(vessel);
      if (ofVessel === undefined) {
        ofVessel = new Map();
        known.set(vessel, ofVessel);
      }
      let number = ofVessel.get(channel);
      if (number === undefined) {
        number = channels.push({ vessel, channel }) - 1;
        ofVessel.set(channel, number);
      }
      records.set(readings++, {
        channel: number,
        position: place,
        atMs,
        arrivedMs,
        value,
        seq,
        stamped,
        source,
      });
    }
    return {
      site,
      count: entries.length,
      channels,
      readings: records.first(readings),
      others,
      ...(judged && { judged }),
      ...(snapshot && { snapshot }),
    };
  });
}

/** Of a unit under way: each entry's is put once. */
export class ResultsOf {
  readonly packed: Float64Array;

  constructor(count: number) {
    this.packed = new Float64Array(count * NUMBERS);
  }

  stored(place: number, position: number, atMs: number): void {
    this.packed.set([STORED, position, atMs], place * NUMBERS);
  }

  duplicate(place: number): void {
    this.packed[place * NUMBERS] = DUPLICATE;
  }

  conflict(place: number, storedValue: number): void {
    this.packed.set([CONFLICT, storedValue], place * NUMBERS);
  }
}

export const unpackResults = (packed: readonly PackedResults[]): WriteResult[] =>
  packed.map(({ site, entries }) => {
    const results = new Array<EntryResult>(entries.length / NUMBERS);
    for (let i = 0; i < results.length; i++) {
      const at = i * NUMBERS;
      if (entries[at] === STORED)
        results[i] = { result: 'stored', position: entries[at + 1]!, atMs: entries[at + 2]! };
      else if (entries[at] === DUPLICATE) results[i] = { result: 'duplicate' };
      else results[i] = { result: 'conflict', storedValue: entries[at + 1]! };
    }
    return { site, entries: results };
  });
