import { useSignal, useSignalEffect } from '@preact/signals';
import type { AlarmMeasures } from '../../../shared/wire/alarm-measures.ts';
import { ApiProblem } from '../../api.ts';
import { idHref } from '../../route.ts';
import { now } from '../../store.ts';
import { alarmTitle } from '../../texts/alarm-titles.ts';
import { ALARM_TEXTS, MEASURES } from '../../texts/alarms.ts';
import { duration } from '../../units.ts';
import { when } from '../../views/words.ts';
import { getMeasures } from './calls.ts';
import { type MeasureRow, measureRows } from './measure-rows.ts';

const MINUTE_MS = 60_000;
const DAY_MS = 86_400_000;
const HOUR_MS = 3_600_000;
const texts = ALARM_TEXTS.measures;

/** What the alarm standards ask, beside what was counted; counted when it is opened. */
export function Measures() {
  const open = useSignal(false);
  const days = useSignal('30');
  const found = useSignal<AlarmMeasures | undefined>(undefined);
  const problem = useSignal('');
  useSignalEffect(() => {
    if (!open.value) return undefined;
    let outdated = false;
    found.value = undefined;
    // A minute more: the daemon's clock may be a little behind.
    getMeasures(now.peek() - Number(days.value) * DAY_MS - MINUTE_MS).then(
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
  return (
    <details
      class="measures"
      onToggle={(event) => {
        open.value = event.currentTarget.open;
      }}
    >
      <summary class="button plain">{texts.title}</summary>
      <p>{texts.lead}</p>
      <fieldset class="spans">
        <legend>{texts.span}</legend>
        {Object.entries(texts.spans).map(([length, label]) => (
          <button
            key={length}
            type="button"
            class="plain"
            aria-pressed={days.value === length}
            onClick={() => {
              days.value = length;
            }}
          >
            {label}
          </button>
        ))}
      </fieldset>
      {problem.value !== '' && <p class="problem">{problem.value}</p>}
      {found.value === undefined ? <p class="quiet">{texts.loading}</p> : <Figures measures={found.value} />}
    </details>
  );
}

function Figures({ measures }: { measures: AlarmMeasures }) {
  const { columns } = texts;
  const { explained, lateAndOver } = measures.notTold;
  return (
    <>
      <p>
        {texts.looked(when(measures.from), when(measures.to))} {texts.told(measures.alarms)}{' '}
        {texts.notTold(explained, lateAndOver)} {!measures.complete && texts.incomplete}
      </p>
      <table>
        <thead>
          <tr>
            <th scope="col">{columns.what}</th>
            <th scope="col">{columns.is}</th>
            <th scope="col">{columns.wanted}</th>
            <th scope="col">{columns.fits}</th>
          </tr>
        </thead>
        <tbody>
          {measureRows(measures).map((row) => (
            <Figure key={row.target.measure} row={row} />
          ))}
        </tbody>
      </table>
      <Ranking title={texts.frequent}>
        {measures.mostFrequent.alarms.map(({ alarm, vessel, count, percent }) =>
          texts.frequentRow(alarmTitle(alarm), vessel, count, figure(percent, true)),
        )}
      </Ranking>
      <h3>{texts.longest}</h3>
      {measures.longestStanding.length === 0 ? (
        <p>{texts.none}</p>
      ) : (
        <ol>
          {measures.longestStanding.map(({ id, alarm, vessel, hours }) => (
            <li key={id}>
              <a href={idHref('alarm', id)}>
                {texts.longestRow(alarmTitle(alarm), vessel, duration(hours * HOUR_MS))}
              </a>
            </li>
          ))}
        </ol>
      )}
      <Ranking title={texts.chattering}>
        {measures.chattering.map(({ alarm, vessel, most }) =>
          texts.chatteringRow(alarmTitle(alarm), vessel, most),
        )}
      </Ranking>
    </>
  );
}

function Ranking({ title, children }: { title: string; children: readonly string[] }) {
  return (
    <>
      <h3>{title}</h3>
      {children.length === 0 ? (
        <p>{texts.none}</p>
      ) : (
        <ol>
          {children.map((line) => (
            <li key={line}>{line}</li>
          ))}
        </ol>
      )}
    </>
  );
}

function Figure({ row: { target, is, fits, percent } }: { row: MeasureRow }) {
  const { columns } = texts;
  return (
    <tr>
      <th scope="row">{MEASURES[target.measure] ?? target.measure}</th>
      <td data-name={columns.is} class="number">
        {is === null ? '–' : figure(is, percent)}
      </td>
      <td data-name={columns.wanted}>
        {texts.wanted[target.is]} {figure(target.value, percent)}
        {target.manageable !== null && `; ${texts.manageable(figure(target.manageable, percent))}`}
        <small class="quiet">
          {target.note !== null && `${target.note}. `}
          {target.source}
        </small>
      </td>
      <td data-name={columns.fits} class={fits === 'no' ? 'strong' : undefined}>
        {fits === null ? texts.noJudgement : texts.fits[fits]}
      </td>
    </tr>
  );
}

const figure = (value: number, percent: boolean): string => {
  const digits = Math.abs(value) >= 100 ? 0 : Math.abs(value) >= 10 ? 1 : 2;
  const shown = value.toLocaleString('en', { maximumFractionDigits: digits });
  return percent ? `${shown} %` : shown;
};
