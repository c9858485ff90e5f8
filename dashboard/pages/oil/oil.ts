import { BASE_KINDS, type BaseKind } from '../../../shared/chemistry/bases.ts';
import { OutOfRange } from '../../../shared/chemistry/formula.ts';
import type { OilKind } from '../../../shared/chemistry/oil-kinds.ts';
import {
  FREE_FATTY_ACID_HIGH_PERCENT,
  FREE_FATTY_ACID_LEAVE_PERCENT,
  FREE_FATTY_ACID_NOTE_PERCENT,
} from '../../../shared/chemistry/titration.ts';
import type { PlanAnswer } from '../../../shared/plan/answer.ts';
import { WATER_PPM } from '../../../shared/plan/cautions.ts';
import { computePlan } from '../../../shared/plan/compute.ts';
import { rangeAt } from '../../../shared/plan/read-request.ts';
import type { PlanRequest, Titration } from '../../../shared/plan/request.ts';
import { PLAN_DEFAULTS } from '../../../shared/plan/resolve.ts';
import { parseNumber } from '../../units.ts';

/** Whether an oil is worth taking, from a titration beside the jar. Pure. */

/** The page's entries by the field of a titration that each stands for. */
export const ENTRY_PATHS = {
  run1: 'oil.titration.mL',
  run2: 'oil.titration.mL',
  run3: 'oil.titration.mL',
  blank: 'oil.titration.blankMl',
  gPerL: 'oil.titration.gPerL',
  sample: 'oil.titration.sampleMl',
  purity: 'oil.titration.purityPercent',
  water: 'oil.waterPpm',
} as const;
export type EntryName = keyof typeof ENTRY_PATHS;
export const RUNS = ['run1', 'run2', 'run3'] as const;

export interface Typed {
  readonly titrant: BaseKind | '';
  readonly kind: OilKind;
  readonly entries: Readonly<Partial<Record<EntryName, string>>>;
}

export type WrongEntry = { kind: 'not-a-number' } | { kind: 'range'; least: number; most: number };

/** `take`; `more-soap`: take it, and expect more soap; `acid-first`: acid or mixing first; `leave`. */
export const VERDICTS = ['take', 'more-soap', 'acid-first', 'leave'] as const;
export type Verdict = (typeof VERDICTS)[number];

export const LIMITS = {
  soap: FREE_FATTY_ACID_NOTE_PERCENT,
  acid: FREE_FATTY_ACID_HIGH_PERCENT,
  leave: FREE_FATTY_ACID_LEAVE_PERCENT,
  water: WATER_PPM,
} as const;

export const verdictOf = ({ freeFattyAcidPercent: acid, oilVerdict }: PlanAnswer): Verdict =>
  acid >= LIMITS.leave
    ? 'leave'
    : oilVerdict === 'too-acid'
      ? 'acid-first'
      : oilVerdict === 'more-soap'
        ? 'more-soap'
        : 'take';

export interface Judged {
  readonly verdict: Verdict;
  /** The plan of 100 L with either lye: shares of a hundred. */
  readonly plans: Readonly<Record<BaseKind, PlanAnswer>>;
  readonly titrant: BaseKind;
  /** What the run that took least says, and the one that took most; undefined for a single run. */
  readonly ends: { least: PlanAnswer; most: PlanAnswer } | undefined;
  /** The ends do not say the same of the oil. */
  readonly isTorn: boolean;
  /** The runs lie further apart than a titration should. */
  readonly isSpread: boolean;
  readonly isBlankHigh: boolean;
  readonly waterPpm: number | undefined;
  readonly isWet: boolean;
  /** Litres of oil without acid for each litre of this one that bring the mix under the limit of base alone. */
  readonly mixWithL: number | undefined;
  /** For the recipe page. */
  readonly request: PlanRequest;
}

export interface Read {
  readonly wrong: ReadonlyMap<EntryName | 'titrant', WrongEntry | { kind: 'titrant' } | { kind: 'too-much' }>;
  /** Undefined until there is a run and a titrant. */
  readonly judged: Judged | undefined;
}

/** Litres that are computed with: amounts are shares of it. */
export const OF_LITRES = 100;

export function readTyped({ titrant, kind, entries }: Typed): Read {
  const wrong = new Map<EntryName | 'titrant', WrongEntry | { kind: 'titrant' } | { kind: 'too-much' }>();
  const number = (name: EntryName): number | undefined => {
    const text = entries[name]?.trim() ?? '';
    if (text === '') return undefined;
    const value = parseNumber(text);
    const { least, most } = rangeAt(ENTRY_PATHS[name]);
    if (value === undefined) wrong.set(name, { kind: 'not-a-number' });
    else if (value < least || value > most) wrong.set(name, { kind: 'range', least, most });
    else return value;
    return undefined;
  };
  const runs = RUNS.map(number).filter((run) => run !== undefined);
  const blankMl = number('blank');
  const gPerL = number('gPerL');
  const sampleMl = number('sample');
  const purityPercent = number('purity');
  const waterPpm = number('water');
  if (runs.length > 0 && titrant === '') wrong.set('titrant', { kind: 'titrant' });
  if (runs.length === 0 || titrant === '') return { wrong, judged: undefined };
  const titration: Titration = {
    mL: runs.length === 1 ? runs[0]! : runs,
    titrant,
    // The same whichever lye is weighed out afterwards.
    purityPercent: purityPercent ?? PLAN_DEFAULTS.catalyst.purityPercent[titrant],
    ...(blankMl === undefined ? {} : { blankMl }),
    ...(gPerL === undefined ? {} : { gPerL }),
    ...(sampleMl === undefined ? {} : { sampleMl }),
  };
  const oil = { kind, titration, ...(waterPpm === undefined ? {} : { waterPpm }) };
  try {
    return { wrong, judged: judge(oil, titrant, runs) };
  } catch (error) {
    if (!(error instanceof OutOfRange)) throw error;
    // More acid than any oil can have.
    wrong.set('run1', { kind: 'too-much' });
    return { wrong, judged: undefined };
  }
}

function judge(oil: NonNullable<PlanRequest['oil']>, titrant: BaseKind, runs: readonly number[]): Judged {
  const planFor = (lye: BaseKind, mL?: number): PlanAnswer =>
    computePlan({
      oil: {
        ...oil,
        volumeL: OF_LITRES,
        titration: mL === undefined ? oil.titration : { ...oil.titration!, mL },
      },
      catalyst: { kind: lye },
    });
  const plans = Object.fromEntries(BASE_KINDS.map((lye) => [lye, planFor(lye)])) as Record<
    BaseKind,
    PlanAnswer
  >;
  const plan = plans[titrant];
  const ends =
    runs.length < 2
      ? undefined
      : { least: planFor(titrant, Math.min(...runs)), most: planFor(titrant, Math.max(...runs)) };
  const codes = new Set(plan.cautions.map(({ code }) => code));
  const acid = plan.freeFattyAcidPercent;
  return {
    verdict: verdictOf(plan),
    plans,
    titrant,
    ends,
    isTorn: ends !== undefined && verdictOf(ends.least) !== verdictOf(ends.most),
    isSpread: codes.has('titration-spread'),
    isBlankHigh: codes.has('titration-blank'),
    waterPpm: oil.waterPpm ?? undefined,
    isWet: codes.has('water-high'),
    mixWithL: acid >= LIMITS.acid ? acid / LIMITS.acid - 1 : undefined,
    request: { oil },
  };
}
