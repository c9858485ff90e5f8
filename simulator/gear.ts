import type { Mixer } from './mixer.ts';
import type { Scenario, ScenarioSurroundings } from './scenario.ts';
import type { Vary } from './variation.ts';
import type { Contents, Equipment } from './vessel.ts';

/** The gear that stories are told with, and the places that it stands in. Sizes chosen, from memory of such gear. */

/** A 120 L steel vessel with a thin wrap and a 3 kW immersion element. */
export const REACTOR: Equipment = {
  fullKg: 110,
  heaterW: 3000,
  elementKJPerK: 0.8,
  elementWPerK: 30,
  wallKJPerK: 12,
  wallWPerK: 300,
  lossWPerK: 7,
  thermostatBandC: 0.5,
  thermostatAt: 'liquid',
};

/** A closed 30 L vessel with its own small stirrer and no heater. */
export const METHOXIDE_VESSEL: Equipment = {
  fullKg: 18,
  heaterW: 0,
  elementKJPerK: 0.1,
  elementWPerK: 0,
  wallKJPerK: 2,
  wallWPerK: 60,
  lossWPerK: 3,
  thermostatBandC: 0.5,
  thermostatAt: 'liquid',
};

/** A litre in a glass jar on a hot plate, which keeps its own plate at the temperature of its dial. */
export const JAR: Equipment = {
  fullKg: 1.1,
  heaterW: 300,
  // The plate's heat is that of ten degrees in the jar: it goes on long after the switch.
  elementKJPerK: 0.9,
  elementWPerK: 2.5,
  wallKJPerK: 0.4,
  wallWPerK: 6,
  lossWPerK: 0.5,
  thermostatBandC: 1,
  thermostatAt: 'element',
};

/**
 * The reactor with a heater of so many W, and an element to match: as hot over the liquid as the 3 kW one,
 * with as much heat in it for each W.
 */
export const reactorWith = (heaterW: number): Equipment => ({
  ...REACTOR,
  heaterW,
  elementKJPerK: (REACTOR.elementKJPerK * heaterW) / REACTOR.heaterW,
  elementWPerK: (REACTOR.elementWPerK * heaterW) / REACTOR.heaterW,
});

export const STIRRER: Mixer = { ratedPerMin: 300, ratedA: 1.6, ratedLPerMin: null };
export const METHOXIDE_STIRRER: Mixer = { ratedPerMin: 350, ratedA: 0.4, ratedLPerMin: null };
export const PUMP: Mixer = { ratedPerMin: 1400, ratedA: 2.4, ratedLPerMin: 40 };

export interface Site {
  pressureHPa: number;
  /** Null where the pressure itself is what is known. */
  altitudeM: number | null;
}

/** Pressures are the standard atmosphere's (ISO 2533) at the altitude. */
export const SEA_LEVEL: Site = { pressureHPa: 1013.25, altitudeM: null };
export const HILLS: Site = { pressureHPa: 973.1, altitudeM: 340 };
export const HIGH_PLAIN: Site = { pressureHPa: 834.3, altitudeM: 1609 };

/** Devices of the two vessels. */
export const REACTOR_DEVICE = 'r1-node';
export const METHOXIDE_DEVICE = 'm1-node';

/** A shed at 20 °C, give or take the season. */
export const surroundingsAt = (
  site: Site,
  vary: Vary,
  { ambientC = 20, pressureSwingHPa = 0 } = {},
): ScenarioSurroundings => ({ ...site, ambientC: ambientC + vary('room', 4), pressureSwingHPa });

/** No two elements, fillings and probes are alike: how much one differs from what it should be. */
export const variedHeater = (equipment: Equipment, vary: Vary): Equipment => ({
  ...equipment,
  heaterW: equipment.heaterW * (1 + vary('heater', 0.1)),
});
export const variedKg = (kg: number, vary: Vary, name: string): number => kg * (1 + vary(name, 0.05));
export const variedNoise = (vary: Vary): number => 1 + vary('noise', 0.5);

export const contents = (given: Partial<Contents>): Contents => ({
  oilKg: 0,
  productKg: 0,
  methanolKg: 0,
  flakesKg: 0,
  ...given,
});

/** A scenario that depends on how one run differs from another. */
export type Story = (vary: Vary) => Scenario;
