import { useEffect, useMemo } from 'preact/hooks';
import type { Alarm, Vessel } from '../../../shared/wire/api.ts';
import { alarmSentence } from '../../alarm-sentence.ts';
import { oldAfterMs } from '../../link.ts';
import { vesselHref } from '../../route.ts';
import { unit } from '../../settings.ts';
import { isLive, now, speed, vesselAt, vessels } from '../../store.ts';
import { alarmTitle } from '../../texts/alarm-titles.ts';
import { TEXTS } from '../../texts/live.ts';
import { WALL_TEXTS } from '../../texts/wall.ts';
import { byGravity, isCalm } from '../../vessels.ts';
import { PriorityMark } from '../../views/alarms.tsx';
import { Scale } from '../../views/scale.tsx';
import { Behind, Counted, Direction, Headline, Mixing, Way } from '../../views/vessel-state.tsx';
import { clock, when } from '../../views/words.ts';
import { AsOf } from '../forwarded/as-of.tsx';
import type { PageOf } from '../pages.ts';
import { keepAwake } from './keep-awake.ts';
import './wall.css';

function Gravest({ alarm }: { alarm: Alarm }) {
  const { because, todo } = alarmSentence(alarm, unit.value);
  return (
    <div class="wall-alarm" data-priority={alarm.priority}>
      <PriorityMark priority={alarm.priority} />
      <p class="because">{because}</p>
      <p class="todo">{todo}</p>
    </div>
  );
}

/** Alarms that stand and that nobody is told of: the head of the page, which counts them elsewhere, is not shown here. */
function Aside({ alarms }: { alarms: readonly Alarm[] }) {
  if (alarms.length === 0) return null;
  return (
    <ul class="wall-aside" aria-label={WALL_TEXTS.aside}>
      {alarms.map(({ id, alarm, priority, shelved, explainedBy }) => (
        <li key={id}>
          <PriorityMark priority={priority} /> {alarmTitle(alarm)}.
          {shelved !== null &&
            ` ${TEXTS.alarms.shelvedUntil(when(shelved.until), shelved.by, shelved.reason)}.`}
          {explainedBy !== null && ` ${TEXTS.alarms.followsFrom(alarmTitle(explainedBy))}.`}
        </li>
      ))}
    </ul>
  );
}

function Wall({ vessel }: { vessel: Vessel }) {
  const all = vessel.alarms.filter((alarm) => alarm.standing).sort(byGravity);
  const standing = all.filter((alarm) => alarm.told);
  const [gravest] = standing;
  return (
    <article class="vessel wall" data-gravest={gravest?.priority}>
      <Scale vessel={vessel} />
      <div class="wall-said">
        <h1>{WALL_TEXTS.title(vessel.vessel, vessel.site)}</h1>
        {vessel.forwarded !== undefined && <AsOf forwarded={vessel.forwarded} />}
        <Headline vessel={vessel} />
        <Direction vessel={vessel} />
        {/* Where something is wrong, that and what to do comes before all that goes well. */}
        {gravest === undefined ? (
          <>
            <Way vessel={vessel} />
            <Counted vessel={vessel} />
            <Mixing vessel={vessel} />
            <Behind vessel={vessel} />
            {isLive.value && isCalm(vessel, now.value, oldAfterMs(speed.value)) && (
              <p class="quiet">{WALL_TEXTS.calm}</p>
            )}
          </>
        ) : (
          <>
            <Gravest alarm={gravest} />
            {standing.length > 1 && <p class="wall-more">{WALL_TEXTS.more(standing.length - 1)}</p>}
            <Counted vessel={vessel} />
            <Behind vessel={vessel} />
          </>
        )}
        <Aside alarms={all.filter((alarm) => !alarm.told)} />
      </div>
    </article>
  );
}

/** One vessel as large as the screen: needs no touch, and can be read from two metres. */
export const WallPage: PageOf<'wall'> = ({ route: { key } }) => {
  const awake = useMemo(keepAwake, []);
  useEffect(() => awake.end, [awake]);
  const vessel = vesselAt(key);
  if (vessel === undefined) {
    return vessels.value === undefined ? null : (
      <>
        <h1 class="unseen">{key}</h1>
        <p>{TEXTS.vessel.unknown}</p>
      </>
    );
  }
  return (
    <>
      <Wall vessel={vessel} />
      <footer class="wall-foot">
        <p>{isLive.value && TEXTS.link.live(clock(now.value))}</p>
        <p class="quiet">{awake.isAwake.value ? WALL_TEXTS.screen.on : WALL_TEXTS.screen.off}</p>
        <a class="button plain" href={vesselHref(vessel)}>
          {WALL_TEXTS.back}
        </a>
      </footer>
    </>
  );
};
