import type { Caution } from '../../../shared/plan/answer.ts';
import { CAUTION_CODES, type CautionCode } from '../../../shared/plan/caution-codes.ts';
import type { Priority } from '../../../shared/wire/names.ts';
import { CAUTION_NAMES, RECIPE_TEXTS as TEXTS } from '../../texts/recipe.ts';
import { PriorityMark } from '../../views/alarms.tsx';
import { inTheirWords } from '../../views/words.ts';

/** How grave a caution is, as the alarms say it: what can hurt first, what spoils a batch next, the rest. */
const FIRST_MEDIUM: CautionCode = 'altitude-not-set';
const NOTES: ReadonlySet<CautionCode> = new Set([
  'free-fatty-acid',
  'methanol-high',
  'glycerol-sets',
  'outside-validity',
]);

export const gravityOf = (code: CautionCode): Priority =>
  NOTES.has(code)
    ? 'low'
    : CAUTION_CODES.indexOf(code) < CAUTION_CODES.indexOf(FIRST_MEDIUM)
      ? 'high'
      : 'medium';

/** A caution in full, beside what it comes from. */
export function CautionNote({ caution: { code, text, source } }: { caution: Caution }) {
  return (
    <div class={`caution-note is-${gravityOf(code)}`}>
      <p>
        <PriorityMark priority={gravityOf(code)} />{' '}
        {!text.startsWith(CAUTION_NAMES[code]) && <b>{CAUTION_NAMES[code]}.</b>} {inTheirWords(text)}.
      </p>
      <details>
        <summary>{TEXTS.answer.sourceWord}</summary>
        <p class="quiet">{source}</p>
      </details>
    </div>
  );
}
