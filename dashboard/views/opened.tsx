import { OIL_KINDS } from '../../shared/chemistry/oil-kinds.ts';
import type { PlanAnswer, Working } from '../../shared/plan/answer.ts';
import { WORKING_TEXTS as TEXTS } from '../texts/workings.ts';
import './opened.css';

/** A number of a plan that can be opened to its formula, inputs and source. */

const workingOf = (workings: readonly Working[], field: string): Working | undefined =>
  workings.find(({ fields }) => fields.includes(field));

const figure = (value: number): string => {
  const text = Number(value.toPrecision(5));
  return Math.abs(text) >= 1e6 || (text !== 0 && Math.abs(text) < 1e-4)
    ? text.toExponential().replace('-', '−')
    : String(text).replace('-', '−');
};

const shown = (value: number | string | number[]): string =>
  [value]
    .flat()
    .map((one) => (typeof one === 'number' ? figure(one) : one))
    .join(', ');

/** Constants of the kinds of oil that are not this one's are left out. */
function constantsOf({ constants, inputs }: Working): [string, number][] {
  const kind = inputs.kind?.value;
  return Object.entries(constants).filter(
    ([name]) => !OIL_KINDS.some((other) => other !== kind && name.endsWith(` ${other}`)),
  );
}

function WorkingView({ working }: { working: Working }) {
  const { gives, unit, formula, inputs, source, uncertainty, disagreement } = working;
  const constants = constantsOf(working);
  return (
    <dl class="working">
      <dt>{TEXTS.formula}</dt>
      <dd>
        {gives}
        {unit !== '' && `, ${unit}`}: <code>{formula}</code>
      </dd>
      <dt>{TEXTS.inputs}</dt>
      <dd>
        <ul>
          {Object.entries(inputs).map(([name, input]) => (
            <li key={name}>
              <code>{name}</code> = {[shown(input.value), input.unit].join(' ').trim()}, {input.what}
              {input.unit !== '' && (
                <span class={input.extrapolated ? 'strong' : 'quiet'}>
                  {' '}
                  ({input.extrapolated ? TEXTS.beyond(input.valid) : TEXTS.valid(input.valid)})
                </span>
              )}
            </li>
          ))}
        </ul>
      </dd>
      {constants.length > 0 && (
        <>
          <dt>{TEXTS.constants}</dt>
          <dd>
            <code>{constants.map(([name, value]) => `${name} = ${figure(value)}`).join(', ')}</code>
          </dd>
        </>
      )}
      <dt>{TEXTS.source}</dt>
      <dd>{source}</dd>
      <dt>{TEXTS.uncertainty}</dt>
      <dd>{uncertainty}</dd>
      {disagreement !== null && (
        <>
          <dt>{TEXTS.disagreement}</dt>
          <dd>{disagreement}</dd>
        </>
      )}
    </dl>
  );
}

export interface OpenedProps {
  label: string;
  value: string;
  /** Its bounds, in words. */
  band?: string | undefined;
  /** Of the plan; without one, or where no formula gives it, `how` says how it comes about. */
  field?: string;
  workings: PlanAnswer['workings'];
  how?: string;
  note?: string | undefined;
  large?: boolean;
}

export function Opened({ label, value, band, field, workings, how, note, large }: OpenedProps) {
  const working = field === undefined ? undefined : workingOf(workings, field);
  return (
    <details class={`opened ${large ? 'large' : ''}`}>
      <summary>
        <span class="what">{label}</span>
        <span class="value">{value}</span>
        {band !== undefined && <span class="band">{band}</span>}
        {note !== undefined && <span class="note">{note}</span>}
      </summary>
      {working === undefined ? <p class="working">{how ?? TEXTS.none}</p> : <WorkingView working={working} />}
    </details>
  );
}
