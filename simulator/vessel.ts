import { approach } from './approach.ts';
import { type MixerFault, stepMixer } from './mixer.ts';

/**
 * Physics of a stirred, heated vessel, seen as one well-mixed liquid inside one wall. It is made to look
 * like life to a thermometer, not to predict a real batch, and it shares nothing with the rules that
 * judge it: if both held the same mistake, neither would show it.
 */

/** What a vessel is built of. Conductances in W/K, heat capacities in kJ/K. */
export interface Equipment {
  /** Liquid that fills it to the working level, kg. */
  fullKg: number;
  /** Electric power of the heating element, W; 0 for a vessel without one. */
  heaterW: number;
  /** The element's own heat, which goes on into the liquid after it is switched off. */
  elementKJPerK: number;
  /** Element to stirred liquid. */
  elementWPerK: number;
  wallKJPerK: number;
  /** Stirred liquid to wall, vessel full. */
  wallWPerK: number;
  /** Wall to the air of the room, through what insulation there is. */
  lossWPerK: number;
  /** Half the thermostat's dead band, °C. */
  thermostatBandC: number;
  /**
   * Where the thermostat feels: its own bulb in the liquid; the vessel's probe, which can fall out; or the
   * element itself, as on a hot plate with a dial.
   */
  thermostatAt: 'liquid' | 'probe' | 'element';
}

/**
 * What goes wrong with a heater. `asks-on`: the thermostat asks for heat whatever it feels; `dead`: the
 * element has burnt out, and heat is asked for in vain; `welded`: the relay's contacts stick, and it heats
 * unasked.
 */
export type HeaterFault = 'asks-on' | 'dead' | 'welded';

/** What is in a vessel, kg. */
export interface Contents {
  /** Oil that has not reacted. */
  oilKg: number;
  /** Ester and glycerol. */
  productKg: number;
  /** Free methanol, dissolved catalyst included. */
  methanolKg: number;
  /** Catalyst that has yet to dissolve. */
  flakesKg: number;
}

export interface VesselState extends Contents {
  liquidC: number;
  wallC: number;
  elementC: number;
  /** Of the drive. */
  stirrerPerMin: number;
  /** Of what moves the liquid: the same until the coupling lets go. */
  movingPerMin: number;
  /** The thermostat asks for heat. */
  heating: boolean;
  /** How far the vessel's pressure is under that of the room, hPa. */
  underHPa: number;
  condensateC: number;
}

/** What the operator, or a fault, sets. */
export interface Controls {
  /** °C; null is heat switched off at the wall, which ends a thermostat's asking too. */
  setPointC: number | null;
  heaterFault: HeaterFault | null;
  /** What a thermostat feels at the vessel's probe, °C; null where it has a bulb of its own. */
  feltC: number | null;
  stirPerMin: number;
  mixerFault: MixerFault | null;
  /** What the vacuum pump is set to, hPa under the room's pressure. */
  underHPa: number;
  coolingWater: boolean;
}

/** Everything off and whole. */
export const AT_REST: Controls = {
  setPointC: null,
  heaterFault: null,
  feltC: null,
  stirPerMin: 0,
  mixerFault: null,
  underHPa: 0,
  coolingWater: false,
};

export interface Surroundings {
  ambientC: number;
  /** Station pressure. */
  pressureHPa: number;
}

/** Liquid on its way from one vessel to another. */
export interface Portion extends Contents {
  temperatureC: number;
}

/** kJ/(kg K). Triolein is 2.01 at 25 °C and 2.08 at 60 °C (Zábranský); ester is taken to be the same. */
export const OIL_KJ_PER_KG_K = 2.05;
/** kJ/(kg K). 2.53 at 25 °C, 2.74 at 55 °C (Perry's 8th ed., DIPPR 100). */
const METHANOL_KJ_PER_KG_K = 2.6;

/** Enthalpy of vaporisation at the boiling point: 35.21 kJ/mol (CRC Handbook) over 32.04 g/mol. */
const VAPORISATION_KJ_PER_KG = 1099;
/** Two points of methanol's saturation line, K and hPa (VDI Heat Atlas). */
const BOILING = { kelvin: 337.63, hPa: 1013.3 };
const COLD = { kelvin: 280, hPa: 61.77 };
/** Slope of the line between them: logarithm of the pressure over the reciprocal temperature, K. */
const VAPORISATION_K = Math.log(BOILING.hPa / COLD.hPa) / (1 / COLD.kelvin - 1 / BOILING.kelvin);

/**
 * How much a mix boils above pure methanol, °C at equal masses of methanol and the rest. Chosen, no source:
 * oil and ester hold it back a little, and the last of it is hard to drive off.
 */
const BOILING_RISE_C = 0.1;
/** Heat that boiling takes away, W for each kg of liquid and °C above the boiling point: steep, so that it caps. Chosen. */
const BOILING_W_PER_KG_K = 28;

/** Dissolving NaOH: 44.3 kJ/mol in water at infinite dilution, for want of a value in methanol; 40.0 g/mol. */
const DISSOLVING_KJ_PER_KG = 1108;
/** Time constant of dissolving in stirred methanol, s. Common practice: clear after some 20 min. */
const DISSOLVING_S = 300;

/**
 * Heat that reacting oil gives off, kJ/kg. Uncertain: no calorimetry was found. Control models use 18.5 kJ/mol
 * without saying of what (8 to 23 °C in a 6:1 mix without losses); makers of small batches see the mix warm
 * by a few degrees at most (from memory), and that is what this value gives.
 */
const REACTION_KJ_PER_KG = 9;
/** Time constant of the reaction in a stirred mix at 55 °C, s. Chosen for its shape, not for conversion. */
const REACTION_S = 720;
/** Methanol bound by a kg of oil: 3 × 32.04 / 885.5 (triolein). */
const METHANOL_KG_PER_KG_OIL = 0.1086;

/** Speed from which the liquid counts as moving, 1/min. Chosen. */
const MOVING_PER_MIN = 100;
/** What is left of heat transfer in a liquid at rest, where only its own convection moves it. Chosen. */
const TRANSFER_AT_REST = 0.4;
/** What is left of reaction and dissolving in a liquid at rest: layers touch only where they meet. Chosen. */
const CONTACT_AT_REST = 0.03;
/** Liquid that no pump draws from the bottom of a vessel, kg. */
const HEEL_KG = 0.2;
/** The element lies low in the vessel and is bare under this part of the working level. */
const ELEMENT_COVERED_AT = 0.15;
/** Bare element to wall, through vapour, W/K. Chosen. */
const BARE_W_PER_K = 4;

/** Time constant with which a vacuum pump draws a vessel down, and air comes back, s. Chosen. */
const VACUUM_S = 60;
/** Cooling water as it comes from the main, °C, and what the condensate warms by for each W of vapour. Chosen. */
const COOLING_WATER_C = 14;
const CONDENSATE_K_PER_W = 0.003;
/** Time constants of the condensate's probe, s: with cooling water, and of a condenser that has none. Chosen. */
const CONDENSER_S = { cooled: 30, uncooled: 90 };
/** From here on so much vapour comes over that it warms an uncooled condenser, W. Chosen. */
const VAPOUR_FELT_W = 50;

export const liquidKg = (contents: Contents): number =>
  contents.oilKg + contents.productKg + contents.methanolKg + contents.flakesKg;

const heatCapacityKJPerK = (contents: Contents): number =>
  contents.methanolKg * METHANOL_KJ_PER_KG_K +
  (contents.oilKg + contents.productKg + contents.flakesKg) * OIL_KJ_PER_KG_K;

/**
 * Temperature at which pure methanol boils, °C: a straight line of Clausius and Clapeyron's kind through two
 * published points, within 0.2 °C of published tables from 700 to 1,050 hPa.
 */
export const pureBoilingC = (pressureHPa: number): number =>
  1 / (1 / BOILING.kelvin - Math.log(pressureHPa / BOILING.hPa) / VAPORISATION_K) - 273.15;

/** Temperature at which this liquid boils, °C; infinite without methanol. */
function boilingC(contents: Contents, pressureHPa: number): number {
  const rest = liquidKg(contents) - contents.methanolKg;
  return pureBoilingC(pressureHPa) + (BOILING_RISE_C * rest) / contents.methanolKg;
}

/** How much of what a stirred liquid does the present speed gives, from `atRest` to 1. */
function moved(movingPerMin: number, atRest: number): number {
  return atRest + (1 - atRest) * Math.min(1, movingPerMin / MOVING_PER_MIN);
}

/** A vessel at rest in which all is as warm as its liquid. */
export const filledVessel = (contents: Contents, temperatureC: number): VesselState => ({
  ...contents,
  liquidC: temperatureC,
  wallC: temperatureC,
  elementC: temperatureC,
  stirrerPerMin: 0,
  movingPerMin: 0,
  heating: false,
  underHPa: 0,
  condensateC: temperatureC,
});

/** The vessel `dtS` seconds later; steps of up to 2 s are stable for the equipment in use. */
export function stepVessel(
  state: VesselState,
  equipment: Equipment,
  controls: Controls,
  surroundings: Surroundings,
  dtS: number,
): VesselState {
  const transfer = moved(state.movingPerMin, TRANSFER_AT_REST);
  const contact = moved(state.movingPerMin, CONTACT_AT_REST);
  const level = liquidKg(state) / equipment.fullKg;

  const heating = asksForHeat(state, equipment, controls);
  const { heaterFault } = controls;
  const heaterW = (heating && heaterFault !== 'dead') || heaterFault === 'welded' ? equipment.heaterW : 0;
  const covered = Math.min(1, level / ELEMENT_COVERED_AT);
  const elementW = equipment.elementWPerK * transfer * covered * (state.elementC - state.liquidC);
  const bareW = BARE_W_PER_K * (1 - covered) * (state.elementC - state.wallC);
  const wallW = equipment.wallWPerK * transfer * Math.min(1, level) * (state.liquidC - state.wallC);
  const lossW = equipment.lossWPerK * (state.wallC - surroundings.ambientC);

  const reactedKg = Math.min(reactionKgPerS(state, contact) * dtS, state.oilKg);
  const boundKg = Math.min(reactedKg * METHANOL_KG_PER_KG_OIL, state.methanolKg);
  const dissolvedKg =
    state.methanolKg > 0 ? state.flakesKg * -Math.expm1((-contact * dtS) / DISSOLVING_S) : 0;
  const boilingW =
    BOILING_W_PER_KG_K *
    liquidKg(state) *
    Math.max(0, state.liquidC - boilingC(state, insideHPa(state, surroundings)));
  const boiledKg = Math.min((boilingW / 1000 / VAPORISATION_KJ_PER_KG) * dtS, state.methanolKg - boundKg);

  const liquidKJ =
    ((elementW - wallW) / 1000) * dtS +
    reactedKg * REACTION_KJ_PER_KG +
    dissolvedKg * DISSOLVING_KJ_PER_KG -
    boiledKg * VAPORISATION_KJ_PER_KG;

  return {
    oilKg: state.oilKg - reactedKg,
    productKg: state.productKg + reactedKg + boundKg,
    methanolKg: state.methanolKg + dissolvedKg - boundKg - boiledKg,
    flakesKg: state.flakesKg - dissolvedKg,
    liquidC: state.liquidC + liquidKJ / heatCapacityKJPerK(state),
    wallC: state.wallC + (((wallW + bareW - lossW) / 1000) * dtS) / equipment.wallKJPerK,
    elementC: state.elementC + (((heaterW - elementW - bareW) / 1000) * dtS) / equipment.elementKJPerK,
    ...stepMixer(state, controls, dtS),
    heating,
    underHPa: approach(state.underHPa, controls.underHPa, dtS / VACUUM_S),
    condensateC: condensateC(state, controls, surroundings, boilingW, dtS),
  };
}

/** Absolute pressure in the vessel, hPa. */
export const insideHPa = (state: VesselState, surroundings: Surroundings): number =>
  surroundings.pressureHPa - state.underHPa;

/** A condenser takes all vapour while its water runs; without it the vapour comes through as hot as it is. */
function condensateC(
  state: VesselState,
  controls: Controls,
  surroundings: Surroundings,
  vapourW: number,
  dtS: number,
): number {
  if (controls.coolingWater) {
    const targetC = COOLING_WATER_C + CONDENSATE_K_PER_W * vapourW;
    return approach(state.condensateC, targetC, dtS / CONDENSER_S.cooled);
  }
  const targetC = vapourW > VAPOUR_FELT_W ? state.liquidC : surroundings.ambientC;
  return approach(state.condensateC, targetC, dtS / CONDENSER_S.uncooled);
}

function asksForHeat(state: VesselState, equipment: Equipment, controls: Controls): boolean {
  if (controls.setPointC === null || equipment.heaterW === 0) return false;
  if (controls.heaterFault === 'asks-on') return true;
  const feltC = equipment.thermostatAt === 'element' ? state.elementC : (controls.feltC ?? state.liquidC);
  if (feltC < controls.setPointC - equipment.thermostatBandC) return true;
  if (feltC > controls.setPointC + equipment.thermostatBandC) return false;
  return state.heating;
}

/** Oil that reacts, kg/s: first order in oil, held back as methanol runs out, twice as fast each 10 °C. */
function reactionKgPerS(state: VesselState, contact: number): number {
  if (state.oilKg === 0 || state.methanolKg === 0) return 0;
  const enough = state.methanolKg / (state.methanolKg + METHANOL_KG_PER_KG_OIL * state.oilKg);
  return ((contact * enough * state.oilKg) / REACTION_S) * 2 ** ((state.liquidC - 55) / 10);
}

/** The vessel after a portion has been stirred in. */
export function pourIn(state: VesselState, portion: Portion): VesselState {
  const before = heatCapacityKJPerK(state);
  const added = heatCapacityKJPerK(portion);
  return {
    ...state,
    oilKg: state.oilKg + portion.oilKg,
    productKg: state.productKg + portion.productKg,
    methanolKg: state.methanolKg + portion.methanolKg,
    flakesKg: state.flakesKg + portion.flakesKg,
    liquidC: (state.liquidC * before + portion.temperatureC * added) / (before + added),
  };
}

/** What is left of free methanol in fuel that has been washed with water. Chosen: water takes nearly all. */
const METHANOL_AFTER_WASH = 0.02;

/** The vessel after its liquid has been washed with water, and the water drawn off. */
export const washOut = (state: VesselState): VesselState => ({
  ...state,
  methanolKg: state.methanolKg * METHANOL_AFTER_WASH,
});

/** Draws `kg` of the liquid, or what there is above the heel. Gives the vessel and the portion drawn. */
export function drawOff(state: VesselState, kg: number): [VesselState, Portion] {
  const total = liquidKg(state);
  const share = Math.max(0, Math.min(kg, total - HEEL_KG)) / total;
  const part = (of: number): Contents => ({
    oilKg: state.oilKg * of,
    productKg: state.productKg * of,
    methanolKg: state.methanolKg * of,
    flakesKg: state.flakesKg * of,
  });
  return [
    { ...state, ...part(1 - share) },
    { ...part(share), temperatureC: state.liquidC },
  ];
}
