import { randomUUID } from 'node:crypto';
import type { z } from 'zod';
import { alarmId } from '../../shared/engine/view.ts';
import type { forwardedSiteSchema, Picture, Place } from '../../shared/wire/forward.ts';
import type { Access } from '../access/access.ts';
import type { ArrivalClock, Clock } from '../clock.ts';
import { Problem } from '../http/problem.ts';
import type { ToldSite } from '../reach/told-site.ts';
import type { Recorder } from '../store/recorder.ts';
import type { Photograph, Store } from '../store/store.ts';
import { newAction } from '../watch/actions.ts';
import type { Watch } from '../watch/watch.ts';
import { ForwardedSite, notesChain } from './forwarded-site.ts';

/** Told where a forwarded site has changed. */
export interface ForwardedListener {
  forwarded(before: Picture | null, site: ForwardedSite): void;
}

/** The sites that other daemons watch and forward to this one. */
export class Centre {
  readonly #store: Store;
  readonly #recorder: Recorder;
  readonly #watch: Watch;
  readonly #access: Pick<Access, 'isForwarded'>;
  readonly #arrivals: ArrivalClock;
  readonly #clock: Clock;
  readonly #silentAfterMs: number;
  readonly #sites = new Map<string, ForwardedSite>();
  readonly #listeners: ForwardedListener[] = [];
  /** A mark of an earlier run says nothing: its clock was another. */
  readonly #run = randomUUID();

  constructor(parts: {
    store: Store;
    recorder: Recorder;
    watch: Watch;
    access: Pick<Access, 'isForwarded'>;
    arrivals: ArrivalClock;
    clock: Clock;
    silentAfterMinutes: number;
  }) {
    this.#store = parts.store;
    this.#recorder = parts.recorder;
    this.#watch = parts.watch;
    this.#access = parts.access;
    this.#arrivals = parts.arrivals;
    this.#clock = parts.clock;
    this.#silentAfterMs = parts.silentAfterMinutes * 60_000;
    this.#watch.isElsewhere = (site) => this.#sites.has(site) || this.#access.isForwarded(site);
  }

  /** Makes known what is there of forwarded sites. */
  async start(): Promise<void> {
    for (const { site: name, isForwarded, lastPosition } of await this.#store.sites()) {
      if (!isForwarded) continue;
      const site = this.#site(name);
      site.follow(await this.#store.actions(name));
      site.know(await this.#store.channels(name));
      site.entries = lastPosition;
      for (const action of await this.#store.actions(notesChain(name))) site.told.apply(action);
    }
    const followed = this.#arrivals.onStep;
    this.#arrivals.onStep = (stepMs) => {
      followed(stepMs);
      this.#noteStep(stepMs);
    };
  }

  listen(listener: ForwardedListener): void {
    this.#listeners.push(listener);
  }

  site(name: string): ForwardedSite | undefined {
    return this.#sites.get(name);
  }

  sites(): ForwardedSite[] {
    return [...this.#sites.values()];
  }

  toldSites(): ToldSite[] {
    return this.sites().map((site) => site.asTold);
  }

  /** Chains of what people here were told, which are sealed like those of sites. */
  chains(): string[] {
    return this.sites()
      .filter(({ told }) => told.messages().length > 0)
      .map(({ site }) => notesChain(site));
  }

  statusOf({ site, entries, age, picture }: ForwardedSite): z.infer<typeof forwardedSiteSchema> {
    return {
      site,
      entries,
      asOf: age?.asOf ?? null,
      ageMs: age?.ageMs ?? null,
      live: age?.live ?? false,
      ready: picture?.ready ?? null,
      because: picture?.because ?? [],
    };
  }

  // ---- what comes ----

  /** Where a site is here; refuses one that is watched here. */
  place(name: string): Place {
    if (this.#watch.site(name) !== undefined) throw new Problem('site-own', `${name} is watched here`);
    const entries = this.#sites.get(name)?.entries ?? 0;
    return { site: name, entries, mark: `${this.#run}.${Math.floor(this.#clock.monotonicMs())}` };
  }

  takePicture(name: string, picture: Picture): Place {
    const place = this.place(name);
    refuseForeign(name, picture);
    const [run, ms] = picture.mark.split('.');
    if (run !== this.#run || !/^\d{1,15}$/.test(ms ?? ''))
      throw new Problem('mark-unknown', 'the mark is none of this run of the daemon');
    const site = this.#site(name);
    const before = site.picture;
    site.see(picture, Number(ms) + picture.agoMs);
    site.hear(this.#arrivals.nowMs());
    if (site.picture !== before) for (const listener of this.#listeners) listener.forwarded(before, site);
    return place;
  }

  async takeSeal(name: string, bytes: Uint8Array): Promise<Place> {
    this.place(name);
    const taken = await this.#store.takeSeal(name, bytes);
    if (!taken.taken) throw new Problem(SEAL_PROBLEMS[taken.code], taken.because);
    const site = this.#site(name);
    site.follow(taken.actions);
    site.know(taken.channels);
    site.entries = taken.to;
    site.hear(this.#arrivals.nowMs());
    return this.place(name);
  }

  async takePhotograph(name: string, photograph: Photograph): Promise<Place> {
    this.place(name);
    if (!(await this.#store.awaitPhotograph(name, photograph)))
      throw new Problem('photographs-waiting', `too many photographs of ${name} wait for their entry`);
    this.#sites.get(name)?.hear(this.#arrivals.nowMs());
    return this.place(name);
  }

  #site(name: string): ForwardedSite {
    let site = this.#sites.get(name);
    if (site === undefined) {
      const nowMs = this.#arrivals.nowMs();
      site = new ForwardedSite(name, { clock: this.#clock, nowMs, silentAfterMs: this.#silentAfterMs });
      this.#sites.set(name, site);
    }
    return site;
  }

  /** Set back, what is told would be told late: the history of what was told says so, too. */
  #noteStep(stepMs: number): void {
    const nowMs = Math.round(this.#clock.wallMs());
    const step = newAction('clock-step', { stepMs }, { by: 'daemon', atMs: nowMs, arrivedMs: nowMs });
    for (const { site, told } of this.#sites.values()) {
      told.apply(step);
      if (told.messages().length > 0)
        void this.#recorder.submit(notesChain(site), [step], nowMs).catch(() => {});
    }
  }
}

const SEAL_PROBLEMS = {
  own: 'site-own',
  'not-next': 'seal-not-next',
  'not-whole': 'seal-not-whole',
} as const;

/** @throws Problem `body-invalid` where a picture shows what is not of its site. */
function refuseForeign(site: string, picture: Picture): void {
  const names = new Set<string>();
  for (const vessel of picture.vessels) {
    const isOwn = vessel.alarms.every(({ id, ...alarm }) => {
      const number = Number(id.split('.')[2]);
      const isNamed = Number.isSafeInteger(number) && id === alarmId(site, vessel.vessel, number);
      return isNamed && alarm.site === site && alarm.vessel === vessel.vessel;
    });
    if (vessel.site !== site || names.has(vessel.vessel) || !isOwn)
      throw new Problem('body-invalid', `vessels: ${vessel.vessel} is not as one of ${site}`);
    names.add(vessel.vessel);
  }
  if (picture.site.site !== site) throw new Problem('body-invalid', `site: it is not ${site}`);
}
