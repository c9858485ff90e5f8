import { useSignal, useSignalEffect } from '@preact/signals';
import type { ComponentChildren } from 'preact';
import { useEffect, useMemo } from 'preact/hooks';
import type { AlarmWhy } from '../../../shared/wire/alarm-why.ts';
import type { Alarm } from '../../../shared/wire/api.ts';
import { alarmSentence } from '../../alarm-sentence.ts';
import { ApiProblem } from '../../api.ts';
import { helpLink, hrefOf, idHref, type Route, vesselHref } from '../../route.ts';
import { unit } from '../../settings.ts';
import { synced, vesselAt } from '../../store.ts';
import { alarmTitle } from '../../texts/alarm-titles.ts';
import { ALARM_TEXTS } from '../../texts/alarms.ts';
import { TEXTS } from '../../texts/live.ts';
import { duration } from '../../units.ts';
import { keyOf } from '../../vessels.ts';
import { AlarmActions, PriorityMark } from '../../views/alarms.tsx';
import { when } from '../../views/words.ts';
import { getAlarmWhy } from './calls.ts';
import { Facts } from './facts.tsx';
import { OtherLimits, RuleWords, ruleOf } from './limits.tsx';
import { Readings } from './readings.tsx';
import { NOTHING_TRIED, type Tried } from './run.ts';
import './alarm.css';

const texts = ALARM_TEXTS.one;

/** Why an alarm came, and when it would have come by other limits. */
export function AlarmPage({ route }: { route: Route & { page: 'alarm' } }) {
  return <OneAlarm key={route.id} id={route.id} />;
}

function OneAlarm({ id }: { id: string }) {
  const found = useSignal<AlarmWhy | undefined>(undefined);
  const problem = useSignal('');
  useSignalEffect(() => {
    void synced.value;
    let outdated = false;
    getAlarmWhy(id).then(
      (answer) => {
        if (outdated) return;
        found.value = answer;
        problem.value = '';
      },
      (error: unknown) => {
        if (!(error instanceof ApiProblem)) throw error;
        if (!outdated) problem.value = error.message;
      },
    );
    return () => {
      outdated = true;
    };
  });

  // What stands or waits to be seen is told live; it goes from there once it is over and seen.
  const place = found.value === undefined ? undefined : keyOf(found.value.alarm);
  const live = place === undefined ? undefined : vesselAt(place)?.alarms.find((alarm) => alarm.id === id);
  const said =
    live &&
    `${live.event} ${live.priority} ${live.acknowledged?.at} ${live.clearedAt} ${live.shelved?.until} ${live.told}`;
  useEffect(() => {
    if (found.peek() === undefined) return undefined;
    let outdated = false;
    getAlarmWhy(id).then(
      (answer) => {
        if (!outdated) found.value = answer;
      },
      () => {},
    );
    return () => {
      outdated = true;
    };
  }, [id, said]);
  // Every estimate brings another object that says the same.
  const why = useMemo(
    () => found.value && { ...found.value, alarm: live ?? found.value.alarm },
    [found.value, said],
  );

  return (
    <article class="alarm-page">
      <p class="back">
        <a class="button plain" href={hrefOf('alarms')}>
          <span aria-hidden="true">← </span>
          {texts.back}
        </a>
      </p>
      {why === undefined && <h1>{texts.title}</h1>}
      {problem.value !== '' && <p class="problem">{problem.value}</p>}
      {why === undefined ? (
        problem.value === '' && <p class="quiet">{texts.loading}</p>
      ) : (
        <Opened why={why} />
      )}
    </article>
  );
}

function Opened({ why }: { why: AlarmWhy }) {
  const { alarm } = why;
  const { because, todo } = alarmSentence(alarm, unit.value);
  const tried = useSignal<Tried>(NOTHING_TRIED);
  return (
    <>
      <header>
        <h1>{alarmTitle(alarm.alarm)}</h1>
        <p class="whose-alarm">
          <PriorityMark priority={alarm.priority} />{' '}
          <a href={vesselHref(alarm)}>{texts.at(alarm.vessel, alarm.site)}</a>
        </p>
        <p class="because">{because}</p>
        {alarm.standing && <p class="todo">{todo}</p>}
        {!alarm.standing && <p class="quiet">{`${ALARM_TEXTS.one.wasTold} ${todo}`}</p>}
        {ruleOf(alarm.alarm) !== undefined && (
          <p>
            <a {...helpLink(`alarms/${alarm.alarm}`)}>{texts.guide}</a>
          </p>
        )}
        {(alarm.standing || alarm.acknowledged === null) && <AlarmActions alarm={alarm} />}
      </header>
      <div class="halves">
        <section aria-label={texts.happened}>
          <h2>{texts.happened}</h2>
          <Course why={why} />
        </section>
        <section aria-label={texts.readings}>
          <h2>{texts.readings}</h2>
          <Readings why={why} tried={tried} />
        </section>
        <section aria-label={texts.rule}>
          <h2>{texts.rule}</h2>
          <RuleWords why={why} />
          <Facts alarm={alarm} />
        </section>
        <section aria-label={texts.other}>
          <h2>{texts.other}</h2>
          <OtherLimits why={why} tried={tried} />
        </section>
      </div>
    </>
  );
}

/** When it came and went, who saw it, and what it belongs to. */
function Course({ why: { alarm, batch } }: { why: AlarmWhy }) {
  const { acknowledged, shelved, clearedAt, explainedBy } = alarm;
  return (
    <dl class="pairs">
      <Pair name={texts.raised}>{when(alarm.at, 'second')}</Pair>
      <Pair name={texts.cleared}>
        {clearedAt === null ? texts.stands : clearedWords(alarm.at, clearedAt)}
      </Pair>
      <Pair name={texts.seen}>
        {acknowledged === null
          ? texts.nobody
          : `${TEXTS.alarms.seen(acknowledged.by, when(acknowledged.at))}${
              acknowledged.reason === null ? '' : `: ‘${acknowledged.reason}’`
            }.`}
        {shelved !== null &&
          ` ${TEXTS.alarms.shelvedUntil(when(shelved.until), shelved.by, shelved.reason)}.`}
      </Pair>
      <Pair name={texts.live}>{alarm.late ? texts.isLate : texts.isLive}</Pair>
      <Pair name={texts.follows}>
        {explainedBy === null ? texts.followsNone : <Cause of={alarm} cause={explainedBy} />}
      </Pair>
      <Pair name={texts.told}>{toldWords(alarm)}</Pair>
      <Pair name={texts.batch}>
        {batch === null ? (
          texts.noBatch
        ) : (
          <>
            <a href={idHref('batch', batch.id)}>
              <bdi>{batch.name}</bdi>
            </a>
            {'. '}
            <a href={`/api/v1/batches/${batch.id}/record`} target="_blank" rel="noreferrer">
              {texts.record}
            </a>
          </>
        )}
      </Pair>
    </dl>
  );
}

const toldWords = ({ told, explainedBy, shelved }: Alarm): string => {
  if (told) return texts.wereTold;
  if (explainedBy !== null) return texts.notToldFollows;
  return shelved === null ? texts.notToldOver : texts.notToldShelved;
};

const clearedWords = (at: string, clearedAt: string): string =>
  texts.overAfter(when(clearedAt, 'second'), duration(Date.parse(clearedAt) - Date.parse(at)));

/** The alarm that it followed from, where it can be opened still. */
function Cause({ of, cause }: { of: Alarm; cause: string }) {
  const standing = vesselAt(keyOf(of))?.alarms.find((alarm) => alarm.alarm === cause);
  const title = alarmTitle(cause);
  if (standing !== undefined) return <a href={idHref('alarm', standing.id)}>{title}</a>;
  return <a href={hrefOf('alarms', { vessel: keyOf(of), alarm: cause })}>{title}</a>;
}

function Pair({ name, children }: { name: string; children: ComponentChildren }) {
  return (
    <div>
      <dt>{name}</dt>
      <dd>{children}</dd>
    </div>
  );
}
