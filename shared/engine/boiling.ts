import { SEA_LEVEL_HPA, STATION_DIFFERENCE_HPA, standardPressureHPa } from '../chemistry/atmosphere.ts';
import { methanolBoilingC } from '../chemistry/methanol.ts';
import type { StatedPressure } from './events.ts';
import type { SiteState, VesselState } from './state.ts';

/** A vessel's own pressure reading counts for so long. */
export const VESSEL_PRESSURE_MAX_AGE_MS = 60_000;
/** Under this, hPa, a vessel is under vacuum: then the last reading holds, however old. */
export const VACUUM_HPA = 900;
/** A barometer's reading counts for so long. */
export const AMBIENT_MAX_AGE_MS = 3_600_000;

export interface BoilingPoint {
  pressureHPa: number;
  boilingC: number;
  /** Nobody has stated a pressure or an altitude, and there is no barometer: sea level. */
  assumed: boolean;
}

let latestAir = { altitudeM: Number.NaN, pressureHPa: Number.NaN };

export function statedPressureHPa(stated: StatedPressure): number {
  if ('pressureHPa' in stated) return stated.pressureHPa;
  // Asked twice at every reading of a liquid, and places do not move.
  const { altitudeM } = stated;
  if (altitudeM !== latestAir.altitudeM)
    latestAir = { altitudeM, pressureHPa: standardPressureHPa({ altitudeM }) };
  return latestAir.pressureHPa;
}

/** Methanol's boiling point in a vessel at a time, from the best pressure known. */
export function boilingPoint(site: SiteState, vessel: VesselState, atMs: number): BoilingPoint {
  const measured = vesselPressureHPa(vessel, atMs);
  return measured === null ? openBoilingPoint(site, vessel, atMs) : at(measured, false);
}

/** The same for an open vessel, whatever pressure is inside it now: that of the air around. */
export const openBoilingPoint = (
  site: SiteState,
  vessel: Pick<VesselState, 'stated'>,
  atMs: number,
): BoilingPoint => boilingInAir(vessel.stated ?? site.stated, site.ambient, atMs);

/** The same from what was stated of the place and what its barometer said last. */
export function boilingInAir(
  stated: StatedPressure | null,
  ambient: Barometer | null,
  atMs: number,
): BoilingPoint {
  const own = stated === null ? null : statedPressureHPa(stated);
  if (barometerCounts(ambient, own, atMs)) return at(ambient.hPa, false);
  return at(own ?? SEA_LEVEL_HPA, own === null);
}

/** What a barometer said, and when. */
interface Barometer {
  hPa: number;
  atMs: number;
}

/** Whether a barometer is new enough, and near enough to a pressure that was stated. */
export const barometerCounts = (
  ambient: Barometer | null,
  ownHPa: number | null,
  atMs: number,
): ambient is Barometer =>
  ambient !== null &&
  atMs - ambient.atMs <= AMBIENT_MAX_AGE_MS &&
  (ownHPa === null || Math.abs(ambient.hPa - ownHPa) <= STATION_DIFFERENCE_HPA);

let latest = { pressureHPa: Number.NaN, boilingC: Number.NaN };

function at(pressureHPa: number, assumed: boolean): BoilingPoint {
  // Asked at every reading of a liquid, and the pressure seldom changes.
  if (pressureHPa !== latest.pressureHPa)
    latest = { pressureHPa, boilingC: methanolBoilingC({ pressureHPa }) };
  return { pressureHPa, boilingC: latest.boilingC, assumed };
}

/** Whether the last own pressure of this batch holds however old it is: under vacuum, and where methanol is recovered. */
export const holdsLastPressure = (vessel: VesselState): boolean => {
  const channel = vessel.channels['vessel-pressure'];
  if (!channel?.seenInBatch) return false;
  return channel.sound!.value < VACUUM_HPA || vessel.stage === 'recover';
};

function vesselPressureHPa(vessel: VesselState, atMs: number): number | null {
  const sound = vessel.channels['vessel-pressure']?.sound;
  if (!sound) return null;
  return atMs - sound.atMs <= VESSEL_PRESSURE_MAX_AGE_MS || holdsLastPressure(vessel) ? sound.value : null;
}
