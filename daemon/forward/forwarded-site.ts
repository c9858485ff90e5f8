import type { Alarm, Forwarded, Vessel } from '../../shared/wire/api.ts';
import type { Picture } from '../../shared/wire/forward.ts';
import type { Priority } from '../../shared/wire/names.ts';
import type { SiteAnswer } from '../../shared/wire/set-up.ts';
import { isoTime } from '../../shared/wire/time.ts';
import type { Clock } from '../clock.ts';
import { type DutyAlarm, WHOLE_SITE } from '../reach/duty.ts';
import { Ledger } from '../reach/ledger.ts';
import type { ToldSite } from '../reach/told-site.ts';
import type { SiteChannel } from '../store/store.ts';
import { SiteWatch } from '../watch/site-watch.ts';

/** What is shown is live no longer than this, ms: the site sends every 5 s. */
const LIVE_MS = 60_000;
/** No alarm of the rules: a centre says it of a site from which nothing comes. */
const SILENT = 'site-silent';
const SILENT_PRIORITY: Priority = 'high';

/** In whose chain it stands what a centre told of a site: no site has such a name. */
export const notesChain = (site: string): string => `-${site}`;

interface Seen {
  picture: Picture;
  /** When it was made, by the monotonic clock here: whatever the clocks say, it never gets younger. */
  madeMs: number;
}

/**
 * A site that another daemon watches: what was done there, from its seals, and what it is like, from its last picture.
 * Nothing is judged here, and nothing of it changes here.
 */
export class ForwardedSite extends SiteWatch {
  /** What people here were told of it: its own daemon tells people, too. */
  readonly told = new Ledger();
  readonly #clock: Clock;
  readonly #silentAfterMs: number;
  /** Vessels that have readings in its seals. */
  readonly #vessels = new Set<string>();
  #seen: Seen | null = null;
  /** When anything came last, by the monotonic clock and by that of arrivals. */
  #heard: { monotonicMs: number; atMs: number };
  /** Of its chain, how many are here. */
  entries = 0;

  constructor(site: string, parts: { clock: Clock; nowMs: number; silentAfterMs: number }) {
    super(site);
    this.#clock = parts.clock;
    this.#silentAfterMs = parts.silentAfterMs;
    this.#heard = { monotonicMs: parts.clock.monotonicMs(), atMs: parts.nowMs };
  }

  // ---- what comes ----

  hear(nowMs: number): void {
    this.#heard = { monotonicMs: this.#clock.monotonicMs(), atMs: nowMs };
  }

  know(channels: readonly SiteChannel[]): void {
    for (const { vessel } of channels) this.#vessels.add(vessel);
  }

  /** Takes a picture, unless a newer one has come. */
  see(picture: Picture, madeMs: number): void {
    if (this.#seen !== null && madeMs < this.#seen.madeMs) return;
    this.#seen = { picture, madeMs: Math.min(madeMs, this.#clock.monotonicMs()) };
  }

  // ---- what is shown ----

  has(vessel: string): boolean {
    return (
      this.#vessels.has(vessel) || (this.#seen?.picture.vessels.some((one) => one.vessel === vessel) ?? false)
    );
  }

  get picture(): Picture | null {
    return this.#seen?.picture ?? null;
  }

  get age(): Forwarded | null {
    if (this.#seen === null) return null;
    const ageMs = Math.max(0, Math.round(this.#clock.monotonicMs() - this.#seen.madeMs));
    return { asOf: this.#seen.picture.at, ageMs, live: ageMs <= LIVE_MS };
  }

  override vessels(): Vessel[] {
    const { age } = this;
    if (age === null) return [];
    return this.#seen!.picture.vessels.map((vessel) => aged(vessel, age));
  }

  override vessel(name: string): Vessel | undefined {
    const { age } = this;
    const found = this.#seen?.picture.vessels.find(({ vessel }) => vessel === name);
    return age === null || found === undefined ? undefined : aged(found, age);
  }

  /** As its daemon last said of the site; null where no picture has come. */
  get answer(): SiteAnswer | null {
    const { age } = this;
    return age === null ? null : { ...this.#seen!.picture.site, forwarded: age };
  }

  // ---- what people here are told ----

  get asTold(): ToldSite {
    return {
      site: this.site,
      chain: notesChain(this.site),
      ledger: this.told,
      isForwarded: true,
      vesselNames: () => this.vessels().map(({ vessel }) => vessel),
      vessel: (name) => this.vessel(name),
      alarmsOf: (name) => (name === WHOLE_SITE ? this.#silence() : (this.vessel(name)?.alarms ?? [])),
      duty: () => ({ alarms: this.#dutyAlarms(), settling: [], alone: [] }),
    };
  }

  #dutyAlarms(): DutyAlarm[] {
    const resting = new Set(this.#seen?.picture.resting);
    const alarms = this.vessels().flatMap(({ alarms, vessel }) =>
      alarms.filter(({ standing }) => standing).map((alarm) => dutyAlarm(alarm, resting.has(vessel))),
    );
    return [...alarms, ...this.#silence().map((alarm) => dutyAlarm(alarm, false))];
  }

  /** What is said of a site from which nothing has come for so long. */
  #silence(): Alarm[] {
    const silentMs = this.#clock.monotonicMs() - this.#heard.monotonicMs;
    if (silentMs < this.#silentAfterMs) return [];
    const minutes = Math.floor(silentMs / 60_000);
    return [
      {
        id: `${this.site}.${WHOLE_SITE}.1`,
        at: isoTime(this.#heard.atMs),
        site: this.site,
        vessel: WHOLE_SITE,
        alarm: SILENT,
        event: 'raised',
        priority: SILENT_PRIORITY,
        late: false,
        value: null,
        limit: null,
        because: `Nothing has come from ${this.site} for ${minutes} min: what is shown of it is old.`,
        todo: `Call somebody at ${this.site}: whether its daemon runs, and its link to here. Alarms of it do not come here now.`,
        facts: {},
        explainedBy: null,
        told: true,
        clearedAt: null,
        standing: true,
        acknowledged: null,
        shelved: null,
      },
    ];
  }
}

/** Readings are older by as much as the picture is. */
const aged = (vessel: Vessel, age: Forwarded): Vessel => ({
  ...vessel,
  readings: Object.fromEntries(
    Object.entries(vessel.readings).map(([channel, reading]) => [
      channel,
      { ...reading, ageMs: reading.ageMs + age.ageMs },
    ]),
  ),
  forwarded: age,
});

const dutyAlarm = (alarm: Alarm, resting: boolean): DutyAlarm => ({
  vessel: alarm.vessel,
  number: Number(alarm.id.split('.')[2]),
  alarm: alarm.alarm,
  priority: alarm.priority,
  atMs: Date.parse(alarm.at),
  told: alarm.told,
  acknowledged: alarm.acknowledged !== null,
  resting,
});
