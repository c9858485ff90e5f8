import type { Stage } from '../shared/wire/names.ts';
import {
  contents,
  METHOXIDE_DEVICE,
  METHOXIDE_STIRRER,
  METHOXIDE_VESSEL,
  REACTOR,
  REACTOR_DEVICE,
  SEA_LEVEL,
  type Site,
  STIRRER,
  type Story,
  surroundingsAt,
  variedHeater,
  variedKg,
  variedNoise,
} from './gear.ts';
import type { LinkQuality } from './link.ts';
import type { Mixer } from './mixer.ts';
import { type Channel, type Cue, mergeCues, type Plan, type ScenarioVessel } from './scenario.ts';
import type { Truth } from './truth.ts';
import type { Vary } from './variation.ts';
import { type Equipment, OIL_KJ_PER_KG_K } from './vessel.ts';

/**
 * A batch of 100 L of used oil with 22 L of methanol, as a person makes it in a shed: the oil is warmed and
 * meanwhile the methoxide mixed; heat is off while it is dosed; then the mix reacts, settles and is filtered.
 * Most scenarios are this batch with something that happens to it.
 */

const OIL_KG = 91.6;
const METHANOL_KG = 17.5;
const SODIUM_HYDROXIDE_KG = 0.5;
/** What goes to the bottom: glycerol with much of the methanol left over. */
const GLYCEROL_LAYER_KG = 15;

export interface BatchCourse {
  description: string;
  reactMinutes: number;
  settleHours: number;
  site?: Site;
  ambientC?: number;
  pressureSwingHPa?: number;
  /** Planned temperature of the reaction, °C: 55 where left out. */
  planC?: number;
  /** What the oil is warmed to before it is dosed, °C, where that is not the planned temperature. */
  warmToC?: number;
  plan?: Plan;
  equipment?: Equipment;
  mixer?: Mixer;
  /** Half the thermostat's dead band, °C. */
  thermostatBandC?: number;
  channels?: readonly Channel[];
  methoxide?: { startC?: number; flakesKg?: number; mixedMinutes?: number };
  /** Minutes over which the methoxide goes in. */
  doseMinutes?: number;
  /** The fuel is washed with water and dried before it is filtered. */
  washed?: boolean;
  readingEveryMs?: number;
  links?: Readonly<Record<string, LinkQuality>>;
  /** Both vessels have no instruments; a person types in what a kitchen thermometer shows. */
  byHand?: boolean;
  /** Minutes after which nobody looks any more, where that is not the batch's end. */
  endsAt?: (times: BatchTimes) => number;
  /** What happens beside the ordinary course. */
  events?: (times: BatchTimes) => readonly Cue[];
  truth?: (times: BatchTimes) => Truth;
}

/** Minutes from the start at which each stage begins in this run. */
export interface BatchTimes {
  methoxide: number;
  dose: number;
  react: number;
  settle: number;
  drain: number;
  filter: number;
  finished: number;
  /** By how much what happens is early or late in this run, −3 to 3 min. */
  shift: number;
}

const NOTHING_TO_TELL: Truth = { expects: [], allows: [] };
export const DEFAULT_CHANNELS: readonly Channel[] = ['liquid-temperature', 'stirrer-speed', 'heater'];
const METHOXIDE_CHANNELS: readonly Channel[] = ['liquid-temperature', 'stirrer-speed'];

/** Reactor `r1` and methoxide vessel `m1` from cold oil to filtered fuel. */
export function batch(course: BatchCourse): Story {
  const planC = course.planC ?? 55;
  const warmToC = course.warmToC ?? planC;
  const mixer = course.mixer ?? STIRRER;
  const { mixedMinutes = 23, startC = 15, flakesKg = SODIUM_HYDROXIDE_KG } = course.methoxide ?? {};
  return (vary) => {
    const surroundings = surroundingsAt(course.site ?? SEA_LEVEL, vary, course);
    const equipment = variedHeater(
      { ...(course.equipment ?? REACTOR), ...bandOf(course.thermostatBandC) },
      vary,
    );
    const oilKg = variedKg(OIL_KG, vary, 'oil');
    const oilC = surroundings.ambientC + 4;
    const methanolKg = variedKg(METHANOL_KG, vary, 'methanol');
    const warmMinutes = minutesToWarm(equipment, oilKg, oilC, warmToC, surroundings.ambientC);
    const times = timesOf(course, warmMinutes, mixedMinutes, vary);
    const cues = courseCues({ course, times, planC, warmToC, mixer, methanolKg, flakesKg });
    const reactor: ScenarioVessel = {
      vessel: 'r1',
      role: 'reactor',
      plan: { reactionTemperatureC: planC, ...course.plan },
      device: course.byHand ? null : REACTOR_DEVICE,
      channels: course.byHand ? [] : (course.channels ?? DEFAULT_CHANNELS),
      equipment,
      mixer,
      contents: contents({ oilKg }),
      temperatureC: oilC,
    };
    const methoxideVessel: ScenarioVessel = {
      vessel: 'm1',
      role: 'methoxide',
      plan: reactor.plan,
      device: course.byHand ? null : METHOXIDE_DEVICE,
      channels: course.byHand ? [] : METHOXIDE_CHANNELS,
      equipment: METHOXIDE_VESSEL,
      mixer: METHOXIDE_STIRRER,
      contents: contents({ methanolKg }),
      // Kept outdoors.
      temperatureC: startC + vary('methanol-temperature', 3),
    };
    return {
      description: course.description,
      surroundings,
      vessels: [reactor, methoxideVessel],
      cues: mergeCues(
        cues,
        [...(course.byHand ? typedIn(times, vary) : []), ...(course.events?.(times) ?? [])].sort(
          (a, b) => a.atMinutes - b.atMinutes,
        ),
      ),
      lengthMinutes: course.endsAt?.(times) ?? times.finished + 1,
      readingEveryMs: course.readingEveryMs ?? 1000,
      probesNoisier: variedNoise(vary),
      links: course.links ?? {},
      truth: course.truth?.(times) ?? NOTHING_TO_TELL,
    };
  };
}

const bandOf = (thermostatBandC: number | undefined): Partial<Equipment> =>
  thermostatBandC === undefined ? {} : { thermostatBandC };

/** How long a heater takes, min, with what is lost on the way. */
function minutesToWarm(
  { heaterW, lossWPerK, wallKJPerK }: Equipment,
  oilKg: number,
  fromC: number,
  toC: number,
  ambientC: number,
): number {
  const kJ = (oilKg * OIL_KJ_PER_KG_K + wallKJPerK) * (toC - fromC);
  const kW = (heaterW - lossWPerK * ((fromC + toC) / 2 - ambientC)) / 1000;
  return kJ / kW / 60;
}

/** A look and a hand on the valve, min. */
const BEFORE_DOSING = 1.5;
const SETTLED_TO_DRAINED = 20;
const WASHING = 60;
const DRYING = 140;
/** Hot fuel is left to cool in the vessel that it was dried in. */
const COOLING = 8 * 60;
const FILTERING = 40;

function timesOf(
  { reactMinutes, settleHours, doseMinutes = 5, washed }: BatchCourse,
  warmMinutes: number,
  mixedMinutes: number,
  vary: Vary,
): BatchTimes {
  const dose = Math.max(Math.ceil(warmMinutes + BEFORE_DOSING), mixedMinutes + 1) + Math.abs(vary('dose', 3));
  const react = dose + doseMinutes;
  const settle = react + reactMinutes + Math.abs(vary('react', 3));
  const drain = settle + settleHours * 60 + Math.abs(vary('settle', 30));
  const filter = drain + SETTLED_TO_DRAINED + (washed ? WASHING + DRYING + COOLING : 0);
  return {
    methoxide: dose - mixedMinutes,
    dose,
    react,
    settle,
    drain,
    filter,
    finished: filter + FILTERING,
    shift: vary('event', 3),
  };
}

function courseCues({
  course,
  times,
  planC,
  warmToC,
  mixer,
  methanolKg,
  flakesKg,
}: {
  course: BatchCourse;
  times: BatchTimes;
  planC: number;
  warmToC: number;
  mixer: Mixer;
  methanolKg: number;
  flakesKg: number;
}): Cue[] {
  const { methoxide, dose, react, settle, drain, filter, finished } = times;
  const r1 = (atMinutes: number, stage: Stage): Cue => ({ atMinutes, do: 'stage', vessel: 'r1', stage });
  const heat = (atMinutes: number, celsius: number | null): Cue => ({
    atMinutes,
    do: 'set-point',
    vessel: 'r1',
    celsius,
  });
  return [
    r1(0, 'warm'),
    { atMinutes: 0, do: 'stir', vessel: 'r1', perMin: mixer.ratedPerMin },
    heat(0, warmToC),
    { atMinutes: methoxide, do: 'stage', vessel: 'm1', stage: 'methoxide' },
    { atMinutes: methoxide, do: 'stir', vessel: 'm1', perMin: METHOXIDE_STIRRER.ratedPerMin },
    { atMinutes: methoxide + 1, do: 'add-catalyst', vessel: 'm1', kg: flakesKg, minutes: 5 },
    r1(dose, 'dose'),
    heat(dose, null),
    { atMinutes: dose, do: 'stir', vessel: 'm1', perMin: 0 },
    { atMinutes: dose, do: 'pump', from: 'm1', to: 'r1', kg: methanolKg + flakesKg, minutes: react - dose },
    r1(react, 'react'),
    heat(react, planC),
    r1(settle, 'settle'),
    heat(settle, null),
    { atMinutes: settle, do: 'stir', vessel: 'r1', perMin: 0 },
    // Nothing moves fast from here on.
    { atMinutes: settle + 5, do: 'reading-every', ms: 10_000 },
    r1(drain, 'drain'),
    {
      atMinutes: drain,
      do: 'pump',
      from: 'r1',
      to: null,
      kg: GLYCEROL_LAYER_KG,
      minutes: SETTLED_TO_DRAINED,
    },
    ...(course.washed ? washAndDry(drain + SETTLED_TO_DRAINED) : []),
    r1(filter, 'filter'),
    { atMinutes: filter, do: 'pump', from: 'r1', to: null, kg: REACTOR.fullKg, minutes: finished - filter },
    r1(finished, 'finished'),
  ];
}

/** Washing takes the methanol out; then the fuel is dried at 105 °C and left to cool for a while. */
function washAndDry(washAt: number): Cue[] {
  const dryAt = washAt + WASHING;
  return [
    { atMinutes: washAt, do: 'stage', vessel: 'r1', stage: 'wash' },
    { atMinutes: washAt + WASHING / 2, do: 'wash-out', vessel: 'r1' },
    { atMinutes: dryAt, do: 'stage', vessel: 'r1', stage: 'dry-fuel' },
    { atMinutes: dryAt, do: 'set-point', vessel: 'r1', celsius: 105 },
    { atMinutes: dryAt + DRYING, do: 'set-point', vessel: 'r1', celsius: null },
  ];
}

/** A look at the thermometer every few minutes while it matters, and now and then while it settles. */
function typedIn({ settle, finished }: BatchTimes, vary: Vary): Cue[] {
  const cues: Cue[] = [];
  let atMinutes = 1;
  while (atMinutes < finished) {
    cues.push({ atMinutes, do: 'type-in', vessel: 'r1' });
    atMinutes += atMinutes < settle ? 4.5 + vary(`typed-${cues.length}`, 1.5) : 180;
  }
  return cues;
}
