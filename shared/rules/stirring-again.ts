import { MIXING_STAGES, type Stage } from '../wire/names.ts';
import { MOSTLY_REACTED_MS, REST_MS } from './restart-hot.ts';

/** What is known of a vessel that may have stood still while nobody watched. */
export interface Stood {
  stage: Stage;
  /** Since when it may have stood still: what nobody saw counts as stood, epoch ms. */
  stillFromMs: number;
  /** Whether readings since then show that it moves; null where none do. */
  isMoving: boolean | null;
  /** Of a reading since then, °C below boiling; null without one. */
  headroomC: number | null;
  risingCPerMin: number | null;
  /** Counted reaction time of this pass, min. */
  countedMinutes: number;
  /** The plan's `restartMarginC`; null where the plan is not known. */
  restartMarginC: number | null;
}

/** Whether stirring may start again, by what `restart-hot` goes by. */
export type StirringAgain =
  /** This stage is not stirred. */
  | { may: 'not-stirred' }
  /** Stirred, with no methoxide lying on the oil: no rule holds it back. */
  | { may: 'yes' }
  /** Still for less than what lets methoxide lie. */
  | { may: 'yes-at-once'; leftMs: number }
  /** It moves already. */
  | { may: 'moving' }
  /** The batch is not known, and with it the margin that decides. */
  | { may: 'margin-unknown' }
  /** Nobody knows how hot it is. */
  | { may: 'measure-first' }
  /** Too near boiling; `coolMinutes` at the present fall, where it falls. */
  | { may: 'not-yet'; coolByC: number; coolMinutes: number | null }
  /** Cool enough: in short bursts, with the heat off. */
  | { may: 'in-bursts'; isMostlyReacted: boolean };

/** Slower than this, °C/min, nobody can say when it will be cool enough. */
const LEAST_FALL_C_PER_MIN = 0.05;

export function stirringAgain(stood: Stood, nowMs: number): StirringAgain {
  const { stage, stillFromMs, isMoving, headroomC, risingCPerMin, countedMinutes, restartMarginC } = stood;
  if (!MIXING_STAGES.includes(stage)) return { may: 'not-stirred' };
  if (isMoving) return { may: 'moving' };
  if (stage !== 'dose' && stage !== 'react') return { may: 'yes' };
  const leftMs = stillFromMs + REST_MS - nowMs;
  if (leftMs > 0) return { may: 'yes-at-once', leftMs };
  if (restartMarginC === null) return { may: 'margin-unknown' };
  if (headroomC === null) return { may: 'measure-first' };
  if (headroomC < restartMarginC) {
    const coolByC = restartMarginC - headroomC;
    const fall = -(risingCPerMin ?? 0);
    return { may: 'not-yet', coolByC, coolMinutes: fall < LEAST_FALL_C_PER_MIN ? null : coolByC / fall };
  }
  return { may: 'in-bursts', isMostlyReacted: countedMinutes * 60_000 >= MOSTLY_REACTED_MS };
}
