import { BATCH } from '../../texts/batch.ts';
import { isToSee, missingName, toSee } from '../../texts/live.ts';
import { amount, degreesApart } from '../../views/words.ts';

/** What was not so when a batch went on early. */
export function missingSaid({ what, has, needs }: { what: string; has: number; needs: number }): string {
  if (has === 0 && needs === 1) return isToSee(what) ? toSee(what) : missingName(what).name;
  if (what === 'below-boiling') return BATCH.next.belowBoiling(degreesApart(has), degreesApart(needs));
  const { name, unit } = missingName(what);
  return `${name} ${BATCH.next.counted(amount(has), amount(needs), unit)}`;
}
