import { DEFAULT_CHANNELS } from './batch.ts';
import {
  contents,
  REACTOR_DEVICE,
  SEA_LEVEL,
  STIRRER,
  type Story,
  surroundingsAt,
  variedKg,
  variedNoise,
} from './gear.ts';
import { type Cue, mergeCues } from './scenario.ts';
import type { Truth } from './truth.ts';
import type { Equipment } from './vessel.ts';

export interface JarCourse {
  description: string;
  equipment: Equipment;
  /** Minutes from the start after which nobody looks any more, where that is not the end. */
  endsAt?: (react: number) => number;
  events?: (react: number) => readonly Cue[];
  truth?: (react: number) => Truth;
}

const OIL_KG = 0.92;
/** What its maker mixed in another jar and pours in by hand, cooled. */
const METHOXIDE_KG = 0.18;
/** Liquid and dial that go together, °C: the plate is warmer than the jar by what the jar loses. */
const PLAN_C = 54;
const DIAL_C = 61;
const DOSE = 70;
const POURING = 2;
const SETTLING = 24.2 * 60;

/** A litre in a jar `r1`, from cold oil to settled, as it is shown to a class. */
export function jar({ description, equipment, endsAt, events, truth }: JarCourse): Story {
  return (vary) => {
    const surroundings = surroundingsAt(SEA_LEVEL, vary);
    const dose = DOSE + Math.abs(vary('dose', 3));
    const react = dose + POURING;
    const settle = react + 75 + Math.abs(vary('react', 3));
    const methanolKg = variedKg(METHOXIDE_KG, vary, 'methanol');
    const course: Cue[] = [
      { atMinutes: 0, do: 'stage', vessel: 'r1', stage: 'warm' },
      { atMinutes: 0, do: 'stir', vessel: 'r1', perMin: STIRRER.ratedPerMin },
      // The room's warmth counts for a part of what the jar loses.
      { atMinutes: 0, do: 'set-point', vessel: 'r1', celsius: DIAL_C - 0.2 * (surroundings.ambientC - 20) },
      { atMinutes: dose, do: 'stage', vessel: 'r1', stage: 'dose' },
      { atMinutes: dose, do: 'pump', from: 'jug', to: 'r1', kg: methanolKg, minutes: POURING },
      { atMinutes: react, do: 'stage', vessel: 'r1', stage: 'react' },
      { atMinutes: settle, do: 'stage', vessel: 'r1', stage: 'settle' },
      { atMinutes: settle, do: 'set-point', vessel: 'r1', celsius: null },
      { atMinutes: settle, do: 'stir', vessel: 'r1', perMin: 0 },
      { atMinutes: settle + 5, do: 'reading-every', ms: 10_000 },
      { atMinutes: settle + SETTLING, do: 'stage', vessel: 'r1', stage: 'test' },
      { atMinutes: settle + SETTLING + 10, do: 'stage', vessel: 'r1', stage: 'finished' },
    ];
    const jug: Equipment = { ...equipment, fullKg: 1, heaterW: 0 };
    return {
      description,
      surroundings,
      vessels: [
        {
          vessel: 'r1',
          role: 'reactor',
          plan: { reactionTemperatureC: PLAN_C },
          device: REACTOR_DEVICE,
          channels: [...DEFAULT_CHANNELS, 'stirrer-current'],
          equipment,
          mixer: { ...STIRRER, ratedA: 0.3 },
          contents: contents({ oilKg: variedKg(OIL_KG, vary, 'oil') }),
          temperatureC: surroundings.ambientC,
        },
        {
          vessel: 'jug',
          role: 'methoxide',
          plan: { reactionTemperatureC: PLAN_C },
          device: null,
          channels: [],
          equipment: jug,
          mixer: STIRRER,
          // What no pump draws stays: a jug can be emptied to the last drop, so there is as much more in it.
          contents: contents({ methanolKg: methanolKg + 0.2 }),
          temperatureC: surroundings.ambientC,
        },
      ],
      cues: mergeCues(course, events?.(react) ?? []),
      lengthMinutes: endsAt?.(react) ?? settle + SETTLING + 11,
      readingEveryMs: 1000,
      probesNoisier: variedNoise(vary),
      links: {},
      truth: truth?.(react) ?? { expects: [], allows: [] },
    };
  };
}
