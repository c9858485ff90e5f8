import { useMemo } from 'preact/hooks';
import type { PlanNumbers, Working } from '../../../shared/plan/answer.ts';
import { computePlan } from '../../../shared/plan/compute.ts';
import type { Batch } from '../../../shared/wire/batch.ts';
import { plain } from '../../forms.ts';
import { BATCH } from '../../texts/batch.ts';
import { Part } from '../../views/part.tsx';
import { degrees, inTheirWords, litres } from '../../views/words.ts';
import { formatWeight } from './weight.ts';

interface Row {
  /** Of the frozen numbers; undefined of what a person wants. */
  field?: keyof PlanNumbers;
  name: string;
  value: string;
}

function rowsOf(computed: PlanNumbers, { request, plan, soapLimitPpm }: Batch): Row[] {
  const texts = BATCH.plan;
  const estimate = (value: number, low: number, high: number): string =>
    texts.estimate(litres(value), litres(low), litres(high));
  return [
    {
      field: 'oilKg',
      name: texts.oil,
      value: [
        ...(request.oil?.volumeL === undefined ? [] : [litres(request.oil.volumeL)]),
        formatWeight(computed.oilKg),
      ].join(', '),
    },
    {
      field: 'methanolKg',
      name: texts.methanol,
      value: `${litres(computed.methanolL)}, ${formatWeight(computed.methanolKg)}`,
    },
    {
      field: 'catalystG',
      name: texts.lye(computed.catalyst),
      value: formatWeight(computed.catalystG / 1000),
    },
    {
      name: texts.reaction,
      value: texts.reactionAt(degrees(plan.reactionTemperatureC), plain(plan.requiredReactionMinutes)),
    },
    {
      field: 'reactionMinutes',
      name: texts.reactionEstimate,
      value: texts.estimate(
        texts.minutes(computed.reactionMinutes.toFixed(0)),
        computed.reactionMinutesLow.toFixed(0),
        computed.reactionMinutesHigh.toFixed(0),
      ),
    },
    { name: texts.settle, value: texts.hours(plain(plan.requiredSettleHours)) },
    {
      field: 'settleHours',
      name: texts.settleEstimate,
      value: texts.estimate(
        texts.hours(computed.settleHours.toFixed(1)),
        computed.settleHoursLow.toFixed(1),
        computed.settleHoursHigh.toFixed(1),
      ),
    },
    { field: 'methanolBoilingC', name: texts.boils, value: degrees(computed.methanolBoilingC) },
    { field: 'highestDosingC', name: texts.dosing, value: degrees(computed.highestDosingC) },
    {
      field: 'fuelL',
      name: texts.fuel,
      value: estimate(computed.fuelL, computed.fuelLLow, computed.fuelLHigh),
    },
    {
      field: 'glycerolLayerL',
      name: texts.glycerol,
      value: estimate(computed.glycerolLayerL, computed.glycerolLayerLLow, computed.glycerolLayerLHigh),
    },
    { name: texts.soap, value: texts.ppm(soapLimitPpm.toFixed(0)) },
  ];
}

/** The recipe as it was frozen; every number can be opened. */
export function Plan({ batch }: { batch: Batch }) {
  const texts = BATCH.plan;
  const { computed, request } = batch;
  const workings = useMemo(
    () => (computed === null ? [] : workingsOf(request, computed)),
    [computed, request],
  );
  return (
    <Part title={texts.title} class="plan">
      {computed === null ? (
        <p>{texts.none}</p>
      ) : (
        <>
          <ul class="opened">
            {rowsOf(computed, batch).map((row) => (
              <PlanRow
                key={row.name}
                row={row}
                working={row.field && workings.find(({ fields }) => fields.includes(row.field!))}
              />
            ))}
          </ul>
          {computed.cautions.length > 0 && (
            <>
              <h3>{texts.cautions}</h3>
              <ul class="said">
                {computed.cautions.map(({ code, text, source }) => (
                  <li key={code}>
                    {inTheirWords(text)} <small class="quiet">({source})</small>
                  </li>
                ))}
              </ul>
            </>
          )}
        </>
      )}
    </Part>
  );
}

function PlanRow({ row: { name, value }, working }: { row: Row; working: Working | undefined }) {
  const texts = BATCH.plan;
  const line = (
    <>
      <span>{inTheirWords(name)}</span> <b>{value}</b>
    </>
  );
  if (working === undefined) return <li class="row">{line}</li>;
  return (
    <li>
      <details>
        <summary class="row">{line}</summary>
        <dl>
          <dt>{texts.formula}</dt>
          <dd class="code">{working.formula}</dd>
          <dt>{texts.inputs}</dt>
          <dd>
            <ul>
              {Object.entries(working.inputs).map(([symbol, { what, value: input, unit }]) => (
                <li key={symbol}>
                  <span class="code">{symbol}</span> {what}: {inputSaid(input)} {unit}
                </li>
              ))}
            </ul>
          </dd>
          <dt>{texts.source}</dt>
          <dd>{working.source}</dd>
          <dt>{texts.doubt}</dt>
          <dd>{working.uncertainty}</dd>
        </dl>
      </details>
    </li>
  );
}

const inputSaid = (input: number | string | number[]): string =>
  Array.isArray(input) ? input.map(plain).join(', ') : typeof input === 'number' ? plain(input) : input;

/**
 * How the frozen numbers came about. Worked out anew from the frozen request and pressure; only what still gives
 * the frozen number explains it.
 */
function workingsOf(request: Batch['request'], computed: PlanNumbers): Working[] {
  try {
    const anew = computePlan({ ...request, site: { pressureHPa: computed.pressureHPa } });
    const same = (field: string): boolean =>
      isSame(anew[field as keyof PlanNumbers], computed[field as keyof PlanNumbers]);
    return anew.workings.map((working) => ({ ...working, fields: working.fields.filter(same) }));
  } catch {
    // A request of an older kind cannot be worked out any more: its numbers stand without.
    return [];
  }
}

/** Browsers differ from the daemon in the last figure of a power. */
const SAME_WITHIN = 1e-9;

const isSame = (one: unknown, other: unknown): boolean =>
  typeof one === 'number' && typeof other === 'number'
    ? Math.abs(one - other) <= SAME_WITHIN * Math.abs(other)
    : one === other;
