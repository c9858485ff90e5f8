import { useComputed, useSignal, useSignalEffect } from '@preact/signals';
import { useEffect, useId } from 'preact/hooks';
import { ALARM_NAMES } from '../../../shared/rules/names.ts';
import type { Alarm } from '../../../shared/wire/api.ts';
import { alarmSentence } from '../../alarm-sentence.ts';
import { ApiProblem } from '../../api.ts';
import { hrefOf, vesselHref } from '../../route.ts';
import { unit } from '../../settings.ts';
import { alarms, synced, vessels } from '../../store.ts';
import { ALARM_TITLES, alarmTitle } from '../../texts/alarm-titles.ts';
import { ALARM_TEXTS } from '../../texts/alarms.ts';
import { TEXTS } from '../../texts/live.ts';
import { PriorityMark, WhyLink } from '../../views/alarms.tsx';
import { seenBy } from '../../views/seen-by.ts';
import { when } from '../../views/words.ts';
import { getAlarms } from './calls.ts';
import { askedOf, type Choice, choiceOf, saidOf } from './choice.ts';

/** How many are fetched, and how many more each time; the daemon gives no more than 1000 at a time. */
const AT_A_TIME = 50;
const MOST = 1000;
const texts = ALARM_TEXTS;

/** Alarms so far, the newest first, of a choice that the page's address keeps. */
export function Past({ query }: { query: URLSearchParams }) {
  const search = query.toString();
  const choice = useSignal<Choice>(choiceOf(query));
  const wanted = useSignal(AT_A_TIME);
  const found = useSignal<Alarm[] | undefined>(undefined);
  const problem = useSignal('');
  useEffect(() => {
    choice.value = choiceOf(new URLSearchParams(search));
    wanted.value = AT_A_TIME;
  }, [search]);
  /** Changes where an alarm came, went or was seen. */
  const changes = useComputed(() =>
    alarms.value.map(({ id, standing, acknowledged }) => `${id} ${standing} ${acknowledged?.at}`).join(),
  );

  useSignalEffect(() => {
    void synced.value;
    void changes.value;
    let outdated = false;
    getAlarms(askedOf(choice.value), wanted.value).then(
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

  const more = found.value !== undefined && found.value.length >= wanted.value;
  return (
    <section class="past" aria-label={texts.past}>
      <h2>{texts.past}</h2>
      <Filter
        choice={choice.value}
        onChoice={(next) => {
          // Not a page of its own to go back to: the address follows what is chosen.
          location.replace(hrefOf('alarms', saidOf(next)));
        }}
      />
      {problem.value !== '' && <p class="problem">{problem.value}</p>}
      <p class="quiet" role="status">
        {found.value !== undefined &&
          (found.value.length === 0 ? texts.nonePast : texts.found(found.value.length, more))}
      </p>
      {found.value !== undefined && found.value.length > 0 && <AlarmTable alarms={found.value} />}
      {more && wanted.value < MOST && (
        <button
          type="button"
          class="plain"
          onClick={() => {
            wanted.value = Math.min(MOST, wanted.value + 4 * AT_A_TIME);
          }}
        >
          {texts.older}
        </button>
      )}
    </section>
  );
}

function Filter({ choice, onChoice }: { choice: Choice; onChoice: (choice: Choice) => void }) {
  const known = [...(vessels.value?.keys() ?? [])].sort();
  const names = choice.vessel === '' || known.includes(choice.vessel) ? known : [...known, choice.vessel];
  const titles = ALARM_NAMES.map((name): [string, string] => [name, ALARM_TITLES[name]]).sort((a, b) =>
    a[1].localeCompare(b[1]),
  );
  return (
    <form class="inline choice" onSubmit={(event) => event.preventDefault()} aria-label={texts.filter}>
      <Select
        label={texts.vessel}
        value={choice.vessel}
        options={[['', texts.anyVessel], ...names.map((name): [string, string] => [name, nameOf(name)])]}
        onValue={(vessel) => onChoice({ ...choice, vessel })}
      />
      <Select
        label={texts.alarm}
        value={choice.alarm}
        options={[['', texts.anyAlarm], ...titles]}
        onValue={(alarm) => onChoice({ ...choice, alarm })}
      />
      <Moment label={texts.from} value={choice.from} onValue={(from) => onChoice({ ...choice, from })} />
      <Moment label={texts.to} value={choice.to} onValue={(to) => onChoice({ ...choice, to })} />
      {Object.keys(saidOf(choice)).length > 0 && (
        <a class="button plain" href={hrefOf('alarms')}>
          {texts.all}
        </a>
      )}
    </form>
  );
}

/** 'r1 at barn' of 'barn:r1'. */
function nameOf(key: string): string {
  const [site = '', vessel = ''] = key.split(':');
  return texts.one.at(vessel, site);
}

interface SelectProps {
  label: string;
  value: string;
  options: readonly (readonly [string, string])[];
  onValue: (value: string) => void;
}

function Select({ label, value, options, onValue }: SelectProps) {
  const id = useId();
  return (
    <div class="field">
      <label for={id}>{label}</label>
      <select id={id} value={value} onChange={(event) => onValue(event.currentTarget.value)}>
        {options.map(([key, text]) => (
          <option key={key} value={key} selected={key === value}>
            {text}
          </option>
        ))}
      </select>
    </div>
  );
}

function Moment({ label, value, onValue }: Omit<SelectProps, 'options'>) {
  const id = useId();
  return (
    <div class="field">
      <label for={id}>{label}</label>
      <input
        id={id}
        type="datetime-local"
        value={value}
        onChange={(event) => onValue(event.currentTarget.value)}
      />
    </div>
  );
}

function AlarmTable({ alarms: shown }: { alarms: readonly Alarm[] }) {
  const { columns } = texts;
  return (
    <div class="scroller">
      <table>
        <thead>
          <tr>
            <th scope="col">{columns.at}</th>
            <th scope="col">{columns.vessel}</th>
            <th scope="col">{columns.what}</th>
            <th scope="col">{columns.over}</th>
            <th scope="col">{columns.seen}</th>
          </tr>
        </thead>
        <tbody>
          {shown.map((alarm) => (
            <tr key={alarm.id}>
              <td class="time">{when(alarm.at, 'second')}</td>
              <td data-name={columns.vessel} class="of-vessel">
                <a href={vesselHref(alarm)}>{texts.one.at(alarm.vessel, alarm.site)}</a>
              </td>
              <td>
                <PriorityMark priority={alarm.priority} /> {alarmSentence(alarm, unit.value).because}
                {alarm.explainedBy !== null && (
                  <span class="quiet"> {TEXTS.alarms.followsFrom(alarmTitle(alarm.explainedBy))}.</span>
                )}{' '}
                <WhyLink alarm={alarm} />
              </td>
              <td data-name={columns.over} class="time">
                {alarm.clearedAt === null ? texts.stands : when(alarm.clearedAt, 'second')}
              </td>
              <td data-name={columns.seen}>{seenBy(alarm)}</td>
            </tr>
          ))}
        </tbody>
      </table>
    </div>
  );
}
