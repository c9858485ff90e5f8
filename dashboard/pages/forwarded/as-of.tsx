import type { Forwarded } from '../../../shared/wire/api.ts';
import { isLive, now } from '../../store.ts';
import { FORWARDED } from '../../texts/forwarded.ts';
import { duration } from '../../units.ts';
import { isOldPicture } from '../../vessels.ts';
import { when } from '../../views/words.ts';

/** As of when something of a forwarded site is shown, and clearly where that is not now. */
export function AsOf({ forwarded }: { forwarded: Forwarded }) {
  const ageMs = Math.max(0, now.value - Date.parse(forwarded.asOf));
  const isOld = !isLive.value || isOldPicture(forwarded, now.value);
  const texts = FORWARDED;
  return (
    <p class={`as-of ${isOld ? 'stale' : 'quiet'}`}>
      {isOld && <b>{texts.notLive} </b>}
      {texts.asOf(when(forwarded.asOf, 'second'), duration(ageMs))}
    </p>
  );
}
