import type { Role, Stage } from '../shared/wire/names.ts';
import { DEFAULT_CHANNELS } from './batch.ts';
import {
  contents,
  REACTOR,
  REACTOR_DEVICE,
  SEA_LEVEL,
  STIRRER,
  type Story,
  surroundingsAt,
  variedHeater,
  variedKg,
  variedNoise,
} from './gear.ts';
import type { LinkQuality } from './link.ts';
import type { Mixer } from './mixer.ts';
import { type Channel, type Cue, mergeCues, type Plan } from './scenario.ts';
import type { Truth } from './truth.ts';
import type { Contents, Equipment } from './vessel.ts';

/** One vessel in one stage of its batch, with something that happens to it. */
export interface SingleCourse {
  description: string;
  role?: Role;
  stage: Stage;
  contents: Partial<Contents>;
  temperatureC: number;
  ambientC?: number;
  /** The thermostat's setting, °C; left out, heat is off. */
  setPointC?: number;
  /** Whether it is mixed from the start. */
  mixed: boolean;
  equipment?: Equipment;
  mixer?: Mixer;
  channels?: readonly Channel[];
  plan?: Plan;
  readingEveryMs?: number;
  links?: Readonly<Record<string, LinkQuality>>;
  /** From the stage's start. */
  minutes: number;
  events?: (times: SingleTimes) => readonly Cue[];
  truth: (times: SingleTimes) => Truth;
}

export interface SingleTimes {
  /** Minutes from the start at which the stage begins: readings come before it. */
  stage: number;
  /** The stage's start, and by how much what happens is early or late in this run, 0 to 2 min. */
  shifted: number;
}

/** A vessel `r1`, whatever its role. */
export function single(course: SingleCourse): Story {
  const mixer = course.mixer ?? STIRRER;
  return (vary) => {
    const times = { stage: 1, shifted: 1 + Math.abs(vary('event', 2)) };
    const { stage } = times;
    const filled = contents(course.contents);
    return {
      description: course.description,
      surroundings: surroundingsAt(SEA_LEVEL, vary, course),
      vessels: [
        {
          vessel: 'r1',
          role: course.role ?? 'reactor',
          plan: course.plan ?? {},
          device: REACTOR_DEVICE,
          channels: course.channels ?? DEFAULT_CHANNELS,
          equipment: variedHeater(course.equipment ?? REACTOR, vary),
          mixer,
          contents: {
            oilKg: variedKg(filled.oilKg, vary, 'oil'),
            productKg: variedKg(filled.productKg, vary, 'product'),
            methanolKg: variedKg(filled.methanolKg, vary, 'methanol'),
            flakesKg: filled.flakesKg,
          },
          temperatureC: course.temperatureC + vary('temperature', 0.5),
        },
      ],
      cues: mergeCues(
        [
          { atMinutes: 0, do: 'stir', vessel: 'r1', perMin: course.mixed ? mixer.ratedPerMin : 0 },
          { atMinutes: stage, do: 'stage', vessel: 'r1', stage: course.stage },
          { atMinutes: stage, do: 'set-point', vessel: 'r1', celsius: course.setPointC ?? null },
        ],
        course.events?.(times) ?? [],
      ),
      lengthMinutes: times.shifted + course.minutes,
      readingEveryMs: course.readingEveryMs ?? 1000,
      probesNoisier: variedNoise(vary),
      links: course.links ?? {},
      truth: course.truth(times),
    };
  };
}
