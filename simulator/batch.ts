import { type Cue, mergeCues, type Scenario } from './scenario.ts';
import type { Equipment } from './vessel.ts';

/**
 * A batch of 100 L of used oil with 22 L of methanol, as a person makes it in a shed: the oil is warmed and
 * meanwhile the methoxide mixed; heat is off while it is dosed; then the mix reacts, settles and is filtered.
 * The scenarios are this batch with something that happens to it.
 */

/** A 120 L steel vessel with a thin wrap and a 3 kW immersion element. Sizes chosen, from memory of such gear. */
const REACTOR: Equipment = {
  fullKg: 110,
  heaterW: 3000,
  elementKJPerK: 0.8,
  elementWPerK: 30,
  wallKJPerK: 12,
  wallWPerK: 300,
  lossWPerK: 7,
  thermostatBandC: 0.5,
};

/** A closed 30 L vessel with its own small stirrer and no heater. */
const METHOXIDE_VESSEL: Equipment = {
  fullKg: 18,
  heaterW: 0,
  elementKJPerK: 0.1,
  elementWPerK: 0,
  wallKJPerK: 2,
  wallWPerK: 60,
  lossWPerK: 3,
  thermostatBandC: 0.5,
};

const OIL_KG = 91.6;
const METHANOL_KG = 17.5;
const SODIUM_HYDROXIDE_KG = 0.5;
/** What goes to the bottom: glycerol with much of the methanol left over. */
const GLYCEROL_LAYER_KG = 15;

const DOSE_AT = 38;
/** Minutes from the start at which the reaction begins. */
export const REACT_AT = DOSE_AT + 5;

export interface BatchCourse {
  description: string;
  reactMinutes: number;
  settleHours: number;
  /** What happens beside the ordinary course. */
  events?: readonly Cue[];
}

/** Reactor `r1` and methoxide vessel `m1` from cold oil to filtered fuel. */
export function batch({ description, reactMinutes, settleHours, events = [] }: BatchCourse): Scenario {
  const settleAt = REACT_AT + reactMinutes;
  const drainAt = settleAt + settleHours * 60;
  const filterAt = drainAt + 20;
  const finishedAt = filterAt + 40;
  const course: Cue[] = [
    { atMinutes: 0, do: 'stage', vessel: 'r1', stage: 'warm' },
    { atMinutes: 0, do: 'stir', vessel: 'r1', perMin: 300 },
    { atMinutes: 0, do: 'set-point', vessel: 'r1', celsius: 55 },
    { atMinutes: 15, do: 'stage', vessel: 'm1', stage: 'methoxide' },
    { atMinutes: 15, do: 'stir', vessel: 'm1', perMin: 350 },
    { atMinutes: 16, do: 'add-catalyst', vessel: 'm1', kg: SODIUM_HYDROXIDE_KG, minutes: 5 },
    { atMinutes: DOSE_AT, do: 'stage', vessel: 'r1', stage: 'dose' },
    { atMinutes: DOSE_AT, do: 'set-point', vessel: 'r1', celsius: null },
    { atMinutes: DOSE_AT, do: 'stir', vessel: 'm1', perMin: 0 },
    {
      atMinutes: DOSE_AT,
      do: 'pump',
      from: 'm1',
      to: 'r1',
      kg: METHANOL_KG + SODIUM_HYDROXIDE_KG,
      minutes: 5,
    },
    { atMinutes: REACT_AT, do: 'stage', vessel: 'r1', stage: 'react' },
    { atMinutes: REACT_AT, do: 'set-point', vessel: 'r1', celsius: 55 },
    { atMinutes: settleAt, do: 'stage', vessel: 'r1', stage: 'settle' },
    { atMinutes: settleAt, do: 'set-point', vessel: 'r1', celsius: null },
    { atMinutes: settleAt, do: 'stir', vessel: 'r1', perMin: 0 },
    // Nothing moves fast from here on.
    { atMinutes: settleAt + 5, do: 'reading-every', ms: 10_000 },
    { atMinutes: drainAt, do: 'stage', vessel: 'r1', stage: 'drain' },
    { atMinutes: drainAt, do: 'pump', from: 'r1', to: null, kg: GLYCEROL_LAYER_KG, minutes: 20 },
    { atMinutes: filterAt, do: 'stage', vessel: 'r1', stage: 'filter' },
    { atMinutes: filterAt, do: 'pump', from: 'r1', to: null, kg: REACTOR.fullKg, minutes: 40 },
    { atMinutes: finishedAt, do: 'stage', vessel: 'r1', stage: 'finished' },
  ];
  return {
    description,
    surroundings: { ambientC: 20, pressureHPa: 1013.25 },
    vessels: [
      {
        vessel: 'r1',
        device: 'r1-node',
        equipment: REACTOR,
        contents: { oilKg: OIL_KG, productKg: 0, methanolKg: 0, flakesKg: 0 },
        temperatureC: 24,
      },
      {
        vessel: 'm1',
        device: 'm1-node',
        equipment: METHOXIDE_VESSEL,
        contents: { oilKg: 0, productKg: 0, methanolKg: METHANOL_KG, flakesKg: 0 },
        // Kept outdoors.
        temperatureC: 15,
      },
    ],
    cues: mergeCues(course, events),
    lengthMinutes: finishedAt + 1,
  };
}
