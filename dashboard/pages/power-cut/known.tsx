import type { ComponentChildren } from 'preact';
import type { Vessel } from '../../../shared/wire/api.ts';
import { isLive, now } from '../../store.ts';
import { POWER_CUT } from '../../texts/power-cut.ts';
import { duration } from '../../units.ts';
import { Counted } from '../../views/vessel-state.tsx';
import { degrees, degreesApart, when } from '../../views/words.ts';
import { type Outage, readSince } from './outage.ts';

export function Part({ title, children }: { title: string; children: ComponentChildren }) {
  return (
    <section>
      <h3>{title}</h3>
      <div>{children}</div>
    </section>
  );
}

export function Blind({ outage: { minutes, fromMs, toMs, times } }: { outage: Outage }) {
  const texts = POWER_CUT.blind;
  return (
    <Part title={texts.title}>
      <p class="told">{minutes > 0 ? texts.long(duration(minutes * 60_000)) : texts.unknown}</p>
      <p>
        {texts.between(when(fromMs, 'second'), when(toMs, 'second'))}
        {times > 1 && `, ${texts.times(times)}`}. <span class="quiet">{texts.why}</span>
      </p>
    </Part>
  );
}

export function Heat({ vessel, outage }: { vessel: Vessel; outage: Outage }) {
  const texts = POWER_CUT.heat;
  const { beforeC, beforeAtMs } = outage;
  const since = readSince(vessel, outage, now.value);
  const changedC = since === null || beforeC === null ? 0 : since.liquidC - beforeC;
  return (
    <Part title={texts.title}>
      <p class={`told ${isLive.value ? '' : 'stale'}`}>
        {since === null
          ? texts.nowUnknown
          : texts.now(
              degrees(since.liquidC),
              (since.headroomC < 0 ? texts.above : texts.below)(degreesApart(Math.abs(since.headroomC))),
            )}
      </p>
      <p>
        {since !== null && (
          <span class="quiet">
            {texts.age(duration(now.value - since.atMs))}
            {since.typed && `, ${texts.typed}`}
            {'. '}
          </span>
        )}
        {beforeC === null || beforeAtMs === null
          ? texts.beforeUnknown
          : texts.before(degrees(beforeC), when(beforeAtMs, 'second'))}
        {Math.abs(changedC) >= 0.1 &&
          `; ${texts.changed(degreesApart(Math.abs(changedC)), changedC < 0 ? 'colder' : 'warmer')}`}
        .
      </p>
    </Part>
  );
}

export function Counts({ vessel, outage }: { vessel: Vessel; outage: Outage }) {
  const texts = POWER_CUT.counts;
  const { reactionMinutes, settleHours } = vessel.counted;
  const reacts = vessel.stage === 'react' || vessel.stage === 'dose';
  const settles = (vessel.stage === 'settle' || vessel.stage === 'drain') && settleHours !== null;
  return (
    <Part title={texts.title}>
      {reacts && reactionMinutes !== null && (
        <>
          <Counted vessel={vessel} />
          <p>
            {outage.countedMinutes !== null && texts.before(outage.countedMinutes, reactionMinutes.needs)}{' '}
            {texts.blind}
          </p>
        </>
      )}
      {settles && (
        <>
          <Counted vessel={vessel} />
          {outage.settledHours !== null && (
            <p>{texts.settleBefore(outage.settledHours, settleHours.needs)}</p>
          )}
        </>
      )}
      {!settles && !(reacts && reactionMinutes !== null) && <p>{texts.nothing}</p>}
      <p class="quiet">{texts.lost}</p>
    </Part>
  );
}
