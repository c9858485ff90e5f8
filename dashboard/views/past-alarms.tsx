import { useComputed, useSignal, useSignalEffect } from '@preact/signals';
import type { Alarm } from '../../shared/wire/api.ts';
import { alarmSentence } from '../alarm-sentence.ts';
import { type ApiProblem, getPastAlarms } from '../api.ts';
import { unit } from '../settings.ts';
import { synced, vesselAt } from '../store.ts';
import { alarmTitle } from '../texts/alarm-titles.ts';
import { TEXTS } from '../texts/live.ts';
import { PriorityMark, WhyLink } from './alarms.tsx';
import { seenBy } from './seen-by.ts';
import { when } from './words.ts';

/** What was raised on a vessel before, the newest first; fetched again whenever its alarms change. */
export function PastAlarms({ vesselKey }: { vesselKey: string }) {
  const past = useSignal<Alarm[] | undefined>(undefined);
  const problem = useSignal('');

  const changes = useComputed(() => standingIds(vesselKey));

  useSignalEffect(() => {
    void changes.value;
    void synced.value;
    let outdated = false;
    getPastAlarms(vesselKey).then(
      (alarms) => {
        if (outdated) return;
        past.value = alarms;
        problem.value = '';
      },
      (error: ApiProblem) => {
        if (!outdated) problem.value = error.message;
      },
    );
    return () => {
      outdated = true;
    };
  });

  const texts = TEXTS.alarms;
  return (
    <section class="past">
      <h2>{texts.past}</h2>
      {problem.value !== '' && <p class="problem">{problem.value}</p>}
      {past.value?.length === 0 && <p class="quiet">{texts.nonePast}</p>}
      {past.value !== undefined && past.value.length > 0 && (
        <div class="scroller">
          <table>
            <thead>
              <tr>
                <th scope="col">{texts.columns.at}</th>
                <th scope="col">{texts.columns.what}</th>
                <th scope="col">{texts.columns.over}</th>
                <th scope="col">{texts.columns.seen}</th>
              </tr>
            </thead>
            <tbody>
              {past.value.map((alarm) => (
                <tr key={alarm.id}>
                  <td class="time">{when(alarm.at, 'second')}</td>
                  <td>
                    <PriorityMark priority={alarm.priority} /> {alarmSentence(alarm, unit.value).because}
                    {alarm.explainedBy !== null && (
                      <span class="quiet"> {texts.followsFrom(alarmTitle(alarm.explainedBy))}.</span>
                    )}{' '}
                    <WhyLink alarm={alarm} />
                  </td>
                  <td data-name={texts.columns.over} class="time">
                    {alarm.clearedAt === null ? texts.stands : when(alarm.clearedAt, 'second')}
                  </td>
                  <td data-name={texts.columns.seen}>{seenBy(alarm)}</td>
                </tr>
              ))}
            </tbody>
          </table>
        </div>
      )}
    </section>
  );
}

/** Changes where an alarm came, went, was acknowledged, or is to be told or not. */
const standingIds = (vesselKey: string): string =>
  (vesselAt(vesselKey)?.alarms ?? [])
    .map(({ id, standing, acknowledged, told }) => `${id} ${standing} ${acknowledged?.at} ${told}`)
    .join();
