import type { z } from 'zod';
import { conditionsFor, conversionTestOf, missingOf } from '../../shared/batch/conditions.ts';
import { handedOutL, measuredFuelL } from '../../shared/batch/fuel.ts';
import { stageCautions } from '../../shared/batch/stage-cautions.ts';
import {
  contradictsAltitude,
  SEA_LEVEL_HPA,
  standardAltitudeM,
  standardPressureHPa,
} from '../../shared/chemistry/atmosphere.ts';
import {
  type BoilingPoint,
  barometerCounts,
  openBoilingPoint,
  statedPressureHPa,
} from '../../shared/engine/boiling.ts';
import type { StatedPressure } from '../../shared/engine/events.ts';
import type { SiteState, VesselState } from '../../shared/engine/state.ts';
import type { PlanNumbers } from '../../shared/plan/answer.ts';
import { computePlan } from '../../shared/plan/compute.ts';
import type { PlanRequest } from '../../shared/plan/request.ts';
import type { WatchPlan } from '../../shared/plan/watch-plan.ts';
import type { AlarmName } from '../../shared/rules/names.ts';
import type { Alarm, conditionsSchema, Vessel, vesselBodySchema } from '../../shared/wire/api.ts';
import type { Batch, moveBodySchema, stageBodySchema } from '../../shared/wire/batch.ts';
import type { BatchEntry, EntryBody, EntryWhat } from '../../shared/wire/entries.ts';
import { ENDED_STAGES, isName, longestShelfMinutes, type Stage } from '../../shared/wire/names.ts';
import type { SiteAnswer } from '../../shared/wire/set-up.ts';
import { isoTime } from '../../shared/wire/time.ts';
import type { Centre } from '../forward/centre.ts';
import type { Intake } from '../intake/intake.ts';
import type { EntryResult, Photograph } from '../store/store.ts';
import { newAction } from '../watch/actions.ts';
import { entryResult } from '../watch/entry-result.ts';
import type { SiteWatch } from '../watch/site-watch.ts';
import { stageFacts } from '../watch/stage-facts.ts';
import type { Watch } from '../watch/watch.ts';
import { type Acting, type Done, timeOf } from './acting.ts';
import { askedFor } from './made-like.ts';
import { Problem, planned } from './problem.ts';

type StageBody = z.infer<typeof stageBodySchema>;
type Conditions = z.infer<typeof conditionsSchema>;

/** What is done with glycerol: warmed so that it runs, freed of methanol, drained, and gone. */
const OF_GLYCEROL: readonly Stage[] = ['warm', 'recover', 'drain', 'idle'];

/** Photographs of a batch: with 4 MiB each, 400 MiB at most. */
const MOST_PHOTOGRAPHS = 100;

/** What people do at vessels and with batches: each checks what must be true, notes an action, and answers. */
export class Operations {
  readonly #watch: Watch;
  readonly #acting: Acting;
  readonly #intake: Intake;
  readonly #centre: Centre;

  constructor(parts: { watch: Watch; acting: Acting; intake: Intake; centre: Centre }) {
    this.#watch = parts.watch;
    this.#acting = parts.acting;
    this.#intake = parts.intake;
    this.#centre = parts.centre;
  }

  /**
   * A vessel at which something is done: as `shownVessel`, of a site that is watched here.
   * @throws Problem `site-forwarded` for another
   */
  findVessel(name: string): { site: SiteWatch; vessel: string } {
    const found = this.shownVessel(name);
    this.#refuseForwarded(found.site.site);
    return found;
  }

  /** @throws Problem `site-forwarded` where another daemon watches a site: nothing is done to it here. */
  #refuseForwarded(site: string): void {
    if (this.#centre.site(site) !== undefined || this.#watch.isForwarded(site))
      throw new Problem('site-forwarded', `${site} is watched by another daemon: do it at the site`);
  }

  /** `SITE:VESSEL`, or the vessel's name alone where only one site has it; those that are watched here come first. */
  shownVessel(name: string): { site: SiteWatch; vessel: string } {
    const [first, second, ...more] = name.split(':') as [string, string?];
    if (second !== undefined) {
      const forwarded = this.#centre.site(first);
      const site = forwarded ?? this.#watch.site(first);
      const isThere = forwarded?.has(second) ?? this.#watch.hasVessel(first, second);
      if (site === undefined || more.length > 0 || !isThere) {
        throw new Problem('vessel-unknown', `there is no vessel ${name}`);
      }
      return { site, vessel: second };
    }
    const own = this.#watch.sites().filter(({ site }) => this.#watch.hasVessel(site, first));
    const sites = own.length > 0 ? own : this.#centre.sites().filter((site) => site.has(first));
    if (sites.length === 0) throw new Problem('vessel-unknown', `there is no vessel ${name}`);
    if (sites.length > 1) {
      const vessels = sites.map(({ site }) => `${site}:${first}`);
      throw new Problem('vessel-ambiguous', `say which: ${vessels.join(', ')}`, { vessels });
    }
    return { site: sites[0]!, vessel: first };
  }

  view(name: string): Vessel {
    const { site, vessel } = this.shownVessel(name);
    const view = site.vessel(vessel, this.#acting.nowMs());
    if (view === undefined) throw new Problem('vessel-unknown', `what ${name} is like has not come yet`);
    return view;
  }

  stateSite(name: string, stated: StatedPressure, by: string | undefined): Promise<SiteAnswer> {
    return this.#acting.oneAtATime(async () => {
      if (!isName(name)) throw new Problem('body-invalid', 'a site is small letters, digits and hyphens');
      this.#refuseForwarded(name);
      await this.#acting.act(name, 'site-stated', { site: stated }, by);
      return this.siteAnswer(name);
    });
  }

  /** Makes a vessel known that nothing measures, or says what one is, or that it is empty. A new one is `SITE:VESSEL`. */
  stateVessel(name: string, { role, empty, by }: z.infer<typeof vesselBodySchema>): Promise<Vessel> {
    return this.#acting.oneAtATime(async () => {
      const { site, vessel } = this.#newOrKnown(name);
      const state = this.#watch.site(site)?.state.vessels[vessel];
      const batch = state?.batch ?? null;
      if (empty && batch !== null) throw new Problem('vessel-taken', `${name} belongs to batch ${batch}`);
      const done = this.#acting.done({ by });
      const isNews = role !== undefined || state === undefined;
      const actions = [
        ...(isNews ? [newAction('vessel-added', { vessel, role: role ?? 'reactor' }, done)] : []),
        ...(empty ? [newAction('vessel-emptied', { vessel }, done)] : []),
      ];
      if (actions.length > 0) await this.#acting.commit(site, actions);
      return this.view(`${site}:${vessel}`);
    });
  }

  #newOrKnown(name: string): { site: string; vessel: string } {
    const [site, vessel, ...more] = name.split(':') as [string, string?];
    if (vessel === undefined || this.#watch.hasVessel(site, vessel)) {
      const known = this.findVessel(name);
      return { site: known.site.site, vessel: known.vessel };
    }
    if (more.length > 0 || !isName(site) || !isName(vessel))
      throw new Problem('body-invalid', 'a site and a vessel are small letters, digits and hyphens');
    this.#refuseForwarded(site);
    if (!this.#intake.hasRoom(site, vessel, ''))
      throw new Problem('body-invalid', 'there are too many vessels');
    return { site, vessel };
  }

  siteAnswer(name: string): SiteAnswer {
    const site = this.#watch.site(name);
    if (site === undefined) throw new Problem('site-unknown', `there is no site ${name}`);
    const { stated, ambient } = site.state;
    const ownHPa = stated === null ? null : statedPressureHPa(stated);
    const nowMs = this.#acting.nowMs();
    const tested = site.warningTested;
    return {
      site: name,
      altitudeM: stated !== null && 'altitudeM' in stated ? stated.altitudeM : null,
      pressureHPa: ownHPa ?? SEA_LEVEL_HPA,
      pressureAssumed: stated === null && ambient === null,
      boilingC: openBoilingPoint(site.state, { stated: null }, nowMs).boilingC,
      barometer: ambient && {
        at: isoTime(ambient.atMs),
        pressureHPa: ambient.hPa,
        counts: barometerCounts(site.state.ambient, ownHPa, nowMs),
      },
      warningTested: tested && { at: isoTime(tested.atMs), by: tested.by },
    };
  }

  /** Notes that a warning was sent to see whether it arrives. */
  testWarning(name: string, by: string | undefined): Promise<{ at: string; site: string; by: string }> {
    return this.#acting.oneAtATime(async () => {
      this.#refuseForwarded(name);
      if (this.#watch.site(name) === undefined) throw new Problem('site-unknown', `there is no site ${name}`);
      const done = this.#acting.done({ by });
      await this.#acting.commit(name, [newAction('warning-tested', {}, done)]);
      return { at: isoTime(done.atMs), site: name, by: done.by };
    });
  }

  typeReading(
    name: string,
    body: { channel: string; value: number; at?: string | number | undefined },
  ): Promise<{ channel: string; at: number; value: number; result: 'stored' | 'duplicate' }> {
    return this.#acting.oneAtATime(async () => {
      const { site, vessel } = this.findVessel(name);
      const arrivedMs = this.#acting.nowMs();
      const atMs = timeOf(body.at, arrivedMs);
      const { channel, value } = body;
      if (!this.#intake.hasRoom(site.site, vessel, channel)) {
        throw new Problem('body-invalid', `${name} has too many channels already`);
      }
      const reading = { value, atMs, seq: null, stamped: body.at === undefined };
      const [result] = (await this.#intake.record(
        site.site,
        vessel,
        channel,
        [reading],
        arrivedMs,
        'typed',
      )) as [EntryResult];
      if (result.result === 'conflict') {
        throw new Problem('value-conflict', `${result.storedValue} is stored for this time already`);
      }
      return { channel, value, result: result.result, at: result.result === 'stored' ? result.atMs : atMs };
    });
  }

  openBatch(body: {
    vessel: string;
    plan?: PlanRequest | undefined;
    template?: string | undefined;
    like?: string | undefined;
    name?: string | undefined;
    soapLimitPpm?: number | undefined;
    at?: string | number | undefined;
    by?: string | undefined;
  }): Promise<Batch> {
    return this.#acting.oneAtATime(async () => {
      const { site, vessel } = this.findVessel(body.vessel);
      const state = site.state.vessels[vessel]!;
      if (state.batch !== null) {
        throw new Problem('vessel-taken', `${site.site}:${vessel} belongs to batch ${state.batch}`);
      }
      const done = this.#acting.done(body);
      const air = openBoilingPoint(site.state, state, done.arrivedMs);
      const { request, ...from } = askedFor(site, vessel, body);
      if (request.site === undefined && air.assumed) {
        const missing = [{ what: 'altitude', has: 0, needs: 1 }];
        throw new Problem('conditions-missing', `the altitude of ${site.site} is not set`, { missing });
      }
      const asked = { ...request, site: planSite(request.site, site.state, air) };
      const { workings: _, ...made } = planned(() => computePlan(asked));
      const computed = { ...made, watch: watchedIn(state, made.watch) };
      const stated = statedByPlan(request, computed);
      const id = this.#watch.newBatchId();
      const opened = {
        id,
        name: body.name ?? `Batch ${site.batches.list().length + 1}`,
        vessel,
        request,
        computed,
        site: stated,
        ...(body.soapLimitPpm !== undefined && { soapLimitPpm: body.soapLimitPpm }),
        ...from,
      };
      await this.#acting.commit(site.site, [
        // A place that nobody has stated yet is where its first batch says it is.
        ...(request.site !== undefined && site.state.stated === null
          ? [newAction('site-stated', { site: statedForSite(request.site, stated!) }, done)]
          : []),
        newAction('batch-opened', opened, done),
      ]);
      return site.batches.get(id)!;
    });
  }

  /** A batch to which something is done. @throws Problem `site-forwarded` for one of a site that is not watched here */
  findBatch(id: string): { site: SiteWatch; batch: Batch } {
    const found = this.shownBatch(id);
    this.#refuseForwarded(found.site.site);
    return found;
  }

  shownBatch(id: string): { site: SiteWatch; batch: Batch } {
    for (const site of [...this.#watch.sites(), ...this.#centre.sites()]) {
      const batch = site.batches.get(id);
      if (batch !== undefined) return { site, batch };
    }
    throw new Problem('batch-unknown', `there is no batch ${id}`);
  }

  /** What must be true before a batch goes on to a stage, and what to mind in it. */
  conditions(id: string, stage: Stage, name: string | undefined): Conditions {
    const { site, batch } = this.findBatch(id);
    const vessel = this.#vesselFor(site, batch, { stage, vessel: name });
    const facts = stageFacts(site, batch, vessel, this.#acting.done({}));
    return { stage, vessel, conditions: conditionsFor(stage, facts), cautions: stageCautions(stage) };
  }

  enterStage(id: string, body: StageBody): Promise<Batch> {
    return this.#acting.oneAtATime(async () => {
      const { site, batch } = this.findBatch(id);
      const { stage, stagesKnown } = body;
      if (!batch.open) throw new Problem('batch-ended', `batch ${batch.name} is ${batch.stage}`);
      if (stagesKnown !== undefined && stagesKnown !== batch.stages.length) {
        const last = batch.stages.at(-1);
        throw new Problem('stage-moved', `${last?.by ?? 'nobody'} went on to ${last?.stage ?? 'nothing'}`);
      }
      const vessel = this.#vesselFor(site, batch, body);
      const state = site.state.vessels[vessel]!;
      if (state.stage === stage && body.again !== true) {
        throw new Problem('stage-same', `${vessel} is in ${stage} already; again: true starts it anew`);
      }
      const done = this.#acting.done(body);
      const conditions = conditionsFor(stage, stageFacts(site, batch, vessel, done));
      const asked = conditions.filter(({ met }) => met === null).map(({ what }) => what);
      const isAsked = (what: string) => conditions.some((one) => one.what === what && one.kind === 'seen');
      const unknown = body.seen?.find((what) => !isAsked(what));
      if (unknown !== undefined)
        throw new Problem('body-invalid', `seen: ${stage} does not ask for ${unknown}`);
      const missing = missingOf(conditions, body.seen);
      if (missing.length > 0 && body.anyway === undefined) {
        throw new Problem(
          'conditions-missing',
          `${missing.map(({ what }) => what).join(', ')}: with anyway and a reason it is noted as a deviation`,
          { missing },
        );
      }
      const joins = state.batch === null;
      const entered = {
        batch: id,
        vessel,
        stage,
        deviation: missing.length > 0 ? { reason: body.anyway!.reason, missing } : null,
        seen: body.seen ?? [],
        unseen: asked.filter((what) => !body.seen?.includes(what)),
        ...(body.reason !== undefined && { reason: body.reason }),
      };
      // Noted afterwards, a dose may come before a test that stands.
      const noted = { stage, vessel, at: isoTime(done.atMs), by: done.by, deviation: null, reason: null };
      const stages = [...batch.stages, { ...noted, seen: [], unseen: [] }];
      const passed = stage === 'dose' ? conversionTestOf({ ...batch, stages }) : null;
      await this.#acting.commit(site.site, [
        ...(joins ? [joining(batch, state, done)] : []),
        newAction('stage', entered, done),
        ...(passed !== null ? [newAction('conversion-test', { batch: id, passed }, done)] : []),
      ]);
      return site.batches.get(id)!;
    });
  }

  /** The vessel that goes on to a stage; an end is the batch's own, and glycerol has few. */
  #vesselFor(
    site: SiteWatch,
    batch: Batch,
    { stage, vessel }: { stage: Stage; vessel?: string | undefined },
  ) {
    const isEnd = ENDED_STAGES.includes(stage);
    const name = vessel === undefined ? batch.vessel : this.#memberVessel(site, batch, vessel);
    const holdsGlycerol = batch.glycerolIn.includes(name);
    if (stage === 'idle' && !holdsGlycerol)
      throw new Problem(
        'body-invalid',
        'stage: idle is no stage of a batch, but for a vessel with its glycerol',
      );
    if (holdsGlycerol && !isEnd && !OF_GLYCEROL.includes(stage))
      throw new Problem('vessel-taken', `${name} holds the batch’s glycerol: no ${stage} there`);
    return isEnd ? batch.vessel : name;
  }

  /** Liquid goes to another vessel, which is free or holds the batch's glycerol already. */
  moveLiquid(id: string, body: z.infer<typeof moveBodySchema>): Promise<Batch> {
    return this.#acting.oneAtATime(async () => {
      const { site, batch } = this.findBatch(id);
      const { what, litres } = body;
      if (!batch.open) throw new Problem('batch-ended', `batch ${batch.name} is ${batch.stage}`);
      const from = this.#memberVessel(site, batch, body.from);
      const to = this.#memberVessel(site, batch, body.to);
      if (from === to) throw new Problem('body-invalid', 'to: the liquid is there already');
      if (site.state.vessels[from]!.batch !== id)
        throw new Problem('vessel-taken', `from: ${from} does not belong to this batch`);
      if (what === 'ester' && batch.glycerolIn.includes(from))
        throw new Problem('body-invalid', `what: ${from} holds glycerol`);
      const joins = site.state.vessels[to]!.batch === null;
      if (!joins && !(what === 'glycerol' && batch.glycerolIn.includes(to)))
        throw new Problem('vessel-taken', `to: ${to} holds something of this batch already`);
      const done = this.#acting.done(body);
      await this.#acting.commit(site.site, [
        ...(joins ? [joining(batch, site.state.vessels[to]!, done)] : []),
        newAction('moved', { batch: id, from, to, litres, what }, done),
      ]);
      return site.batches.get(id)!;
    });
  }

  /**
   * Notes something by hand, of an open batch or one that has ended: nothing that was noted is taken back. A
   * photograph comes with its picture.
   */
  addEntry(
    id: string,
    body: Omit<EntryBody, 'what'> & { what: EntryWhat },
    photograph?: Photograph,
  ): Promise<BatchEntry> {
    return this.#acting.oneAtATime(async () => {
      const { site, batch } = this.findBatch(id);
      const { what, corrects } = body;
      if (what.kind === 'photograph') refuseMorePhotographs(batch);
      const had = batch.stages.some((stage) => stage.vessel === body.vessel);
      const vessel =
        body.vessel === undefined || had
          ? (body.vessel ?? batch.vessel)
          : this.#memberVessel(site, batch, body.vessel);
      const corrected = batch.entries.find((entry) => entry.id === corrects?.entry);
      if (corrects !== undefined) {
        if (corrected === undefined)
          throw new Problem('entry-unknown', `there is no entry ${corrects.entry}`);
        if (corrected.correctedBy !== null)
          throw new Problem('entry-corrected', `${corrected.correctedBy} stands for ${corrected.id} already`);
      }
      const standing = batch.entries.filter((entry) => entry.id !== corrects?.entry);
      if (what.kind === 'handed-out') checkFuel({ ...batch, entries: standing }, what.litres);
      // A correction that says no time is of the time of what it corrects.
      const done = this.#acting.done({ ...body, at: body.at ?? corrected?.at });
      const at = isoTime(done.atMs);
      const result = planned(() => entryResult(what, { ...batch, entries: standing }, at));
      const entry = {
        batch: id,
        id: `${id}-${batch.entries.length + 1}`,
        vessel,
        stage: batch.stage,
        what,
        result,
      };
      const noted = { ...entry, at, correctedBy: null };
      const conversionTest = conversionTestOf({ ...batch, entries: [...standing, noted] });
      const changes = conversionTest !== conversionTestOf(batch);
      const action = {
        ...entry,
        corrects: corrects ?? null,
      };
      const made = newAction('entry', action, done);
      await this.#acting.commit(site.site, [
        photograph === undefined ? made : { ...made, photograph },
        // A test that was taken back proves nothing any more.
        ...(changes
          ? [newAction('conversion-test', { batch: id, passed: conversionTest === true }, done)]
          : []),
      ]);
      return site.batches.get(id)!.entries.at(-1)!;
    });
  }

  acknowledge(alarm: string, body: { by?: string | undefined; reason?: string | undefined }): Promise<void> {
    return this.#acting.oneAtATime(async () => {
      const found = this.#findAlarm(alarm);
      if (found === undefined) {
        throw new Problem('alarm-unknown', `there is no standing or unacknowledged alarm ${alarm}`);
      }
      const { site, vessel, number } = found;
      await this.#acting.act(site, 'acknowledge', { vessel, number, reason: body.reason ?? null }, body.by);
    });
  }

  shelve(alarm: string, body: { by?: string | undefined; reason: string; minutes: number }): Promise<void> {
    return this.#acting.oneAtATime(async () => {
      const found = this.#findAlarm(alarm);
      if (!found?.view.standing) throw new Problem('alarm-unknown', `there is no standing alarm ${alarm}`);
      const { site, vessel, number, view } = found;
      const { reason, minutes } = body;
      const longest = longestShelfMinutes(view.priority);
      const { shelved } = this.#watch.site(site)!.state.vessels[vessel]!.alarms[view.alarm as AlarmName]!;
      const shelvedMs = shelved === null ? 0 : this.#acting.nowMs() - shelved.sinceMs;
      if (minutes * 60_000 + shelvedMs > longest * 60_000) {
        throw new Problem(
          'shelf-too-long',
          `a ${view.priority} alarm is shelved for ${longest} min at most, without a break`,
        );
      }
      await this.#acting.act(site, 'shelve', { vessel, number, reason, minutes }, body.by);
    });
  }

  /** What stands is said as the rules have it now: what to do may have changed since it was stored. */
  asTheyAre(alarms: readonly Alarm[]): Alarm[] {
    const standing = new Map<string, readonly Alarm[]>();
    return alarms.map((alarm) => {
      if (!alarm.standing) return alarm;
      const key = `${alarm.site}:${alarm.vessel}`;
      const now =
        standing.get(key) ??
        (this.#watch.site(alarm.site) ?? this.#centre.site(alarm.site))?.vessel(
          alarm.vessel,
          this.#acting.nowMs(),
        )?.alarms;
      if (now !== undefined) standing.set(key, now);
      return now?.find(({ id }) => id === alarm.id) ?? alarm;
    });
  }

  /** An alarm that stands, or is over and nobody has acknowledged it. */
  #findAlarm(id: string): { site: string; vessel: string; number: number; view: Alarm } | undefined {
    const [site, vessel, number] = id.split('.') as [string, string?, string?];
    this.#refuseForwarded(site);
    const { alarms } = this.#watch.site(site)?.vessel(vessel ?? '', this.#acting.nowMs()) ?? { alarms: [] };
    const view = alarms.find((alarm) => alarm.id === id);
    return view && { site, vessel: vessel!, number: Number(number), view };
  }

  /** A vessel that a batch also uses: its own, or a free one of the same site. */
  #memberVessel(site: SiteWatch, batch: Batch, name: string): string {
    const found = this.findVessel(name.includes(':') ? name : `${site.site}:${name}`);
    const owner = found.site.state.vessels[found.vessel]!.batch;
    if (found.site !== site || (owner !== null && owner !== batch.id)) {
      throw new Problem('vessel-taken', `${name} does not belong to this batch`);
    }
    return found.vessel;
  }
}

function refuseMorePhotographs({ id, entries }: Batch): void {
  const count = entries.filter(({ what }) => what.kind === 'photograph').length;
  if (count >= MOST_PHOTOGRAPHS)
    throw new Problem('photographs-full', `${id} has ${count} photographs: no more are kept of one batch`);
}

/**
 * Where a plan is for. What it says itself is checked by what the site is known to be: the plan sees both, and
 * where they contradict each other it counts with the lower pressure.
 */
function planSite(asked: PlanRequest['site'], site: SiteState, air: BoilingPoint): PlanRequest['site'] {
  const altitudeM = site.stated !== null && 'altitudeM' in site.stated ? site.stated.altitudeM : undefined;
  // A standard pressure is a mean, with the weather's spread: it is worked out again from the altitude.
  const isStandard = altitudeM !== undefined && air.pressureHPa === standardPressureHPa({ altitudeM });
  const read = air.assumed || isStandard ? {} : { pressureHPa: air.pressureHPa };
  const known = altitudeM === undefined ? read : { altitudeM, ...read };
  if (asked === undefined || air.assumed) return { ...known, ...asked };
  if (asked.pressureHPa === undefined) {
    const contradicts = contradictsAltitude(air.pressureHPa, asked.altitudeM!);
    return { ...known, ...(contradicts ? { pressureHPa: air.pressureHPa } : {}), ...asked };
  }
  // A pressure against a known pressure: the altitude of the one checks the other.
  const at = { altitudeM: Math.round(standardAltitudeM({ pressureHPa: air.pressureHPa })) };
  return { ...at, ...known, ...asked };
}

/**
 * What the rules go by where a plan itself says where it is for: what it says, unless the plan counted with a
 * lower pressure. Null where it leaves that to the site.
 */
function statedByPlan({ site }: PlanRequest, computed: PlanNumbers | null): StatedPressure | null {
  if (site === undefined) return null;
  const { altitudeM, pressureHPa } = site;
  const counted = computed?.pressureHPa ?? pressureHPa;
  if (pressureHPa === undefined && (counted === undefined || !contradictsAltitude(counted, altitudeM!))) {
    return { altitudeM: altitudeM! };
  }
  return { pressureHPa: counted! };
}

/** Methanol that a batch before left in a vessel is there from the start, until somebody says that it is empty. */
const watchedIn = ({ methanolPresent }: VesselState, plan: WatchPlan): WatchPlan =>
  methanolPresent ? { ...plan, methanolInFeed: true } : plan;

/** A vessel comes into a batch, watched by the batch's plan. */
const joining = (batch: Batch, vessel: VesselState, done: Done) =>
  newAction(
    'vessel-joined',
    {
      batch: batch.id,
      vessel: vessel.name,
      plan: watchedIn(vessel, batch.plan),
      site: statedByPlan(batch.request, batch.computed),
    },
    done,
  );

/** What a plan tells of a site that nobody has stated: its altitude, where it says that, or else its pressure. */
const statedForSite = (
  { altitudeM }: NonNullable<PlanRequest['site']>,
  stated: StatedPressure,
): StatedPressure => (altitudeM === undefined ? stated : { altitudeM });

/** Throws a `conditions-missing` where more would have been handed out than there was; where that is known. */
function checkFuel(batch: Batch, litres: number): void {
  const has = measuredFuelL(batch);
  const needs = handedOutL(batch) + litres;
  // A sum of decimal fractions may be over by a rounding.
  if (has === null || needs <= has + 1e-9) return;
  throw new Problem('conditions-missing', `${litres} L is more fuel than is left of ${batch.name}`, {
    missing: [{ what: 'fuel-litres', has, needs }],
  });
}
