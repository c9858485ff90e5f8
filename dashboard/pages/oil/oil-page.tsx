import { signal, useComputed } from '@preact/signals';
import { BASE_KINDS, type BaseKind } from '../../../shared/chemistry/bases.ts';
import { OIL_KINDS, type OilKind } from '../../../shared/chemistry/oil-kinds.ts';
import { RUN_SPREAD } from '../../../shared/plan/cautions.ts';
import { PLAN_DEFAULTS } from '../../../shared/plan/resolve.ts';
import { hrefOf } from '../../route.ts';
import { volumeUnit } from '../../settings.ts';
import { OIL_TEXTS as TEXTS, VERDICT_WORDS } from '../../texts/oil.ts';
import { OIL_NAMES } from '../../texts/recipe.ts';
import { ENTRY_TEXTS, WORKING_TEXTS } from '../../texts/workings.ts';
import { decimal, volumeFromUnit } from '../../units.ts';
import { Entry, entryId, OneOf } from '../../views/entry.tsx';
import { Folded } from '../../views/folded.tsx';
import { Opened } from '../../views/opened.tsx';
import { degrees, inTheirWords } from '../../views/words.ts';
import type { PageOf } from '../pages.ts';
import { measured, weight } from '../recipe/quantities.ts';
import {
  ENTRY_PATHS,
  type EntryName,
  type Judged,
  LIMITS,
  OF_LITRES,
  type Read,
  RUNS,
  readTyped,
  type Typed,
  VERDICTS,
  verdictOf,
} from './oil.ts';
import './oil.css';

/** Is this oil worth taking? Beside a sample jar, on a phone, without a batch. */

const EMPTY: Typed = { titrant: '', kind: 'used', entries: {} };
/** Kept while the page is open, whatever else is looked at meanwhile. */
const typed = signal<Typed>(EMPTY);

const type = (name: EntryName, text: string): void => {
  typed.value = { ...typed.value, entries: { ...typed.value.entries, [name]: text } };
};

/** Of what 100 L take, what one litre or gallon takes. */
const forEach = (amount: number): number => (amount / OF_LITRES) * volumeFromUnit(1, volumeUnit.value);

const percent = (value: number): string => `${decimal(value, value < 10 ? 2 : 1)} %`;
const ppm = (value: number): string => `${value.toLocaleString('en')} ppm`;

function wrongText(wrong: Read['wrong'], name: EntryName | 'titrant'): string | undefined {
  const found = wrong.get(name);
  switch (found?.kind) {
    case undefined:
      return undefined;
    case 'not-a-number':
      return ENTRY_TEXTS.notANumber;
    case 'titrant':
      return TEXTS.titrantWrong;
    case 'too-much':
      return TEXTS.tooMuch;
    case 'range':
      return ENTRY_TEXTS.range(String(found.least), found.most.toLocaleString('en'));
  }
}

function Sample({ read: { wrong } }: { read: Read }) {
  const { titrant, kind, entries } = typed.value;
  const entry = (name: EntryName, label: string, unit: string, help?: string) => (
    <Entry
      key={name}
      name={name}
      label={label}
      unit={unit}
      value={entries[name] ?? ''}
      onValue={(text) => type(name, text)}
      help={(entries[name] ?? '') === '' ? help : undefined}
      wrong={wrongText(wrong, name)}
    />
  );
  const folded = (Object.keys(ENTRY_PATHS) as EntryName[]).slice(RUNS.length + 1);
  return (
    <form class="sample" onSubmit={(event) => event.preventDefault()}>
      <h2 class="unseen">{TEXTS.sample}</h2>
      <OneOf<BaseKind>
        name="titrant"
        legend={TEXTS.titrant}
        options={TEXTS.titrants}
        value={titrant}
        onValue={(chosen) => {
          typed.value = { ...typed.value, titrant: chosen };
        }}
        help={titrant === '' ? TEXTS.titrantHelp : undefined}
        wrong={wrongText(wrong, 'titrant')}
      />
      <div class="runs">{RUNS.map((run, i) => entry(run, TEXTS.run(i + 1), 'mL'))}</div>
      {entry('blank', TEXTS.blank, 'mL', TEXTS.blankHelp)}
      <Folded title={TEXTS.more} stirs={folded.some((name) => wrong.has(name))}>
        {entry('gPerL', TEXTS.gPerL, 'g/L', TEXTS.gPerLHelp)}
        {entry('sample', TEXTS.sampleMl, 'mL', TEXTS.sampleHelp)}
        {entry(
          'purity',
          TEXTS.purity,
          '%',
          TEXTS.purityHelp(PLAN_DEFAULTS.catalyst.purityPercent[titrant || 'NaOH']),
        )}
        {entry('water', TEXTS.water, 'ppm', TEXTS.waterHelp)}
        <div class="entry">
          <label for={entryId('oil-kind')}>{TEXTS.kind}</label>
          <select
            id={entryId('oil-kind')}
            value={kind}
            onChange={(event) => {
              typed.value = { ...typed.value, kind: event.currentTarget.value as OilKind };
            }}
          >
            {OIL_KINDS.map((each) => (
              <option key={each} value={each}>
                {OIL_NAMES[each]}
              </option>
            ))}
          </select>
        </div>
      </Folded>
    </form>
  );
}

/** Four marks in a row, the one that holds filled: which of the four verdicts it is. */
function Scale({ judged }: { judged: Judged }) {
  return (
    <ol class="verdicts" aria-hidden="true">
      {VERDICTS.map((each) => (
        <li key={each} class={each === judged.verdict ? 'is-it' : ''} />
      ))}
    </ol>
  );
}

function Verdict({ judged }: { judged: Judged | undefined }) {
  if (judged === undefined) return <p class="quiet">{TEXTS.waiting}</p>;
  const { verdict, plans, titrant, isWet, waterPpm, mixWithL } = judged;
  const plan = plans[titrant];
  const { meanMl, runs, spreadMl } = plan.titration!;
  const { say, why } = VERDICT_WORDS[verdict];
  const acid = plan.esterification;
  // Runs so far apart that they say different things of the oil are no measurement.
  const isTellingNothing = judged.isTorn && judged.isSpread;
  return (
    <>
      <p class="say" role="status">
        {isTellingNothing ? TEXTS.again : say}
      </p>
      {!isTellingNothing && <Scale judged={judged} />}
      <p>
        <b>{TEXTS.says(decimal(meanMl, 2), titrant, percent(plan.freeFattyAcidPercent))}</b>{' '}
        {runs > 1 && TEXTS.mean(runs, decimal(spreadMl, 2))}
      </p>
      {!isTellingNothing && (
        <>
          <p>
            {inTheirWords(why)}{' '}
            {mixWithL !== undefined && TEXTS.mix(decimal(Math.ceil(mixWithL * 10) / 10, 1))}
          </p>
          {verdict === 'acid-first' && acid !== null && (
            <p>
              {TEXTS.acidStep(
                measured(forEach(acid.methanolL), volumeUnit.value),
                weight(forEach(acid.sulphuricAcidKg * 1000)),
                TEXTS.each[volumeUnit.value],
              )}
            </p>
          )}
        </>
      )}
      <p class={isWet ? 'strong' : ''}>
        {waterPpm === undefined ? TEXTS.waterUnknown : (isWet ? TEXTS.wet : TEXTS.dry)(ppm(waterPpm))}
      </p>
    </>
  );
}

function Disagreement({ judged: { ends, isTorn, isSpread, isBlankHigh } }: { judged: Judged }) {
  const acidOf = (end: 'least' | 'most') => percent(ends![end].freeFattyAcidPercent);
  if (!isTorn && !isSpread && !isBlankHigh) return null;
  return (
    <section class="disagree">
      {isBlankHigh && <p class="strong">{TEXTS.runs.blank}</p>}
      {ends !== undefined && (isTorn || isSpread) && (
        <>
          <h2>{TEXTS.runs.title}</h2>
          {isTorn && (
            <p class="strong">
              {TEXTS.runs.torn(
                VERDICT_WORDS[verdictOf(ends.least)].say.toLowerCase(),
                VERDICT_WORDS[verdictOf(ends.most)].say.toLowerCase(),
              )}
            </p>
          )}
          {isSpread && <p>{TEXTS.runs.apart(acidOf('least'), acidOf('most'))}</p>}
          <p>{TEXTS.runs.causes}</p>
          <p class="quiet">{TEXTS.runs.limit(String(RUN_SPREAD.mL), `${RUN_SPREAD.share * 100} %`)}</p>
        </>
      )}
    </section>
  );
}

function Numbers({ judged: { plans, titrant, verdict } }: { judged: Judged }) {
  const plan = plans[titrant];
  const forLye = verdict === 'take' || verdict === 'more-soap';
  const band = (low: string, high: string) => WORKING_TEXTS.band(low, high);
  return (
    <section class="oil-numbers">
      <h2>{TEXTS.numbers(TEXTS.each[volumeUnit.value])}</h2>
      {!forLye && <p>{TEXTS.onlyAfter}</p>}
      {forLye &&
        BASE_KINDS.map((kind) => {
          const { catalystG, catalystForAcidG, workings } = plans[kind];
          return (
            <Opened
              key={kind}
              label={TEXTS.lye(kind)}
              value={weight(forEach(catalystG))}
              note={TEXTS.lyeNote(
                PLAN_DEFAULTS.catalyst.purityPercent[kind],
                weight(forEach(catalystG - catalystForAcidG)),
                weight(forEach(catalystForAcidG)),
              )}
              field="catalystG"
              workings={workings}
              large
            />
          );
        })}
      <Opened
        label={TEXTS.ffa}
        value={percent(plan.freeFattyAcidPercent)}
        field="freeFattyAcidPercent"
        workings={plan.workings}
      />
      <Opened
        label={TEXTS.acidNumber}
        value={`${decimal(plan.acidNumberMgKOHPerG, 2)} mg KOH/g`}
        field="acidNumberMgKOHPerG"
        workings={plan.workings}
      />
      <Opened
        label={TEXTS.taken}
        value={`${decimal(plan.titration!.molPerL, 4)} mol/L`}
        field="titration.molPerL"
        workings={plan.workings}
      />
      {forLye && (
        <>
          <Opened
            label={TEXTS.soap(titrant)}
            value={weight(forEach(plan.soapG))}
            band={band(weight(forEach(plan.soapGLow)), weight(forEach(plan.soapGHigh)))}
            field="soapG"
            workings={plan.workings}
          />
          <Opened
            label={TEXTS.fuel}
            value={percent((100 * plan.washedFuelL) / OF_LITRES)}
            band={band(
              percent((100 * plan.washedFuelLLow) / OF_LITRES),
              percent((100 * plan.washedFuelLHigh) / OF_LITRES),
            )}
            note={TEXTS.lossNote(
              PLAN_DEFAULTS.methanol.percentOfOilVolume,
              degrees(plan.watch.reactionTemperatureC),
            )}
            field="washedFuelL"
            workings={plan.workings}
          />
          <Opened
            label={TEXTS.yield}
            value={percent(plan.yieldPercent)}
            band={band(percent(plan.yieldPercentLow), percent(plan.yieldPercentHigh))}
            field="yieldPercent"
            workings={plan.workings}
          />
        </>
      )}
    </section>
  );
}

export const OilPage: PageOf<'oil'> = () => {
  const read = useComputed(() => readTyped(typed.value));
  const { judged } = read.value;
  return (
    <div class="oil">
      <header>
        <h1>{TEXTS.title}</h1>
        <p class="quiet">{TEXTS.lead}</p>
      </header>
      <div class="oil-columns">
        <Sample read={read.value} />
        <div class="oil-side">
          <section
            class={`verdict is-${judged === undefined || (judged.isTorn && judged.isSpread) ? 'open' : judged.verdict}`}
          >
            <h2 class="unseen">{TEXTS.verdict}</h2>
            <Verdict judged={judged} />
          </section>
          {judged !== undefined && (
            <>
              <Disagreement judged={judged} />
              <div class="actions screen-only">
                <a class="button" href={hrefOf('recipe', { oil: JSON.stringify(judged.request) })}>
                  {TEXTS.recipe}
                </a>
                <button
                  type="button"
                  class="plain"
                  onClick={() => {
                    // The same titrant for the next one, and nothing else of this oil.
                    const { titrant, entries } = typed.value;
                    const { blank = '', gPerL = '', sample = '', purity = '' } = entries;
                    typed.value = { ...EMPTY, titrant, entries: { blank, gPerL, sample, purity } };
                    document.getElementById(entryId('run1'))?.focus();
                  }}
                >
                  {TEXTS.clear}
                </button>
              </div>
              <Numbers judged={judged} />
            </>
          )}
          <details class="rarer">
            <summary>{TEXTS.limits}</summary>
            <dl class="limits">
              {TEXTS.limitsRows(LIMITS).map(([what, source]) => (
                <div key={what}>
                  <dt>{what}</dt>
                  <dd class="quiet">{source}</dd>
                </div>
              ))}
            </dl>
          </details>
          <p class="strong">{TEXTS.first}</p>
        </div>
      </div>
    </div>
  );
};
