import type { Clock } from '../clock.ts';
import type { EntryResult, NewEntry, NewReading, Store, WriteResult, WriteUnit } from './store.ts';
import { StoreError } from './store.ts';

/** A store that refuses is asked again after so long, ms. */
const RETRY_MS = 1000;
/** The most entries in one commit: longer ones would make those behind them wait. */
const MOST_ENTRIES = 10_000;

/** More entries than this cannot wait: devices that connect and send again would fill the memory. */
const MOST_WAITING = 100_000;
/** A disk that has not answered for so long counts as one that refuses. Real ms, not the daemon's: disks are real. */
const SLOW_MS = 5000;

/** Something to be committed together for one site, in order. */
interface Submission {
  site: string;
  /** As they came. */
  entries: readonly NewEntry[];
  arrivedMs: number;
  /** The rules have had it from memory, since the disk refuses. */
  isJudged: boolean;
  /** Where the disk refuses it waits; what a person does fails at once, so that it does not happen later unseen. */
  waits: boolean;
  settle(results: readonly EntryResult[]): void;
  fail(error: Error): void;
}

/** One committed submission with where its entries stand now. */
export interface Committed {
  site: string;
  entries: readonly NewEntry[];
  results: readonly EntryResult[];
  /** `unkept` has had it before. */
  isJudged: boolean;
}

/** What goes along with the next commit of a site: what the rules said, and how far they are. */
export interface Judgement {
  alarms: readonly NewEntry[];
  judged: { position: number; atMs: number };
  snapshot?: { position: number; state: string };
}

export interface JudgementSource {
  /** Entries as they are to be stored by what is committed: readings of a checked thermometer corrected. */
  corrected(site: string, entries: readonly NewEntry[]): readonly NewEntry[];
  /** Whether a stored value is what this reading became, or would have, by any correction that there has been. */
  isStoredAs(site: string, reading: NewReading, storedValue: number): boolean;
  /** Called in the order of commits, before anybody who waits for one goes on. */
  committed(committed: Committed): void;
  /** What cannot be stored now, and waits for it: nobody is to go unwarned for that. In the order of arrival. */
  unkept(site: string, entries: readonly NewEntry[]): void;
  /** Hands over what waits to be written, by site. `isAhead`: the rules know of things that are not stored yet. */
  takeJudgements(isAhead: boolean): ReadonlyMap<string, Judgement>;
  /** What was handed over could not be written yet. */
  giveBack(judgements: ReadonlyMap<string, Judgement>): void;
}

/**
 * Puts everything that arrives into groups, one commit after the other: what comes while a commit is
 * under way shares the next one. Whoever submits waits until it is on disk; while the disk refuses,
 * they wait on, and it is tried again.
 */
export class Recorder {
  readonly #store: Store;
  readonly #clock: Clock;
  #judging: JudgementSource | undefined;
  #waiting: Submission[] = [];
  #underWay: readonly Submission[] = [];
  /** Of those that wait, not of those under way. */
  #entriesWaiting = 0;
  #running: Promise<void> | undefined;
  #wanted = false;
  #closing = false;
  #closed = false;
  #failure: string | null = null;

  constructor(store: Store, clock: Clock) {
    this.#store = store;
    this.#clock = clock;
  }

  judgeWith(judging: JudgementSource): void {
    this.#judging = judging;
  }

  /** Resolves once the entries are committed and judged, with what became of each. */
  submit(
    site: string,
    entries: readonly NewEntry[],
    arrivedMs: number,
    { waits = true } = {},
  ): Promise<readonly EntryResult[]> {
    if (this.#closed) return Promise.reject(new StoreError('store-closed', 'the store is closed'));
    const isRefusing = this.#failure !== null;
    if ((isRefusing && !waits) || this.#entriesWaiting + entries.length > MOST_WAITING) {
      const why = `too much waits for the disk: ${this.#failure ?? 'it is too slow'}`;
      return Promise.reject(new StoreError('store-write-failed', why));
    }
    return new Promise((settle, fail) => {
      if (isRefusing) this.#judging?.unkept(site, entries);
      this.#entriesWaiting += entries.length;
      this.#waiting.push({ site, entries, arrivedMs, isJudged: isRefusing, waits, settle, fail });
      this.flush();
    });
  }

  /** Writes what waits, and the judgements that have piled up. */
  flush(): void {
    this.#wanted = true;
    // Not at once: what a device has sent together is still being handed over, and shares the commit.
    this.#running ??= Promise.resolve()
      .then(() => this.#run())
      .finally(() => {
        this.#running = undefined;
        if (this.#wanted && !this.#closed) this.flush();
      });
  }

  /** Arrival of the oldest thing not committed yet, ms. */
  oldestWaitingMs(): number | null {
    return (this.#underWay[0] ?? this.#waiting[0])?.arrivedMs ?? null;
  }

  /** Arrival of the oldest thing that the rules have not had, neither from the disk nor from memory, ms. */
  oldestUnjudgedMs(): number | null {
    const unjudged = ({ isJudged }: Submission) => !isJudged;
    return (this.#underWay.find(unjudged) ?? this.#waiting.find(unjudged))?.arrivedMs ?? null;
  }

  /** Why nothing can be written at present, or null. */
  get failure(): string | null {
    return this.#failure;
  }

  /** Commits what waits and ends; a store that refuses is not asked again. */
  async close(): Promise<void> {
    this.#closing = true;
    this.flush();
    while (this.#running !== undefined && this.#failure === null) await this.#running;
    this.#closed = true;
    for (const submission of [...this.#underWay, ...this.#waiting]) {
      submission.fail(new StoreError('store-closed', 'the store was closed before this was written'));
    }
  }

  async #run(): Promise<void> {
    while (this.#wanted && !this.#closed) {
      this.#wanted = false;
      const group = this.#takeGroup();
      this.#underWay = group;
      const isAhead = [...group, ...this.#waiting].some(({ isJudged }) => isJudged);
      const judgements = this.#judging?.takeJudgements(isAhead) ?? new Map<string, Judgement>();
      const corrected = group.map(({ site, entries }) => this.#corrected(site, entries));
      const units = unitsOf(group, corrected, judgements);
      if (units.length === 0) return;
      let results: readonly WriteResult[];
      const slow = setTimeout(() => {
        this.#failure ??= 'the disk does not answer';
        this.#judgeUnkept(group);
      }, SLOW_MS);
      try {
        results = await this.#store.write(units);
      } catch (error) {
        this.#failure = error instanceof Error ? error.message : String(error);
        this.#underWay = [];
        const patient = group.filter(({ waits }) => waits);
        this.#waiting = [...patient, ...this.#waiting];
        this.#entriesWaiting += patient.reduce((sum, { entries }) => sum + entries.length, 0);
        this.#judgeUnkept([]);
        for (const { waits, fail } of group) {
          if (!waits) fail(new StoreError('store-write-failed', this.#failure));
        }
        this.#judging?.giveBack(judgements);
        if (this.#closing) {
          this.#wanted = false;
          return;
        }
        await new Promise<void>((resolve) => this.#clock.after(RETRY_MS, resolve));
        this.#wanted = true;
        continue;
      } finally {
        clearTimeout(slow);
      }
      this.#failure = null;
      this.#underWay = [];
      this.#deliver(group, corrected, judgements, results);
    }
  }

  /** What is under way, and what waits behind it. */
  #judgeUnkept(underWay: readonly Submission[]): void {
    for (const submission of [...underWay, ...this.#waiting]) {
      if (submission.isJudged || !submission.waits) continue;
      submission.isJudged = true;
      const { site, entries } = submission;
      this.#judging?.unkept(site, this.#corrected(site, entries));
    }
  }

  #corrected(site: string, entries: readonly NewEntry[]): readonly NewEntry[] {
    return this.#judging?.corrected(site, entries) ?? entries;
  }

  /** What a person does ends its group: it may be a check of a thermometer, which corrects what comes behind it. */
  #takeGroup(): Submission[] {
    let entries = 0;
    let count = 0;
    while (count < this.#waiting.length && (count === 0 || entries < MOST_ENTRIES)) {
      const submission = this.#waiting[count++]!;
      entries += submission.entries.length;
      if (!submission.waits) break;
    }
    const group = this.#waiting.splice(0, count);
    this.#entriesWaiting -= entries;
    if (this.#waiting.length > 0) this.#wanted = true;
    return group;
  }

  #deliver(
    group: readonly Submission[],
    corrected: readonly (readonly NewEntry[])[],
    judgements: ReadonlyMap<string, Judgement>,
    results: readonly WriteResult[],
  ): void {
    const bySite = new Map(results.map((result) => [result.site, result.entries]));
    const used = new Map<string, number>();
    for (const [i, submission] of group.entries()) {
      const { site, entries: given, isJudged } = submission;
      const entries = corrected[i]!;
      const from = used.get(site) ?? judgements.get(site)?.alarms.length ?? 0;
      used.set(site, from + entries.length);
      const own = bySite
        .get(site)!
        .slice(from, from + entries.length)
        .map((result, place) => this.#knownAgain(site, given[place]!, result));
      submission.settle(own);
      this.#judging?.committed({ site, entries, results: own, isJudged });
    }
  }

  /** A reading that came before a check and comes again after it is the same reading, however it is corrected now. */
  #knownAgain(site: string, given: NewEntry, result: EntryResult): EntryResult {
    return result.result === 'conflict' &&
      given.kind === 'reading' &&
      this.#judging?.isStoredAs(site, given, result.storedValue)
      ? { result: 'duplicate' }
      : result;
  }
}

/** One unit a site: first what the rules said to what is stored already, then what is new. */
function unitsOf(
  group: readonly Submission[],
  corrected: readonly (readonly NewEntry[])[],
  judgements: ReadonlyMap<string, Judgement>,
): WriteUnit[] {
  const entries = new Map<string, NewEntry[]>();
  for (const [site, { alarms }] of judgements) entries.set(site, [...alarms]);
  for (const [i, { site }] of group.entries()) {
    const list = entries.get(site);
    if (list === undefined) entries.set(site, [...corrected[i]!]);
    else for (const entry of corrected[i]!) list.push(entry);
  }
  return [...entries].map(([site, list]) => {
    const judgement = judgements.get(site);
    return {
      site,
      entries: list,
      ...(judgement && { judged: judgement.judged }),
      ...(judgement?.snapshot && { snapshot: judgement.snapshot }),
    };
  });
}
