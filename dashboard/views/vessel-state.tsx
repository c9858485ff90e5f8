import type { ComponentChildren } from 'preact';
import type { Vessel } from '../../shared/wire/api.ts';
import { MIXING_STAGES } from '../../shared/wire/names.ts';
import { freshForMs, oldAfterMs } from '../link.ts';
import { unit } from '../settings.ts';
import { usualNext, way } from '../stages.ts';
import { isLive, now, passedStages, speed } from '../store.ts';
import {
  channelName,
  channelUnit,
  notCountedWhy,
  notCountingWhy,
  STAGE_NAMES,
  TEXTS,
} from '../texts/live.ts';
import { decimal, degree, differenceToUnit, duration, toUnit } from '../units.ts';
import { headlineOf, isOldPicture, liquidReading, notCountingNow, trendOf } from '../vessels.ts';
import { amount, capital, degrees, degreesApart, stageNow, when } from './words.ts';

/** What a vessel says about itself, the same on the overview and large on its own page. */

/** Whether what is shown of the liquid is too old, or the link too silent, to be taken for fresh. */
const isStale = (vessel: Vessel): boolean => {
  const reading = liquidReading(vessel);
  if (isStaleSite(vessel)) return true;
  return reading !== undefined && !reading.typed && now.value - reading.at > oldAfterMs(speed.value);
};

/** Whether the link, or that of a forwarded site, is too silent for anything to be taken for fresh. */
const isStaleSite = ({ forwarded }: Vessel): boolean =>
  !isLive.value || (forwarded !== undefined && isOldPicture(forwarded, now.value));

const headlineHere = (vessel: Vessel) => headlineOf(vessel, usualNext(vessel.stage, passedStages(vessel)));

function Big({ stale, number, words }: { stale: boolean; number?: string; words: ComponentChildren }) {
  return (
    <p class={`big ${stale ? 'stale' : ''}`}>
      {stale && <span class="was">{TEXTS.link.was} </span>}
      {number !== undefined && <span class="number">{number}</span>} <span class="words">{words}</span>
    </p>
  );
}

/** How far below boiling, or whether methoxide may go in: the largest thing on the page. */
export function Headline({ vessel }: { vessel: Vessel }) {
  const headline = headlineHere(vessel);
  const stale = isStale(vessel);
  const texts = TEXTS.vessel;
  switch (headline.kind) {
    case 'below-boiling': {
      const apart = differenceToUnit(headline.headroomC, unit.value);
      const words = apart < 0 ? texts.aboveBoiling : texts.belowBoiling;
      return <Big stale={stale} number={decimal(Math.abs(apart), 1)} words={words(degree(unit.value))} />;
    }
    case 'dosing-allowed':
      return <Big stale={stale} words={headline.onceDry ? texts.dosingOnceDry : texts.dosingAllowed} />;
    case 'dosing-in':
      return (
        <Big
          stale={stale}
          words={(headline.onceDry ? texts.dosingWarmIn : texts.dosingIn)(headline.minutes)}
        />
      );
    case 'dosing-not-yet':
      return <Big stale={stale} words={headline.tooHot ? texts.dosingTooHot : texts.dosingNotYet} />;
    case 'temperature':
      return (
        <Big
          stale={stale}
          number={decimal(toUnit(headline.liquidC, unit.value), 1)}
          words={`${degree(unit.value)} ${texts.liquid}`}
        />
      );
    case 'no-reading':
      return <Big stale={false} words={texts.noReading} />;
  }
}

/** Further ahead than this nobody can see by a minute's trend. */
const FORESEEN_MINUTES = 60;

function describeToBoiling({ soonestMinutes, latestMinutes }: NonNullable<Vessel['toBoiling']>): string {
  const soonest = Math.max(1, Math.floor(soonestMinutes));
  const latest = latestMinutes === null ? null : Math.ceil(latestMinutes);
  if (latest === null || latest > FORESEEN_MINUTES) return TEXTS.vessel.boilingSoonest(soonest);
  return TEXTS.vessel.boilingBetween(soonest, Math.max(soonest, latest));
}

const ARROWS = { rising: '↗', falling: '↘', steady: '→' } as const;

export function Direction({ vessel }: { vessel: Vessel }) {
  if (vessel.liquidC === null) return null;
  const { risingCPerMin: rate, toBoiling } = vessel;
  if (rate === null) return <p class="direction quiet">{TEXTS.vessel.noTrend}</p>;
  const trend = trendOf(rate);
  return (
    <p class={`direction ${isStale(vessel) ? 'stale' : ''}`}>
      <span class="arrow" aria-hidden="true">
        {ARROWS[trend]}{' '}
      </span>
      {trend === 'steady' ? TEXTS.vessel.steady : TEXTS.vessel.rate(trend, degreesApart(Math.abs(rate)))}
      {toBoiling !== null && toBoiling.minutes <= FORESEEN_MINUTES && `, ${describeToBoiling(toBoiling)}`}
    </p>
  );
}

/** The temperatures behind the headline, and how old they are. */
export function Behind({ vessel }: { vessel: Vessel }) {
  const reading = liquidReading(vessel);
  if (vessel.liquidC === null || reading === undefined) {
    return <p class="behind quiet">{TEXTS.vessel.noReadingHelp}</p>;
  }
  const parts =
    headlineHere(vessel).kind === 'temperature' ? [] : [TEXTS.vessel.liquidAt(degrees(vessel.liquidC))];
  if (!vessel.methanolPresent && vessel.dosing !== null && vessel.planned !== null) {
    const { highestDosingC, reactionTemperatureC } = vessel.planned;
    if (!vessel.dosing.allowed && vessel.liquidC <= highestDosingC) {
      parts.push(TEXTS.vessel.dosingColder(degrees(reactionTemperatureC)));
    }
    parts.push(TEXTS.vessel.dosingLimit(degrees(highestDosingC)));
  }
  const ageMs = now.value - reading.at;
  const age =
    isLive.value && ageMs < freshForMs(speed.value)
      ? TEXTS.vessel.justRead
      : TEXTS.vessel.age(duration(ageMs));
  return (
    <p class="behind">
      {parts.join(', ')} <span class={isStale(vessel) ? 'age old' : 'age quiet'}>({age})</span>
      {reading.typed && <span class="quiet"> {TEXTS.vessel.typed}</span>}
    </p>
  );
}

export function Mixing({ vessel }: { vessel: Vessel }) {
  const { mixing } = vessel;
  if (mixing === null) return null;
  const name = channelName(mixing.channel);
  const mustMix = MIXING_STAGES.includes(vessel.stage);
  const unitName = channelUnit(mixing.channel);
  const value =
    mixing.channel === 'pump'
      ? mixing.value === 0
        ? TEXTS.vessel.off
        : TEXTS.vessel.on
      : `${amount(mixing.value)} ${unitName}`;
  const bad = mustMix && mixing.state !== 'at-speed';
  const reading = vessel.readings[mixing.channel];
  const ageMs = reading === undefined || reading.typed ? 0 : now.value - Date.parse(reading.at);
  // What turned minutes ago says nothing of now.
  const isOld = ageMs > oldAfterMs(speed.value);
  return (
    <p class={`mixing ${isLive.value && !isOld ? '' : 'stale'}`}>
      {isOld && `${TEXTS.link.was} `}
      {name} {value}
      {isOld && <span class="age old"> ({TEXTS.vessel.age(duration(ageMs))})</span>}
      {mustMix && !isOld && mixing.channel !== 'pump' && (
        <>
          {': '}
          <span class={bad ? 'strong' : ''}>{TEXTS.vessel.mixing[mixing.state]}</span>
        </>
      )}
      {bad && !isOld && mixing.lowest !== null && `, ${TEXTS.vessel.mixingLowest(amount(mixing.lowest))}`}
    </p>
  );
}

/** What counts, what is missing, and when it will be enough. */
export function Counted({ vessel }: { vessel: Vessel }) {
  const { reactionMinutes, notCounted, settleHours } = vessel.counted;
  const rows = [
    {
      credit: reactionMinutes,
      said: TEXTS.counted.reaction,
      shown: vessel.stage === 'react' || vessel.stage === 'dose',
    },
    {
      credit: settleHours,
      said: TEXTS.counted.settling,
      shown: vessel.stage === 'settle' || vessel.stage === 'drain',
    },
  ];
  const notNow = notCountingNow(vessel);
  const lost = notCounted.filter(({ minutes }) => minutes >= 0.5);
  return (
    <>
      {rows.map(({ credit, said, shown }) => {
        if (credit === null || !shown) return null;
        const enough = credit.has >= credit.needs;
        return (
          <div class="counted" key={said.name}>
            <p class={isStaleSite(vessel) ? 'stale' : ''}>
              <b>{said(credit.has, credit.needs)}</b>
              {enough
                ? `: ${TEXTS.counted.enough}`
                : credit.enoughAt !== null && `, ${TEXTS.counted.enoughAt(when(credit.enoughAt))}`}
              {credit === reactionMinutes &&
                notNow !== undefined &&
                `, ${TEXTS.counted.notNow(notCountingWhy(notNow))}`}
              {credit === reactionMinutes &&
                lost.length > 0 &&
                `; ${
                  lost.length === 1
                    ? TEXTS.counted.single(lost[0]!.minutes, notCountedWhy(lost[0]!.why))
                    : TEXTS.counted.notCounted(
                        lost
                          .map(({ minutes, why }) => TEXTS.counted.part(minutes, notCountedWhy(why)))
                          .join(', '),
                      )
                }`}
            </p>
            <svg class="measure" viewBox="0 0 100 6" preserveAspectRatio="none" aria-hidden="true">
              <rect
                class="earned"
                width={credit.needs > 0 ? Math.min(100, (credit.has / credit.needs) * 100) : 100}
                height="6"
              />
              <path class="frame" d="M0 0V6H100V0" />
            </svg>
          </div>
        );
      })}
    </>
  );
}

/** The way from oil to fuel on one line: done, now and to come differ in form. */
export function Way({ vessel }: { vessel: Vessel }) {
  if (vessel.batch === null) return null;
  const points = way(passedStages(vessel), vessel.stage);
  const next = points.find(({ state }) => state === 'to-come');
  return (
    <div class="way">
      <ol aria-label={TEXTS.vessel.wayLabel}>
        {points.map(({ stage, state }, i) => (
          <li
            // A stage may come again, so its place is its name.
            key={`${i}-${stage}`}
            class={state}
            title={`${capital(STAGE_NAMES[stage])} (${TEXTS.vessel.wayState[state]})`}
            aria-current={state === 'now' ? 'step' : undefined}
          >
            <span class="dot" aria-hidden="true">
              {state === 'done' ? '✓' : ''}
            </span>
            <span class="name">{STAGE_NAMES[stage]}</span>
            <span class="unseen"> ({TEXTS.vessel.wayState[state]})</span>
          </li>
        ))}
      </ol>
      <p class="now-next">
        <b>
          {vessel.stageSince === null || vessel.stage === 'idle'
            ? capital(stageNow(vessel))
            : capital(TEXTS.vessel.stageSince(STAGE_NAMES[vessel.stage], when(vessel.stageSince)))}
        </b>
        {'. '}
        <span class="quiet">
          {next === undefined ? TEXTS.vessel.wayLast : TEXTS.vessel.wayNext(STAGE_NAMES[next.stage])}
        </span>
      </p>
    </div>
  );
}
