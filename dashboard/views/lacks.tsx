import type { Right } from '../../shared/wire/session.ts';
import { may } from '../session.ts';
import { PEOPLE, RIGHT_WORDS } from '../texts/people.ts';

/** Where a page is all about doing something: why whoever may not sees nothing of that. */
export function Lacks({ right }: { right: Right }) {
  if (may(right)) return null;
  return <p class="quiet">{PEOPLE.lacks(RIGHT_WORDS[right])}</p>;
}
