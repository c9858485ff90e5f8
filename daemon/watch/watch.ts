import { randomUUID } from 'node:crypto';
import type { EngineOutput } from '../../shared/engine/events.ts';
import { isName } from '../../shared/wire/names.ts';
import { type ArrivalClock, type Clock, every, type Timer } from '../clock.ts';
import type { KnownNames } from '../intake/intake.ts';
import type { Committed, Judgement, JudgementSource, Recorder } from '../store/recorder.ts';
import { type NewAction, type NewEntry, type NewReading, type Store, StoreError } from '../store/store.ts';
import { newAction } from './actions.ts';
import { type JudgedReading, SiteWatch } from './site-watch.ts';

/** Silence is judged so often, ms; alarms carry the deadline itself as their time. */
const TICK_MS = 500;

/** What the watch tells those who show and warn. */
export interface WatchListener {
  /** Readings of one site, as judged, committed or waiting for a disk that refuses. */
  readings(site: string, readings: readonly JudgedReading[]): void;
  outputs(site: string, outputs: readonly EngineOutput[]): void;
}

/**
 * All sites under watch. The live stage after the store: it knows only what was committed, and what waits for
 * a disk that refuses.
 */
export class Watch implements JudgementSource, KnownNames {
  readonly #store: Store;
  readonly #recorder: Recorder;
  readonly #arrivals: ArrivalClock;
  readonly #clock: Clock;
  readonly #sites = new Map<string, SiteWatch>();
  readonly #listeners: WatchListener[] = [];
  #ticking: Timer | undefined;
  #final = false;
  /** Whether a site that is not watched here is by another daemon, which forwards it. */
  isElsewhere: (site: string) => boolean = () => false;
  /** Readings committed since the start. */
  storedReadings = 0;

  constructor(parts: { store: Store; recorder: Recorder; arrivals: ArrivalClock; clock: Clock }) {
    this.#store = parts.store;
    this.#recorder = parts.recorder;
    this.#arrivals = parts.arrivals;
    this.#clock = parts.clock;
  }

  listen(listener: WatchListener): void {
    this.#listeners.push(listener);
  }

  /**
   * Rebuilds every site, notes the start in each, and begins to judge.
   * @throws StoreError `store-changed` where what it would go on from is damaged.
   */
  async start(): Promise<void> {
    for (const progress of await this.#store.sites()) {
      if (!progress.isAsWritten)
        throw new StoreError(
          'store-changed',
          `${progress.site}: how far it is, or the state kept with it, is damaged; verify says where`,
        );
      // Those are judged where they are watched; of what is told here there is nothing to judge.
      if (progress.isForwarded || !isName(progress.site)) continue;
      const site = new SiteWatch(progress.site);
      await site.rebuild(this.#store, progress);
      this.#sites.set(progress.site, site);
    }
    this.#recorder.judgeWith(this);
    this.#arrivals.onStep = (stepMs) => this.#noteStep(stepMs);
    const arrivedMs = this.#arrivals.nowMs();
    await Promise.all(
      [...this.#sites].map(([name, site]) =>
        this.#recorder.submit(name, startActions(site.state.nowMs, arrivedMs), arrivedMs),
      ),
    );
    this.#ticking = every(this.#clock, TICK_MS, () => this.tick());
  }

  /** Ends the judging; the states are stored with the recorder's last commit. */
  stop(): void {
    this.#ticking?.cancel();
    this.#final = true;
  }

  /** Tells every site how late it is, but no later than what has arrived and is not judged yet. */
  tick(): void {
    const now = this.#arrivals.nowMs();
    const waiting = this.#recorder.oldestUnjudgedMs();
    const nowMs = waiting === null ? now : Math.min(now, waiting - 1);
    for (const [name, site] of this.#sites) {
      const outputs = site.tick(nowMs);
      if (outputs.length > 0) this.#tell(name, outputs);
      if (site.hasPending) this.#recorder.flush();
    }
  }

  // ---- what the recorder wants ----

  corrected(name: string, entries: readonly NewEntry[]): readonly NewEntry[] {
    return this.#sites.get(name)?.thermometers.corrected(entries) ?? entries;
  }

  isStoredAs(name: string, reading: NewReading, storedValue: number): boolean {
    return this.#sites.get(name)?.thermometers.isStoredAs(reading, storedValue) ?? false;
  }

  committed({ site: name, entries, results, isJudged }: Committed): void {
    if (!isName(name)) return;
    const site = this.#siteOf(name);
    const judged = site.committed(entries, results, isJudged);
    for (let i = 0; i < results.length; i++)
      if (results[i]!.result === 'stored' && entries[i]!.kind === 'reading') this.storedReadings++;
    this.#show(name, judged);
    if (site.hasPending) this.#recorder.flush();
  }

  unkept(name: string, entries: readonly NewEntry[]): void {
    if (!isName(name)) return;
    this.#show(name, this.#siteOf(name).unkept(entries));
  }

  takeJudgements(isAhead: boolean): ReadonlyMap<string, Judgement> {
    const judgements = new Map<string, Judgement>();
    for (const [name, site] of this.#sites) {
      const judgement = site.takeJudgement(this.#final, isAhead);
      if (judgement !== undefined) judgements.set(name, judgement);
    }
    this.#final = false;
    return judgements;
  }

  giveBack(judgements: ReadonlyMap<string, Judgement>): void {
    for (const [name, judgement] of judgements) this.#sites.get(name)?.giveBack(judgement);
  }

  #siteOf(name: string): SiteWatch {
    let site = this.#sites.get(name);
    if (site === undefined) {
      site = new SiteWatch(name);
      this.#sites.set(name, site);
    }
    return site;
  }

  #show(site: string, { outputs, readings }: ReturnType<SiteWatch['unkept']>): void {
    if (readings.length > 0) for (const listener of this.#listeners) listener.readings(site, readings);
    if (outputs.length > 0) this.#tell(site, outputs);
  }

  // ---- what others ask ----

  site(name: string): SiteWatch | undefined {
    return this.#sites.get(name);
  }

  sites(): SiteWatch[] {
    return [...this.#sites.values()];
  }

  hasVessel(site: string, vessel: string): boolean {
    return Object.hasOwn(this.#sites.get(site)?.state.vessels ?? {}, vessel);
  }

  hasChannel(site: string, vessel: string, channel: string): boolean {
    return Object.hasOwn(this.#sites.get(site)?.state.vessels[vessel]?.channels ?? {}, channel);
  }

  vesselCount(): number {
    return this.sites().reduce((count, site) => count + Object.keys(site.state.vessels).length, 0);
  }

  channelCount(site: string, vessel: string): number {
    return Object.keys(this.#sites.get(site)?.state.vessels[vessel]?.channels ?? {}).length;
  }

  presence(site: string, device: string): string | undefined {
    return this.#sites.get(site)?.presence.get(device)?.presence;
  }

  isForwarded(site: string): boolean {
    return !this.#sites.has(site) && this.isElsewhere(site);
  }

  deviceCount(): number {
    return this.sites().reduce((count, site) => count + site.presence.size, 0);
  }

  newBatchId(): string {
    return randomUUID();
  }

  #tell(site: string, outputs: readonly EngineOutput[]): void {
    for (const listener of this.#listeners) listener.outputs(site, outputs);
  }

  #noteStep(stepMs: number): void {
    // Not `nowMs()`, which is what noticed the step and is on its way to the new time.
    const arrivedMs = Math.round(this.#clock.wallMs());
    for (const name of this.#sites.keys()) {
      const action = newAction('clock-step', { stepMs }, { by: 'daemon', atMs: arrivedMs, arrivedMs });
      // Until the step is judged, no site may be told a time beyond it: nothing would seem fresh.
      const beforeMs = Math.min(arrivedMs, arrivedMs - stepMs);
      this.#recorder.submit(name, [action], beforeMs).catch(() => {});
    }
  }
}

/**
 * What a start notes in a site. Where the clock is behind what was stored last (a machine that keeps no
 * time without power), that is a step back: without it every new reading would count as an old one.
 */
function startActions(knownMs: number, arrivedMs: number): NewAction[] {
  const at = { by: 'daemon', atMs: arrivedMs, arrivedMs };
  const started = newAction(
    'started',
    { downSinceMs: knownMs === 0 ? null : Math.min(knownMs, arrivedMs) },
    at,
  );
  return knownMs > arrivedMs
    ? [newAction('clock-step', { stepMs: arrivedMs - knownMs }, at), started]
    : [started];
}
