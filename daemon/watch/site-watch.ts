import { inRange } from '../../shared/engine/channels.ts';
import type { AlarmChange, EngineInput, EngineOutput } from '../../shared/engine/events.ts';
import { emptySiteState, type SiteState } from '../../shared/engine/state.ts';
import { step } from '../../shared/engine/step.ts';
import { alarmId, vesselView } from '../../shared/engine/view.ts';
import { describeAlarm } from '../../shared/rules/describe.ts';
import type { Vessel } from '../../shared/wire/api.ts';
import { Ledger } from '../reach/ledger.ts';
import type { Judgement } from '../store/recorder.ts';
import type {
  EntryResult,
  NewAlarmEvent,
  NewEntry,
  SiteProgress,
  Store,
  StoredAction,
} from '../store/store.ts';
import { type Action, engineInput, engineInputOfAction, inputOfReading } from './actions.ts';
import { Batches } from './batches.ts';
import { Lots } from './lots.ts';
import { Templates } from './templates.ts';
import { Thermometers } from './thermometers.ts';

/** Stored entries that are read at a time when a site is rebuilt. */
const REBUILD_PAGE = 5000;
/** So often the engine's state is stored, ms by the arrival clock, or … */
const SNAPSHOT_EVERY_MS = 300_000;
/** … after so many positions: what a restart has to go through again. */
const SNAPSHOT_EVERY_POSITIONS = 20_000;

/** A stored reading, and whether the rules go by it. */
export interface JudgedReading {
  vessel: string;
  channel: string;
  atMs: number;
  value: number;
  sound: boolean;
}

/**
 * The rules at work on one site: takes what was committed in order, keeps the engine's state, and
 * collects what the rules said until it is stored.
 */
export class SiteWatch {
  readonly site: string;
  readonly batches: Batches;
  readonly lots: Lots;
  readonly templates: Templates;
  readonly thermometers: Thermometers;
  /** What people were told, and who works alone. */
  readonly ledger = new Ledger();
  /** What devices said of themselves last, and when by arrival. */
  readonly presence = new Map<string, { presence: 'here' | 'gone'; sinceMs: number }>();
  /** When a test warning was last sent, and by whom. */
  warningTested: { atMs: number; by: string } | null = null;
  #state: SiteState = emptySiteState();
  #position = 0;
  #pending: NewAlarmEvent[] = [];
  #judgedChanged = false;
  /** What was said to each submission that waits for the disk, and after it, in their order. */
  readonly #unkept: NewAlarmEvent[][] = [];
  /** How far time was judged when all was stored that was judged. */
  #keptMs = 0;
  #snapshotAt = { position: 0, ms: 0 };

  constructor(site: string) {
    this.site = site;
    this.batches = new Batches(site);
    this.lots = new Lots(site, this.batches);
    this.templates = new Templates(site);
    this.thermometers = new Thermometers(site);
  }

  /** Goes on from the stored state: what came after it is judged again, and stored alarms stay single. */
  async rebuild(store: Store, progress: SiteProgress): Promise<void> {
    const snapshot = progress.snapshot === null ? null : (JSON.parse(progress.snapshot.state) as SiteState);
    // A state of another version of the engine is not gone on from, but made anew from the beginning.
    if (snapshot?.version === emptySiteState().version) {
      this.#state = snapshot;
      this.#position = progress.snapshot!.position;
    }
    for (const action of await store.actions(this.site)) this.#applyAction(action, action.position);
    const judged = progress.judged ?? { position: 0, atMs: 0 };
    for (;;) {
      const entries = await store.entriesAfter(this.site, this.#position, REBUILD_PAGE);
      for (const entry of entries) {
        const input = engineInput(entry);
        if (input !== null) this.#step(input);
        this.#position = entry.position;
        // What was said up to here was stored in one write with how far was judged.
        if (entry.position <= judged.position) this.#pending = [];
      }
      if (entries.length === 0) break;
    }
    // What silence was judged before the end is judged again; the blind time since then is not.
    const judgedLater = this.#position > judged.position;
    this.#step({ type: 'tick', arrivedMs: judged.atMs });
    if (!judgedLater) this.#pending = [];
  }

  /** Takes note of what was done at a site that is judged elsewhere. */
  follow(actions: readonly StoredAction[]): void {
    for (const action of actions) this.#applyAction(action, action.position);
  }

  /** Judges committed entries, in order, if they are not judged yet. */
  committed(
    entries: readonly NewEntry[],
    results: readonly EntryResult[],
    isJudged: boolean,
  ): { outputs: EngineOutput[]; readings: JudgedReading[] } {
    const outputs: EngineOutput[] = [];
    const readings: JudgedReading[] = [];
    for (let i = 0; i < entries.length; i++) {
      const entry = entries[i]!;
      const result = results[i]!;
      if (result.result !== 'stored') continue;
      this.#position = Math.max(this.#position, result.position);
      this.#judgedChanged = true;
      if (entry.kind === 'alarm') continue;
      if (entry.kind === 'action') this.#applyAction(entry, result.position);
      if (isJudged) continue;
      const input = entry.kind === 'action' ? engineInputOfAction(entry) : inputOfReading(entry, result.atMs);
      if (input !== null) for (const output of this.#step(input)) outputs.push(output);
      if (entry.kind === 'reading') readings.push(this.#judged(entry, result.atMs));
    }
    if (isJudged) this.#pending.push(...(this.#unkept.shift() ?? []));
    return { outputs, readings };
  }

  /**
   * Judges entries that wait for a disk that refuses, in order. What they turn out to be when they are
   * stored (a duplicate, say) changes nothing any more.
   */
  unkept(entries: readonly NewEntry[]): { outputs: EngineOutput[]; readings: JudgedReading[] } {
    const outputs: EngineOutput[] = [];
    const readings: JudgedReading[] = [];
    this.#unkept.push([]);
    for (const entry of entries) {
      if (entry.kind === 'alarm') continue;
      if (entry.kind === 'action') {
        const input = engineInputOfAction(entry);
        if (input !== null) outputs.push(...this.#step(input));
        continue;
      }
      // As the store will do, so that one of the same millisecond is not taken for an old one.
      const newest = this.#state.vessels[entry.vessel]?.channels[entry.channel];
      const isBehind = newest?.stamped === true && entry.stamped && entry.atMs <= newest.newestAtMs;
      const atMs = isBehind ? newest.newestAtMs + 1 : entry.atMs;
      outputs.push(...this.#step(inputOfReading(entry, atMs)));
      readings.push(this.#judged(entry, atMs));
    }
    return { outputs, readings };
  }

  /** Tells the rules how late it is. */
  tick(nowMs: number): EngineOutput[] {
    return nowMs > this.#state.nowMs ? this.#step({ type: 'tick', arrivedMs: nowMs }) : [];
  }

  get state(): SiteState {
    return this.#state;
  }

  get hasPending(): boolean {
    return this.#pending.length > 0;
  }

  vessel(name: string, nowMs: number): Vessel | undefined {
    const vessel = Object.hasOwn(this.#state.vessels, name) ? this.#state.vessels[name] : undefined;
    if (vessel === undefined) return undefined;
    const batch = vessel.batch === null ? undefined : this.batches.get(vessel.batch);
    return vesselView(this.#state, this.site, vessel, nowMs, batch?.name ?? null);
  }

  vessels(nowMs: number): Vessel[] {
    return Object.keys(this.#state.vessels).map((name) => this.vessel(name, nowMs)!);
  }

  /** What was said since, and at times the state: not while it knows of what is not stored yet. */
  takeJudgement(final: boolean, isAhead: boolean): Judgement | undefined {
    if (!this.#judgedChanged && this.#pending.length === 0 && !final) return undefined;
    const alarms = this.#pending;
    this.#pending = [];
    this.#judgedChanged = false;
    const { nowMs } = this.#state;
    if (!isAhead) this.#keptMs = nowMs;
    const due =
      !isAhead &&
      (final ||
        nowMs - this.#snapshotAt.ms >= SNAPSHOT_EVERY_MS ||
        this.#position - this.#snapshotAt.position >= SNAPSHOT_EVERY_POSITIONS);
    if (due) this.#snapshotAt = { position: this.#position, ms: nowMs };
    return {
      alarms,
      judged: { position: this.#position, atMs: this.#keptMs },
      ...(due && { snapshot: { position: this.#position, state: JSON.stringify(this.#state) } }),
    };
  }

  giveBack({ alarms, snapshot }: Judgement): void {
    this.#pending = [...(alarms as NewAlarmEvent[]), ...this.#pending];
    this.#judgedChanged = true;
    if (snapshot !== undefined) this.#snapshotAt = { position: 0, ms: 0 };
  }

  #judged({ vessel, channel, value }: Extract<NewEntry, { kind: 'reading' }>, atMs: number): JudgedReading {
    const newest = this.#state.vessels[vessel]?.channels[channel]?.newest;
    // One that fills in the past is history, and only its range can be judged.
    const sound = newest?.atMs === atMs ? newest.sound : inRange(channel, value);
    return { vessel, channel, atMs, value, sound };
  }

  #applyAction(entry: Extract<NewEntry, { kind: 'action' }>, position: number): void {
    this.batches.apply(entry);
    this.lots.apply(entry);
    this.templates.apply(entry);
    this.thermometers.apply(entry, position);
    this.ledger.apply(entry);
    const { action, body } = entry as unknown as Action;
    if (action === 'presence')
      this.presence.set(body.device, { presence: body.presence, sinceMs: entry.arrivedMs });
    if (action === 'warning-tested') this.warningTested = { atMs: entry.atMs, by: entry.by };
  }

  #step(input: EngineInput): EngineOutput[] {
    const [state, out] = step(this.#state, input);
    this.#state = state;
    // What is said to something that is not stored yet must not be stored before it.
    const said = this.#unkept.at(-1) ?? this.#pending;
    for (const output of out) {
      if (output.type === 'alarm') said.push(alarmEntry(this.site, output, input));
    }
    return out;
  }
}

function alarmEntry(site: string, change: AlarmChange, input: EngineInput): NewAlarmEvent {
  const { vessel, alarm, event, number, priority, atMs, late, value, limit, facts, explainedBy, shelved } =
    change;
  const id = alarmId(site, vessel, number);
  const acknowledgement =
    event === 'acknowledged' && input.type === 'acknowledge' ? { by: input.by, reason: input.reason } : {};
  return {
    kind: 'alarm',
    // The same inputs give the same alarms with the same numbers: what is judged again has the same key.
    key: `${id} ${alarm} ${event} ${priority} ${atMs}`,
    id,
    vessel,
    alarm,
    event,
    priority,
    atMs,
    arrivedMs: Math.max(atMs, input.arrivedMs),
    body: {
      late,
      value,
      limit,
      facts,
      explainedBy,
      shelved,
      ...describeAlarm(alarm, facts, 'C'),
      ...acknowledgement,
    },
  };
}
