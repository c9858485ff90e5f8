import { useSignal } from '@preact/signals';
import type { ComponentChildren } from 'preact';
import { useEffect, useMemo, useRef } from 'preact/hooks';
import type { ComparedBatch, Missed } from '../../../shared/wire/comparison.ts';
import type { Stage } from '../../../shared/wire/names.ts';
import { besideHref, hrefOf, idHref, type Route } from '../../route.ts';
import { unit } from '../../settings.ts';
import { synced } from '../../store.ts';
import { alarmTitle } from '../../texts/alarm-titles.ts';
import { BATCH, BATCHES, BESIDE, ENTRIES } from '../../texts/batch.ts';
import { STAGE_NAMES } from '../../texts/live.ts';
import { decimal, degree, MINUS, toUnit } from '../../units.ts';
import { useNewest } from '../../views/answer.ts';
import { Problem } from '../../views/form.tsx';
import { Part } from '../../views/part.tsx';
import { amount, capital, degrees, inTheirWords } from '../../views/words.ts';
import { missingSaid } from '../batch/missing-said.ts';
import { type Comparison, compare } from './calls.ts';
import { lineOf, overlay } from './overlay.ts';
import '../../views/parts.css';
import './beside.css';

/** Two batches laid over each other, at a stage that both have. */
export function BesidePage({ route }: { route: Route & { page: 'beside' } }) {
  const [a, b] = route.ids;
  const align = useSignal('');
  const found = useSignal<Comparison | undefined>(undefined);
  const { problem, ask } = useNewest();
  const fetchIt = (): void => {
    if (a === b) return;
    void ask(
      () => compare({ a, b, ...(align.value === '' ? {} : { align: align.value }) }),
      (compared) => {
        found.value = compared;
      },
    );
  };
  useEffect(fetchIt, [a, b]);
  useEffect(() => {
    if (problem?.code === 'offline') fetchIt();
  }, [synced.value]);

  const compared = found.value;
  const title = compared === undefined ? BATCHES.title : BESIDE.title(compared.a.name, compared.b.name);
  const stages =
    compared === undefined
      ? []
      : [...new Set(compared.a.stages.map(({ stage }) => stage))].filter((stage) =>
          compared.b.stages.some((one) => one.stage === stage),
        );
  return (
    <section class="beside-page">
      <p class="back">
        <a class="button plain" href={hrefOf('batches')}>
          <span aria-hidden="true">← </span>
          {BATCH.all}
        </a>
      </p>
      <h1>{title}</h1>
      {a === b && <p>{BESIDE.same}</p>}
      {compared !== undefined && (
        <div class="inline">
          <div class="field">
            <label for="align">{BESIDE.align}</label>
            <select
              id="align"
              value={compared.align}
              onChange={(event) => {
                align.value = event.currentTarget.value;
                fetchIt();
              }}
            >
              {stages.map((stage) => (
                <option key={stage} value={stage}>
                  {STAGE_NAMES[stage]}
                </option>
              ))}
            </select>
          </div>
          <a class="button plain" href={besideHref(b, a)}>
            {BESIDE.swap}
          </a>
        </div>
      )}
      {problem?.code === 'conditions-missing' ? (
        <p role="alert">
          {BESIDE.notBoth([...new Set(problem.missing.map(({ what }) => stageLacked(what)))].join(', '))}
        </p>
      ) : (
        <Problem problem={problem} />
      )}
      {problem !== undefined && problem.code !== 'conditions-missing' && (
        <button type="button" class="plain" onClick={fetchIt}>
          {BESIDE.again}
        </button>
      )}
      {compared === undefined ? (
        problem === undefined && a !== b && <p class="quiet">{BESIDE.loading}</p>
      ) : (
        <Compared compared={compared} />
      )}
    </section>
  );
}

/** The daemon names a stage that a batch lacks as `stage-react`. */
function stageLacked(what: string): string {
  const stage = what.replace(/^stage-/, '');
  return STAGE_NAMES[stage as Stage] ?? stage;
}

function Compared({ compared }: { compared: Comparison }) {
  const { a, b, align, missed } = compared;
  const shownUnit = unit.value;
  return (
    <>
      <p class="quiet">{BESIDE.alignedAt(STAGE_NAMES[align])}</p>
      <ul class="legend">
        <Legend side={a} />
        <Legend side={b} dashed />
      </ul>
      <Lines
        key={`temperature ${shownUnit}`}
        compared={compared}
        channel="temperature"
        title={BESIDE.temperature(degree(shownUnit))}
        toShown={(celsius) => toUnit(celsius, shownUnit)}
        say={degrees}
        height={300}
      />
      <Lines
        compared={compared}
        channel="mixing"
        title={BESIDE.mixing}
        toShown={(value) => value}
        say={amount}
        height={150}
      />
      <Part title={BESIDE.missed}>
        <div class="two">
          {([a, b] as const).map((side, i) => {
            const of = i === 0 ? 'a' : 'b';
            const mine = missed.filter((one) => one.of === of);
            return (
              <div key={side.batch}>
                <h3>{BESIDE.missedBy(side.name)}</h3>
                {mine.length === 0 ? (
                  <p>{BESIDE.missedNothing}</p>
                ) : (
                  <ul class="plain-list">
                    {mine.map((one) => (
                      <li key={one.says}>{missedSaid(one)}</li>
                    ))}
                  </ul>
                )}
              </div>
            );
          })}
        </div>
      </Part>
      <FigureTable a={a} b={b} />
      <Part title={BESIDE.stages}>
        <div class="two">
          {[a, b].map((side) => (
            <div key={side.batch}>
              <h3>
                <bdi>{side.name}</bdi>
              </h3>
              <ol>
                {side.stages.map(({ stage, vessel, minutes }) => (
                  <li key={`${stage} ${minutes}`} class="stage-at">
                    <span class="quiet">{BESIDE.atMinute(wholeMinutes(minutes))}</span>{' '}
                    {capital(STAGE_NAMES[stage])} <span class="quiet">({vessel})</span>
                  </li>
                ))}
              </ol>
            </div>
          ))}
        </div>
      </Part>
    </>
  );
}

/** As the axis above has them. */
const wholeMinutes = (minutes: number): string =>
  Math.round(minutes).toLocaleString('en').replace('-', MINUS);

/** In the words of the page; what it does not know is said as the daemon does. */
function missedSaid({ what, says, facts }: Missed): string {
  const { stage, test, condition, has = 0, needs = 0 } = facts;
  const texts = BESIDE.lacks;
  if (what === 'stage' && stage) return texts.stage(STAGE_NAMES[stage]);
  if (what === 'washes') return texts.washes(has, needs);
  if (what === 'test' && test) return texts.test(testName(test));
  if (what === 'test-passed' && test) return texts.notPassed(testName(test));
  if (what === 'reaction-minutes') return texts.reaction(decimal(needs - has, 1));
  if (what === 'settle-hours') return texts.settling(decimal(needs - has, 1));
  if (what === 'condition' && stage && condition)
    return texts.condition(STAGE_NAMES[stage], missingSaid({ what: condition, has, needs }));
  return inTheirWords(says);
}

const testName = (test: string): string =>
  ENTRIES.kinds[test as keyof typeof ENTRIES.kinds]?.toLowerCase() ?? test;

function Legend({ side, dashed }: { side: ComparedBatch; dashed?: boolean }) {
  return (
    <li>
      <svg viewBox="0 0 40 8" aria-hidden="true">
        <path class={dashed ? 'dashed' : 'full'} d="M0 4H40" />
      </svg>
      <a href={idHref('batch', side.batch)}>
        <bdi>{side.name}</bdi>
      </a>
    </li>
  );
}

interface LinesProps {
  compared: Comparison;
  channel: 'temperature' | 'mixing';
  title: string;
  toShown: (value: number) => number;
  say: (value: number) => string;
  height: number;
}

function Lines({ compared, channel, title, toShown, say, height }: LinesProps) {
  const place = useRef<HTMLDivElement>(null);
  const lines = useMemo(
    () => [lineOf(compared.a, channel), lineOf(compared.b, channel)],
    [compared, channel],
  );
  const some = lines.some(({ minutes }) => minutes.length > 0);
  useEffect(() => {
    if (!some) return undefined;
    let remove: (() => void) | undefined;
    let gone = false;
    void import('./draw-overlay.ts').then(({ drawOverlay }) => {
      if (gone || place.current === null) return;
      const shown = lines.map(({ minutes, value }) => ({
        minutes,
        value: value.map((one) => (one === null ? null : toShown(one))),
      }));
      remove = drawOverlay(place.current, overlay(shown), {
        height,
        formatValue: (value) => decimal(value, 0),
      });
    });
    return () => {
      gone = true;
      remove?.();
    };
  }, [lines, height]);

  const summaries = [compared.a, compared.b].flatMap(({ name }, i) => {
    const values = lines[i]!.value.filter((one) => one !== null);
    if (values.length === 0) return [];
    const least = values.reduce((found, one) => Math.min(found, one));
    const most = values.reduce((found, one) => Math.max(found, one));
    return [BESIDE.summary(name, say(least), say(most))];
  });
  return (
    <figure class="plot">
      <figcaption>
        <b>{title}</b> <span class="quiet">{some ? summaries.join('; ') : BESIDE.none}</span>
      </figcaption>
      <div ref={place} class="canvas" style={{ minHeight: some ? height : 0 }} aria-hidden="true" />
      {some && <p class="quiet minutes">{BESIDE.minutes}</p>}
    </figure>
  );
}

function FigureTable({ a, b }: { a: ComparedBatch; b: ComparedBatch }) {
  const { rows } = BESIDE;
  const list: [string, (side: ComparedBatch) => ComponentChildren][] = [
    [rows.ended, ({ stage }) => STAGE_NAMES[stage]],
    [rows.reaction, (side) => BESIDE.minutesOf(decimal(side.creditedReactionMinutes, 1))],
    [rows.settling, (side) => BESIDE.hoursOf(decimal(side.creditedSettleHours, 1))],
    [rows.washes, ({ washes }) => washes],
    [
      rows.tests,
      ({ tests }) =>
        tests.length === 0
          ? BESIDE.noTest
          : tests.map((one) => BESIDE.lastTest(testName(one.test), one.passed)).join('; '),
    ],
    [
      rows.alarms,
      ({ alarms }) =>
        alarms.length === 0
          ? BESIDE.noAlarm
          : alarms.map(({ alarm, count }) => `${count} × ${alarmTitle(alarm)}`).join('; '),
    ],
    [rows.deviations, deviationsSaid],
  ];
  return (
    <Part title={BESIDE.figures}>
      <table class="figures">
        <thead>
          <tr>
            <td />
            <th scope="col">{a.name}</th>
            <th scope="col">{b.name}</th>
          </tr>
        </thead>
        <tbody>
          {list.map(([name, say]) => (
            <tr key={name}>
              <th scope="row">{name}</th>
              <td data-name={a.name}>{say(a)}</td>
              <td data-name={b.name}>{say(b)}</td>
            </tr>
          ))}
        </tbody>
      </table>
    </Part>
  );
}

function deviationsSaid({ deviations }: ComparedBatch): ComponentChildren {
  if (deviations.length === 0) return BESIDE.noDeviation;
  return (
    <ul class="plain-list">
      {deviations.map(({ stage, minutes, reason, missing }) => (
        <li key={`${stage} ${minutes}`}>
          {capital(STAGE_NAMES[stage])}: ‘{reason}’{' '}
          <span class="quiet">({missing.map(missingSaid).join('; ')})</span>
        </li>
      ))}
    </ul>
  );
}
