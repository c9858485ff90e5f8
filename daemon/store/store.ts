import type { AlarmChange, Shelved } from '../../shared/engine/events.ts';
import type { KnownPoints } from '../../shared/thermometer/correction.ts';
import type { Alarm, Buckets, RawReadings } from '../../shared/wire/api.ts';
import type { PictureType } from '../../shared/wire/entries.ts';
import type { Priority } from '../../shared/wire/names.ts';
import type { WantedDrop } from './drops.ts';

/**
 * What the daemon asks of its store. Plain data in and out, every call asynchronous, so that a store
 * can live in a worker thread or on another machine. All times are epoch ms.
 *
 * Every stored thing gets the next position in the one order of its site (1, 2, 3 …), an arrival
 * time and an effective time (`at`). Replay goes by position.
 */
export interface Store {
  /**
   * Commits the units together, synced to disk, in the order given. Rejects with a `StoreError` and
   * keeps nothing where the disk refuses.
   */
  write(units: readonly WriteUnit[]): Promise<readonly WriteResult[]>;
  /** Sites that have anything stored, each with how far it is judged. */
  sites(): Promise<readonly SiteProgress[]>;
  /** What stands for each site's chain. */
  heads(): Promise<readonly SiteHead[]>;
  /**
   * What there is of a site after a position, in order: at most `limit` entries, none only where nothing follows.
   * Positions of readings that were dropped are left out.
   */
  entriesAfter(site: string, position: number, limit: number): Promise<readonly StoredEntry[]>;
  /** All actions of a site, in order. */
  actions(site: string): Promise<readonly StoredAction[]>;
  /** Channels that have readings. */
  channels(site: string): Promise<readonly SiteChannel[]>;
  /** Every reading of a channel with `fromMs` ≤ at ≤ `toMs`, ascending by time and then by arrival. */
  rawReadings(query: ReadingsQuery): Promise<RawReadings>;
  /** At most `points` buckets over the same range; least, mean and most are exact for each. */
  buckets(query: ReadingsQuery & { points: number }): Promise<Buckets>;
  /**
   * One of the two above as JSON, UTF-8: made where the query runs, since a day of single readings takes
   * longer to put into words than the caller may be held up.
   */
  readingsJson(query: ReadingsQuery & { points: number | 'raw' }): Promise<Uint8Array>;
  /**
   * A part of the same range as CSV, UTF-8, ascending by time and then by arrival, from the beginning or after
   * where a part before it ended; made where the query runs. The columns: `CSV_COLUMNS`.
   */
  readingsCsv(query: ReadingsQuery & { after: CsvPlace | null }): Promise<CsvPart>;
  /** The picture with this hash (hex); null where there is none. */
  photograph(sha256: string): Promise<Photograph | null>;
  /** Alarms, newest first. */
  alarms(query: AlarmsQuery): Promise<readonly AlarmRow[]>;
  /** One alarm of a site; null where there is none. */
  alarm(site: string, id: string): Promise<AlarmRow | null>;
  /** Alarms of a vessel that stood at any moment of a time, the gravest first, then the newest. */
  alarmsDuring(query: AlarmsDuringQuery): Promise<readonly AlarmRow[]>;
  /** What the rules said in a time, for its measures: the newest of it where there is too much. */
  alarmHistory(range: { fromMs: number; toMs: number }): Promise<AlarmHistory>;
  /**
   * Seals what a site has from before a time (by arrival), or a part of it: it takes less room, and is not
   * changed any more. Where very much is not sealed, the oldest of it is, whenever it arrived. Gives whether there
   * was anything; more may be left.
   */
  seal(site: string, beforeMs: number): Promise<boolean>;
  /**
   * Drops the single readings that are wanted gone, or a part of them, where they are sealed; the steps that lines
   * are drawn from stay. Says so in the site's history. Gives whether there was anything; more may be left.
   */
  drop(site: string, wanted: WantedDrop, nowMs: number): Promise<boolean>;
  /**
   * The first seal of a site that goes beyond a position, as it goes over to a centre; null where there is none yet.
   * Photographs go by themselves, before it.
   */
  sealAfter(site: string, position: number): Promise<SealCopy | null>;
  /**
   * Takes in a seal of a site that another daemon watches, byte for byte as `sealAfter` gave it there: only the next of
   * that site, of which everything is what it says. A site that is watched here is refused. The same places in the
   * same order make the same chain.
   */
  takeSeal(site: string, bytes: Uint8Array): Promise<TakenSeal>;
  /**
   * Keeps a photograph of such a site until the seal comes whose entry names it; false where too many wait. One that is
   * there already may come again.
   */
  awaitPhotograph(site: string, photograph: Photograph): Promise<boolean>;
  /** Ends the workers. Everything written stays written. */
  close(): Promise<void>;
  /** Resolves with the reason where the store ends without having been closed. */
  readonly died: Promise<StoreError>;
}

/** The part of a store that a reader of whole histories needs. */
export type History = Pick<Store, 'sites' | 'entriesAfter' | 'actions'>;

/** Readings, actions, alarm events and progress of one site that are stored together or not at all. */
export interface WriteUnit {
  site: string;
  entries: readonly NewEntry[];
  /** How far the rules have judged this site, and when that was by the arrival clock. */
  judged?: { position: number; atMs: number };
  /** The engine's state as JSON after the entry at `position`: where a restart goes on from. */
  snapshot?: { position: number; state: string };
}

export type NewEntry = NewReading | NewAction | NewAlarmEvent;

export interface NewReading {
  kind: 'reading';
  vessel: string;
  channel: string;
  /**
   * When it was measured. Where `stamped`, it is the arrival time, has no identity, and is moved on by
   * whole milliseconds until it is distinct in its channel.
   */
  atMs: number;
  stamped: boolean;
  arrivedMs: number;
  value: number;
  seq: number | null;
  source: 'device' | 'typed';
}

/** Something a person or the daemon did or stated: a stage, a site's altitude, an acknowledgement … */
export interface NewAction {
  kind: 'action';
  action: string;
  atMs: number;
  arrivedMs: number;
  by: string;
  /** Plain JSON, kept as JSON writes it (-0 as 0); its shape belongs to the action's name. */
  body: unknown;
  /**
   * The picture that the body names by its hash: stored with the action or not at all, and left out where actions
   * are read again. The chain covers the hash.
   */
  photograph?: Photograph;
}

/** A picture, byte for byte as it came. */
export interface Photograph {
  /** Of its content, SHA-256, hex. */
  sha256: string;
  type: PictureType;
  content: Uint8Array;
}

/** What a rule said. Written once by `key`, however often it is offered. */
export interface NewAlarmEvent {
  kind: 'alarm';
  key: string;
  id: string;
  vessel: string;
  alarm: string;
  event: AlarmChange['event'];
  priority: Priority;
  atMs: number;
  arrivedMs: number;
  /**
   * Plain JSON: late, value, limit, because, todo, facts, explainedBy, shelved; for `acknowledged` by and
   * reason, too.
   */
  body: unknown;
}

/** What became of each entry of a unit, in the order given. */
export interface WriteResult {
  site: string;
  entries: readonly EntryResult[];
}

export type EntryResult =
  | { result: 'stored'; position: number; atMs: number }
  /** The same reading (or alarm event) was there already: nothing was added. */
  | { result: 'duplicate' }
  /** A reading of the same identity with another value was there already: the first stays. */
  | { result: 'conflict'; storedValue: number };

export type StoredEntry = { position: number } & NewEntry;
export type StoredAction = { position: number } & NewAction;

export interface SiteProgress {
  site: string;
  lastPosition: number;
  judged: { position: number; atMs: number } | null;
  snapshot: { position: number; state: string } | null;
  /** Another daemon watches it, and only its seals come here. */
  isForwarded: boolean;
  /** Whether all of this is what was written. Where not, nothing may go on from it: the next commit would make it count. */
  isAsWritten: boolean;
}

/** A seal of a site in the form in which it goes over to another store. */
export interface SealCopy {
  from: number;
  to: number;
  bytes: Uint8Array;
  /** Hashes of the pictures that its entries name. */
  photographs: readonly string[];
}

/** What became of a seal that came. */
export type TakenSeal =
  | { taken: true; to: number; actions: readonly StoredAction[]; channels: readonly SiteChannel[] }
  /**
   * `own`: the site is watched here; `not-next`: another is the next; `not-whole`: something is not what it says.
   */
  | { taken: false; code: 'own' | 'not-next' | 'not-whole'; because: string };

export interface SiteChannel {
  vessel: string;
  channel: string;
}

/** What stands, in hex, for the first so many entries of a chain. */
export interface Head {
  entries: number;
  head: string;
}

/** What stands for all of a site. */
export interface SiteHead extends Head {
  site: string;
  /** For what is sealed: can be found again however far the chain goes on. Null before the first seal. */
  sealed: Head | null;
}

export interface ReadingsQuery {
  site: string;
  vessel: string;
  channel: string;
  fromMs: number;
  toMs: number;
  /**
   * Where single readings are wanted as they were sent: how they were corrected after which positions, ascending;
   * null: not at all.
   */
  corrections?: readonly Correction[];
}

export interface Correction {
  after: number;
  points: KnownPoints | null;
}

export const CSV_COLUMNS = ['at', 'channel', 'value', 'source'] as const;

/** A reading of a channel, by time and position. */
export interface CsvPlace {
  atMs: number;
  position: number;
}

export interface CsvPart {
  csv: Uint8Array;
  /** Null where this part goes to the end of the range. */
  endsAt: CsvPlace | null;
}

export interface AlarmsQuery {
  site?: string;
  vessel?: string;
  /** Only alarms that stand, or cleared and were not acknowledged. */
  open?: boolean;
  alarm?: string | undefined;
  /** Raised then or later, and then or earlier. */
  fromMs?: number | undefined;
  toMs?: number | undefined;
  limit: number;
}

export interface AlarmsDuringQuery {
  site: string;
  vessel: string;
  fromMs: number;
  toMs: number;
  limit: number;
}

/** The newest state of an alarm, made from its events. */
export type AlarmRow = Omit<Alarm, 'at' | 'clearedAt' | 'acknowledged' | 'shelved' | 'told'> & {
  atMs: number;
  clearedAtMs: number | null;
  acknowledged: { by: string; reason: string | null; atMs: number } | null;
  shelved: Shelved | null;
};

export interface AlarmHistory {
  /** As asked, or later: where the record begins, or what is too much to look at. */
  fromMs: number;
  toMs: number;
  /** Whether `moments` goes back to what was asked. */
  complete: boolean;
  /** What changed in it, by arrival. */
  moments: readonly AlarmMoment[];
  /** Alarms that are not explained and stood at some time of it, the longest first. */
  spans: readonly AlarmSpan[];
  /** There are shorter ones. */
  moreSpans: boolean;
}

/** An alarm came, told people anew, or went. */
export interface AlarmMoment {
  site: string;
  vessel: string;
  alarm: string;
  id: string;
  event: 'raised' | 'unshelved' | 'unexplained' | 'cleared';
  priority: Priority;
  atMs: number;
  arrivedMs: number;
  late: boolean;
  /** Neither explained nor shelved then. */
  told: boolean;
}

/** From when to when an alarm stood; null while it does. */
export interface AlarmSpan {
  site: string;
  vessel: string;
  alarm: string;
  id: string;
  atMs: number;
  clearedAtMs: number | null;
}

/** Why a store cannot be opened or written. */
export class StoreError extends Error {
  readonly code:
    | 'store-missing'
    | 'store-exists'
    | 'store-unreadable'
    | 'store-unwritable'
    | 'store-in-use'
    | 'store-not-ours'
    | 'store-older'
    | 'store-newer'
    /** The program runs on a Node.js that its database driver cannot be trusted with. */
    | 'node-unfit'
    | 'store-write-failed'
    | 'store-changed'
    | 'store-closed';

  constructor(code: StoreError['code'], message: string) {
    super(message);
    this.name = 'StoreError';
    this.code = code;
  }
}
