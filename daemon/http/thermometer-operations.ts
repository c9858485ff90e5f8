import { contradictsAltitude, standardPressureHPa } from '../../shared/chemistry/atmosphere.ts';
import { ICE_POINT_C, waterBoilingC } from '../../shared/chemistry/water.ts';
import { openBoilingPoint } from '../../shared/engine/boiling.ts';
import {
  errorC,
  type KnownPoint,
  type KnownPoints,
  LARGE_ERROR_C,
  LARGEST_ERROR_C,
  pointOf,
} from '../../shared/thermometer/correction.ts';
import type { Missing } from '../../shared/wire/api.ts';
import { channelKind } from '../../shared/wire/names.ts';
import type { Check, CheckBody, Thermometer } from '../../shared/wire/thermometers.ts';
import { isoTime, parseWireTimeMs } from '../../shared/wire/time.ts';
import { newAction } from '../watch/actions.ts';
import type { SiteWatch } from '../watch/site-watch.ts';
import { pointsOfCheck } from '../watch/thermometers.ts';
import type { Watch } from '../watch/watch.ts';
import type { Acting, Done } from './acting.ts';
import type { Operations } from './operations.ts';
import { Problem } from './problem.ts';

/** A thermometer is checked again after so long by default. Common practice, no source. */
const USUAL_MONTHS = 12;
/** The same check that comes again within this is the same one, whose answer was lost, ms. */
const AGAIN_MS = 600_000;

interface Found {
  site: SiteWatch;
  vessel: string;
  channel: string;
}

/** What people do with thermometers. */
export class ThermometerOperations {
  readonly #watch: Watch;
  readonly #acting: Acting;
  readonly #operations: Pick<Operations, 'findVessel'>;

  constructor(parts: { watch: Watch; acting: Acting; operations: Pick<Operations, 'findVessel'> }) {
    this.#watch = parts.watch;
    this.#acting = parts.acting;
    this.#operations = parts.operations;
  }

  /** Those that a device has sent of, or that were checked. */
  list(): Thermometer[] {
    return this.#watch.sites().flatMap((site) =>
      Object.entries(site.state.vessels).flatMap(([vessel, { channels }]) =>
        Object.entries(channels)
          .filter(([channel, { newest }]) => {
            const isChecked = site.thermometers.checks(vessel, channel).length > 0;
            return channelKind(channel) === 'temperature' && (isChecked || !newest.typed);
          })
          .map(([channel]) => this.#answer({ site, vessel, channel })),
      ),
    );
  }

  /** The newest first. */
  checks(vesselName: string, channelName: string): Check[] {
    const { site, vessel, channel } = this.#find(vesselName, channelName);
    return [...site.thermometers.checks(vessel, channel)].reverse();
  }

  check(vesselName: string, channelName: string, body: CheckBody): Promise<Check> {
    return this.#acting.oneAtATime(async () => {
      const found = this.#find(vesselName, channelName);
      const { site, vessel, channel } = found;
      const done = this.#acting.done(body);
      const checks = site.thermometers.checks(vessel, channel);
      if (isAgain(body, checks, done)) return checks.at(-1)!;
      const standing = site.thermometers.standing(vessel, channel);
      if (body.readUnder !== undefined && !isNoted(standing, body.readUnder)) {
        throw new Problem(
          'thermometer-rechecked',
          `${standing === null ? 'no check stands now' : `the check that was noted at ${standing.noted} stands now`}, and the number is shown by it: read the bath again, and begin anew`,
        );
      }
      const points = standing && pointsOfCheck(standing);
      const ice = body.ice === undefined ? null : pointOf(body.ice.readC, ICE_POINT_C, points);
      const boiling =
        body.boiling === undefined ? null : boilingOf(body.boiling, site, done.arrivedMs, points);
      const due = body.due ?? monthsAfter(done.atMs, USUAL_MONTHS);
      if (due <= dayOf(done.atMs)) throw new Problem('body-invalid', 'due is not after the check');
      const missing = [...doubt('ice', ice), ...doubt('boiling', boiling)];
      if (missing.length > 0 && body.anyway === undefined) {
        throw new Problem(
          'conditions-missing',
          `${missing.map(({ what, has }) => `off by ${has.toFixed(1)} °C in ${what}`).join(', ')}: look at the bath and the probe; with anyway and a reason it is kept`,
          { missing },
        );
      }
      const deviation = missing.length > 0 ? { reason: body.anyway!.reason, missing } : null;
      const checked = { vessel, channel, ice, boiling, due, deviation };
      await this.#acting.commit(site.site, [newAction('thermometer-checked', checked, done)]);
      return site.thermometers.standing(vessel, channel)!;
    });
  }

  withdraw(
    vesselName: string,
    channelName: string,
    { reason, by }: { reason: string; by?: string | undefined },
  ): Promise<Thermometer> {
    return this.#acting.oneAtATime(async () => {
      const found = this.#find(vesselName, channelName);
      const { site, vessel, channel } = found;
      if (site.thermometers.standing(vessel, channel) === null)
        throw new Problem('thermometer-unchecked', `no check of ${vessel}/${channel} stands`);
      await this.#acting.act(site.site, 'thermometer-check-withdrawn', { vessel, channel, reason }, by);
      return this.#answer(found);
    });
  }

  #find(vesselName: string, channel: string): Found {
    const { site, vessel } = this.#operations.findVessel(vesselName);
    if (channelKind(channel) !== 'temperature' || !this.#watch.hasChannel(site.site, vessel, channel))
      throw new Problem('thermometer-unknown', `${vessel} has no thermometer ${channel}`);
    return { site, vessel, channel };
  }

  #answer({ site, vessel, channel }: Found): Thermometer {
    const nowMs = this.#acting.nowMs();
    const pressureHPa = airOf(site, nowMs);
    const check = site.thermometers.standing(vessel, channel);
    return {
      site: site.site,
      vessel,
      channel,
      check,
      overdue: check !== null && check.due < dayOf(nowMs),
      water: pressureHPa === null ? null : { pressureHPa, boilingC: waterBoilingC({ pressureHPa }) },
    };
  }
}

/** Station pressure of a site, hPa; null while nobody has stated one. */
function airOf({ state }: SiteWatch, nowMs: number): number | null {
  const { pressureHPa, assumed } = openBoilingPoint(state, { stated: null }, nowMs);
  return assumed ? null : pressureHPa;
}

/** Whether it is that check, or null where there is none, that a body names by the time at which it was noted. */
const isNoted = (check: Check | null, noted: string | number | null): boolean =>
  noted === null ? check === null : check !== null && parseWireTimeMs(check.noted) === parseWireTimeMs(noted);

/**
 * Whether a body is that of the check that stands, sent once more: its numbers were read before that one was noted,
 * and to take them as read by it would count the error twice.
 */
function isAgain(body: CheckBody, checks: readonly Check[], done: Done): boolean {
  const newest = checks.at(-1);
  if (newest === undefined || newest.ended !== null) return false;
  if (done.arrivedMs - parseWireTimeMs(newest.noted)! > AGAIN_MS) return false;
  const replaced = checks.at(-2);
  // Without a reason it was ended by the newest.
  const stoodBefore = replaced?.ended?.reason === null ? replaced : null;
  const { readUnder, boiling, due, at, anyway } = body;
  return (
    newest.by === done.by &&
    body.ice?.readC === newest.ice?.readC &&
    boiling?.readC === newest.boiling?.readC &&
    (boiling?.pressureHPa ?? newest.boiling?.pressureHPa) === newest.boiling?.pressureHPa &&
    (due ?? newest.due) === newest.due &&
    (at === undefined || done.atMs === parseWireTimeMs(newest.at)) &&
    (newest.deviation === null || anyway?.reason === newest.deviation.reason) &&
    (readUnder === undefined || isNoted(stoodBefore, readUnder))
  );
}

/** Throws where nobody has said at what water boils there, or what was said cannot be. */
function boilingOf(
  { readC, pressureHPa: stated }: NonNullable<CheckBody['boiling']>,
  site: SiteWatch,
  nowMs: number,
  standing: KnownPoints | null,
) {
  const pressureHPa = stated ?? airOf(site, nowMs);
  if (pressureHPa === null) {
    throw new Problem(
      'conditions-missing',
      'at what water boils there is not known: state the site’s altitude, or boiling.pressureHPa',
      { missing: [{ what: 'altitude', has: 0, needs: 1 }] },
    );
  }
  refuseNotStation(pressureHPa, site);
  return { ...pointOf(readC, waterBoilingC({ pressureHPa }), standing), pressureHPa };
}

/** Throws where no weather makes a pressure, hPa, that of the air at the site’s altitude, if that is known. */
function refuseNotStation(pressureHPa: number, { state: { stated } }: SiteWatch): void {
  if (stated === null || !('altitudeM' in stated)) return;
  const { altitudeM } = stated;
  if (!contradictsAltitude(pressureHPa, altitudeM)) return;
  throw new Problem(
    'pressure-not-station',
    `${pressureHPa.toFixed(0)} hPa is not that of the air at ${altitudeM} m, where about ${standardPressureHPa({ altitudeM }).toFixed(0)} hPa are usual: boiling.pressureHPa wants station pressure, as a barometer there says it, not reduced to sea level as weather reports give it; or the site’s altitude is mistaken`,
  );
}

/** Throws where it is too far off to be an error of a thermometer. */
function doubt(bath: 'ice' | 'boiling', point: KnownPoint | null): Missing {
  if (point === null) return [];
  const has = Math.abs(errorC(point));
  if (has > LARGEST_ERROR_C) {
    throw new Problem(
      'body-invalid',
      `${bath}.readC is ${has.toFixed(1)} °C off: another bath, °F taken for °C, or a broken probe, and nothing to be corrected`,
    );
  }
  return has > LARGE_ERROR_C ? [{ what: `${bath}-water`, has, needs: LARGE_ERROR_C }] : [];
}

const dayOf = (ms: number): string => isoTime(ms).slice(0, 10);

/** The day (UTC) so many months after; where that month is too short, the first of the next. */
function monthsAfter(ms: number, months: number): string {
  const day = new Date(ms);
  return dayOf(Date.UTC(day.getUTCFullYear(), day.getUTCMonth() + months, day.getUTCDate()));
}
