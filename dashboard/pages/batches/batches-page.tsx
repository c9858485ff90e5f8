import { useComputed, useSignal } from '@preact/signals';
import { useEffect } from 'preact/hooks';
import { fuelOf } from '../../../shared/batch/amounts.ts';
import { conversionTestOf } from '../../../shared/batch/conditions.ts';
import { resolvePlanRequest } from '../../../shared/plan/resolve.ts';
import type { Year } from '../../../shared/wire/balance.ts';
import type { Batch } from '../../../shared/wire/batch.ts';
import { ENDED_STAGES, type Stage } from '../../../shared/wire/names.ts';
import { besideHref, hrefOf, idHref, type Route } from '../../route.ts';
import { isEnded } from '../../stages.ts';
import { synced, vessels } from '../../store.ts';
import { BATCHES } from '../../texts/batch.ts';
import { STAGE_NAMES } from '../../texts/live.ts';
import { useNewest } from '../../views/answer.ts';
import { Field, Problem } from '../../views/form.tsx';
import { Part } from '../../views/part.tsx';
import { litres, when } from '../../views/words.ts';
import { getBatches, getYears } from '../batch/calls.ts';
import { PAGES } from '../pages.ts';
import '../../views/parts.css';
import './batches.css';

/** What a filter asks for; kept in the address, so that it is there again on the way back. */
const ASKED = ['text', 'stage', 'site', 'from', 'to'] as const;
type Asked = Record<(typeof ASKED)[number], string>;

/** How long typing has to rest before it is asked anew, ms. */
const REST_MS = 300;

/** A day of a field as the moment at which it begins here, or ends. */
const dayStart = (day: string): string => new Date(`${day}T00:00:00`).toISOString();
const dayEnd = (day: string): string => new Date(`${day}T23:59:59.999`).toISOString();

function queryOf({ text, stage, site, from, to }: Asked): Record<string, string> {
  return {
    ...(text.trim() === '' ? {} : { text: text.trim() }),
    ...(stage === '' ? {} : { stage }),
    ...(site === '' ? {} : { site }),
    ...(from === '' ? {} : { from: dayStart(from) }),
    ...(to === '' ? {} : { to: dayEnd(to) }),
  };
}

/** All batches: what is under way, what was, and what the years gave. */
export function BatchesPage({ route }: { route: Route & { page: 'batches' } }) {
  const asked = useSignal<Asked>(
    Object.fromEntries(ASKED.map((name) => [name, route.query.get(name) ?? ''])) as Asked,
  );
  const found = useSignal<{ batches: Batch[]; others: number } | undefined>(undefined);
  const years = useSignal<Year[] | undefined>(undefined);
  const chosen = useSignal<readonly Batch[]>([]);
  const { problem, ask } = useNewest();
  const query = JSON.stringify(queryOf(asked.value));
  const again = synced.value;
  useEffect(() => {
    const timer = setTimeout(
      () =>
        void ask(
          () => getBatches(JSON.parse(query)),
          (answer) => {
            found.value = answer;
          },
        ),
      found.peek() === undefined ? 0 : REST_MS,
    );
    return () => clearTimeout(timer);
  }, [query, again]);
  useEffect(() => {
    // The list does without.
    getYears().then(
      (list) => {
        years.value = list;
      },
      () => {},
    );
  }, [again]);

  const set = (name: keyof Asked, value: string): void => {
    asked.value = { ...asked.value, [name]: value };
    const kept = Object.fromEntries(Object.entries(asked.value).filter(([, one]) => one !== ''));
    history.replaceState(null, '', hrefOf('batches', kept));
  };
  const sites = useComputed(() => [...new Set([...(vessels.value?.values() ?? [])].map(({ site }) => site))]);
  const all = found.value?.batches ?? [];
  const open = all.filter((batch) => batch.open);
  const past = all.filter((batch) => !batch.open).toSorted((a, b) => b.opened.localeCompare(a.opened));
  const toggle = (batch: Batch): void => {
    const others = chosen.value.filter(({ id }) => id !== batch.id);
    // Of three the one ticked first goes.
    chosen.value = others.length < chosen.value.length ? others : [...others, batch].slice(-2);
  };
  const [one, other] = chosen.value;
  const texts = BATCHES.filter;
  return (
    <section class="batches-page">
      <h1>{BATCHES.title}</h1>
      <div class="find">
        {PAGES.recipe !== undefined && (
          <p>
            <a class="button" href={hrefOf('recipe')}>
              {BATCHES.recipe}
            </a>
          </p>
        )}
        <details open={query !== '{}'}>
          <summary class="button plain">{texts.label}</summary>
          <search class="grid" aria-label={texts.label}>
            <Field label={texts.text} value={asked.value.text} onValue={(text) => set('text', text)} />
            <div class="field">
              <label for="outcome">{texts.outcome}</label>
              <select
                id="outcome"
                value={asked.value.stage}
                onChange={(event) => set('stage', event.currentTarget.value)}
              >
                {['', ...ENDED_STAGES].map((stage) => (
                  <option key={stage} value={stage}>
                    {texts.outcomes[stage as keyof typeof texts.outcomes]}
                  </option>
                ))}
              </select>
            </div>
            {sites.value.length > 1 && (
              <div class="field">
                <label for="site">{texts.site}</label>
                <select
                  id="site"
                  value={asked.value.site}
                  onChange={(event) => set('site', event.currentTarget.value)}
                >
                  <option value="">{texts.anySite}</option>
                  {sites.value.map((site) => (
                    <option key={site} value={site}>
                      {site}
                    </option>
                  ))}
                </select>
              </div>
            )}
            {(['from', 'to'] as const).map((name) => (
              <div key={name} class="field">
                <label for={`opened-${name}`}>{texts[name]}</label>
                <input
                  id={`opened-${name}`}
                  type="date"
                  value={asked.value[name]}
                  onInput={(event) => set(name, event.currentTarget.value)}
                />
              </div>
            ))}
          </search>
        </details>
      </div>
      <Problem problem={problem} />
      <p role="status" class="lay">
        {one !== undefined && other !== undefined ? (
          <a class="button" href={besideHref(one.id, other.id)}>
            {BATCHES.beside(one.name, other.name)}
          </a>
        ) : (
          all.length > 1 && <span class="quiet">{BATCHES.chooseTwo}</span>
        )}
      </p>
      {found.value === undefined ? (
        problem === undefined && <p class="quiet">{BATCHES.loading}</p>
      ) : all.length === 0 ? (
        <p>{query === '{}' ? BATCHES.none : BATCHES.noneSuch}</p>
      ) : (
        <>
          {open.length > 0 && (
            <BatchTable title={BATCHES.underWay} batches={open} chosen={chosen.value} onToggle={toggle} />
          )}
          {past.length > 0 && (
            <BatchTable title={BATCHES.past} batches={past} chosen={chosen.value} onToggle={toggle} />
          )}
          {found.value.others > 0 && <p>{BATCHES.others(found.value.others)}</p>}
        </>
      )}
      {years.value !== undefined && <Years years={years.value} />}
    </section>
  );
}

interface TableProps {
  title: string;
  batches: readonly Batch[];
  chosen: readonly Batch[];
  onToggle: (batch: Batch) => void;
}

function BatchTable({ title, batches, chosen, onToggle }: TableProps) {
  const { columns } = BATCHES;
  const ended = batches.every(({ open }) => !open);
  const stage = ended ? columns.ended : columns.stage;
  return (
    <Part title={title}>
      <table class="list">
        <thead>
          <tr>
            <th scope="col">{columns.beside}</th>
            <th scope="col">{columns.name}</th>
            <th scope="col">{stage}</th>
            <th scope="col">{columns.where}</th>
            <th scope="col">{columns.opened}</th>
            <th scope="col">{columns.oil}</th>
            <th scope="col">{columns.fuel}</th>
            <th scope="col">{columns.test}</th>
          </tr>
        </thead>
        <tbody>
          {batches.map((batch) => (
            <tr key={batch.id}>
              <td class="beside">
                <label class="check">
                  <input
                    type="checkbox"
                    checked={chosen.some(({ id }) => id === batch.id)}
                    aria-label={BATCHES.choose(batch.name)}
                    onChange={() => onToggle(batch)}
                  />
                  <span class="narrow-only" aria-hidden="true">
                    {columns.beside}
                  </span>
                </label>
              </td>
              <td>
                <a class="name" href={idHref('batch', batch.id)}>
                  <bdi>{batch.name}</bdi>
                </a>
              </td>
              <td data-name={stage}>
                {stageSaid(batch)}
                {isEnded(batch.stage) && batch.stages.at(-1)?.reason != null && (
                  <span class="quiet"> ‘{batch.stages.at(-1)?.reason}’</span>
                )}
              </td>
              <td data-name={columns.where}>
                {batch.vessel}, {batch.site}
              </td>
              <td data-name={columns.opened}>{when(batch.opened)}</td>
              <td data-name={columns.oil}>{litres(resolvePlanRequest(batch.request).oil.volumeL)}</td>
              <td data-name={columns.fuel}>{fuelSaid(batch)}</td>
              <td data-name={columns.test}>{testSaid(batch)}</td>
            </tr>
          ))}
        </tbody>
      </table>
    </Part>
  );
}

const stageSaid = ({ stages, stage }: Batch): string =>
  stages.length === 0 ? BATCHES.notBegun : STAGE_NAMES[stage as Stage];

function fuelSaid(batch: Batch): string {
  const { litres: volume } = fuelOf(batch);
  return volume === null ? BATCHES.notMeasured : litres(volume);
}

function testSaid(batch: Batch): string {
  const passed = conversionTestOf(batch);
  return passed === null ? BATCHES.notTested : passed ? BATCHES.passed : BATCHES.failed;
}

function Years({ years }: { years: readonly Year[] }) {
  const texts = BATCHES.years;
  const { columns } = texts;
  return (
    <Part title={texts.title} class="years">
      {years.length === 0 ? (
        <p>{texts.none}</p>
      ) : (
        <>
          <div class="scroller">
            <table>
              <thead>
                <tr>
                  {Object.entries(columns).map(([name, column]) => (
                    <th key={name} scope="col">
                      {column}
                    </th>
                  ))}
                </tr>
              </thead>
              <tbody>
                {years.toReversed().map((year) => (
                  <tr key={year.year}>
                    <th scope="row">{year.year}</th>
                    <td data-name={columns.made}>
                      {litres(year.madeL)}
                      {year.finishedWithoutFuel > 0 && (
                        <span class="quiet"> ({texts.without(year.finishedWithoutFuel)})</span>
                      )}
                    </td>
                    <td data-name={columns.used}>{litres(year.usedL)}</td>
                    <td data-name={columns.given}>{litres(year.givenAwayL)}</td>
                    <td data-name={columns.finished}>{year.finished}</td>
                    <td data-name={columns.rejected}>{year.rejected}</td>
                    <td data-name={columns.void}>{year.void}</td>
                  </tr>
                ))}
              </tbody>
            </table>
          </div>
          <p class="quiet">{texts.utc}</p>
        </>
      )}
    </Part>
  );
}
