import { type Signal, useSignal } from '@preact/signals';
import { useEffect, useId, useRef } from 'preact/hooks';
import { LIMIT_DEFAULTS, type LimitName, type Limits } from '../../../shared/rules/limits.ts';
import { ALARM_NAMES, type AlarmName } from '../../../shared/rules/names.ts';
import {
  LIMITS_IN_WORDS,
  quantitiesIn,
  RULES_IN_WORDS,
  type RuleInWords,
} from '../../../shared/rules/words.ts';
import type { AlarmWhy } from '../../../shared/wire/alarm-why.ts';
import { PRIORITIES, STAGES } from '../../../shared/wire/names.ts';
import { unit } from '../../settings.ts';
import { ALARM_TEXTS } from '../../texts/alarms.ts';
import { PRIORITY_WORDS, STAGE_NAMES } from '../../texts/live.ts';
import { duration } from '../../units.ts';
import { when } from '../../views/words.ts';
import { limitScale } from './limit-scale.ts';
import { openRun, type Played, type Run, type Tried } from './run.ts';

const texts = ALARM_TEXTS.one;

export const ruleOf = (alarm: string): RuleInWords | undefined =>
  ALARM_NAMES.includes(alarm as AlarmName) ? RULES_IN_WORDS[alarm as AlarmName] : undefined;

/** A limit as people read it. */
function sayLimit(name: LimitName, value: number): string {
  const words = quantitiesIn(unit.value);
  const { kind } = LIMITS_IN_WORDS[name];
  switch (kind) {
    case 'apart':
      return words.apart(value);
    case 'at':
      return words.at(value);
    case 'rate':
      return words.rate(value);
    default:
      return `${value.toLocaleString('en', { maximumFractionDigits: 2 })} ${texts.unit[kind]}`;
  }
}

/** A rule's words name stages as the wire does: here they are called as everywhere on the page. */
const withStages = (text: string): string =>
  text.replace(/`([a-z-]+)`/g, (whole, name: string) => {
    const stage = STAGES.find((one) => one === name);
    return stage === undefined ? whole : `‘${STAGE_NAMES[stage]}’`;
  });

/** And so are priorities. */
const withPriorities = (text: string): string =>
  PRIORITIES.reduce((said, priority) => said.replaceAll(priority, PRIORITY_WORDS[priority]), text);

/** The rule in words with the limits that it went by. */
export function RuleWords({ why: { alarm, plan, batch } }: { why: AlarmWhy }) {
  const rule = ruleOf(alarm.alarm);
  if (rule === undefined) return <p>{texts.ruleUnknown}</p>;
  const words = quantitiesIn(unit.value);
  return (
    <>
      <dl class="rule">
        <dt>{texts.ruleRaised}</dt>
        <dd>{withStages(rule.raised(plan.limits, words))}.</dd>
        <dt>{texts.ruleOver}</dt>
        <dd>{withStages(rule.over(plan.limits, words))}.</dd>
        <dt>{texts.ruleGrave}</dt>
        <dd>{withPriorities(rule.priority)}.</dd>
      </dl>
      <h3>{texts.limits}</h3>
      {rule.limits.length === 0 ? (
        <p>{texts.noLimits}</p>
      ) : (
        <ul class="limits">
          {rule.limits.map((name) => (
            <li key={name}>
              {LIMITS_IN_WORDS[name].says}: <b>{sayLimit(name, plan.limits[name])}</b>,{' '}
              {plan.limits[name] === LIMIT_DEFAULTS[name]
                ? texts.byDefault
                : `${batch === null ? '' : texts.byPlan}; ${texts.defaultIs(sayLimit(name, LIMIT_DEFAULTS[name]))}`}{' '}
              <span class="quiet code">{name}</span>
            </li>
          ))}
        </ul>
      )}
    </>
  );
}

interface OtherProps {
  why: AlarmWhy;
  /** Written here; drawn beside it. */
  tried: Signal<Tried>;
}

/** The batch played again with other limits. */
export function OtherLimits({ why, tried }: OtherProps) {
  const { alarm, batch } = why;
  const run = useSignal<Run | undefined>(undefined);
  const place = useRef<HTMLDivElement>(null);
  const start = (): void => {
    // The button goes: who came here by keyboard stays here.
    place.current?.focus();
    run.value?.end();
    run.value =
      batch === null
        ? undefined
        : openRun(batch.id, { vessel: alarm.vessel, alarm: alarm.alarm, atMs: Date.parse(alarm.at) });
  };
  useEffect(
    () => () => {
      run.peek()?.end();
    },
    [],
  );
  if (batch === null) return <p>{texts.nothingToRun}</p>;
  const state = run.value?.state.value;
  return (
    <div class="other" ref={place} tabIndex={-1}>
      <p class="quiet">{texts.otherLead}</p>
      {state === undefined && (
        <button type="button" onClick={start}>
          {texts.open}
        </button>
      )}
      {state?.is === 'failed' && (
        <>
          <p class="problem" role="alert">
            {state.busy ? texts.failedBusy : texts.failed}
          </p>
          <button type="button" class="plain" onClick={start}>
            {texts.again}
          </button>
        </>
      )}
      {state?.is === 'fetching' && <p role="status">{texts.fetching(state.lines)}</p>}
      {state?.is === 'there' && run.value !== undefined && (
        <Sliders why={why} run={run.value} tried={tried} />
      )}
    </div>
  );
}

function Sliders({ why: { alarm, plan }, run, tried }: OtherProps & { run: Run }) {
  const { limits } = tried.value;
  const rule = ruleOf(alarm.alarm);
  const atMs = Date.parse(alarm.at);
  const played = run.played.value;
  const isBusy = run.busy.value;
  useEffect(() => {
    // An answer to what was tried before is none to what is tried now.
    const instead = isBusy ? null : played?.instead;
    tried.value = { limits: tried.peek().limits, insteadMs: instead?.raisedMs ?? null };
  }, [tried, played, isBusy]);
  const attempt = (next: Partial<Limits>): void => {
    tried.value = { ...tried.peek(), limits: next };
    run.play(next);
  };
  const own = run.own.value;
  if (own === undefined) return <p role="status">{texts.playing}</p>;
  const isAsItWas = Object.keys(limits).length === 0;
  const state = run.state.value;
  return (
    <>
      {rule === undefined || rule.limits.length === 0 ? (
        <p>{texts.nothingToMove}</p>
      ) : (
        <form class="sliders" onSubmit={(event) => event.preventDefault()}>
          {rule.limits.map((name) => (
            <Slider
              key={name}
              name={name}
              was={plan.limits[name]}
              value={limits[name] ?? plan.limits[name]}
              onValue={(value) => {
                const { [name]: _, ...others } = limits;
                attempt(value === plan.limits[name] ? others : { ...others, [name]: value });
              }}
            />
          ))}
          <button type="button" class="plain" aria-disabled={isAsItWas} onClick={() => attempt({})}>
            {texts.reset}
          </button>
        </form>
      )}
      <output class="answer" data-busy={isBusy}>
        {isBusy || played === undefined ? (
          <p>{texts.playing}</p>
        ) : isAsItWas ? (
          <AsItWas own={own} atMs={atMs} />
        ) : (
          <Instead played={played} own={own} atMs={atMs} />
        )}
      </output>
      {state.is === 'there' && state.span !== null && played !== undefined && (
        <p class="quiet ran">
          {texts.ran(
            state.readings,
            when(state.span.fromMs, 'second'),
            when(state.span.toMs, 'second'),
            state.vessels.join(', '),
            tookWords(played.tookMs),
          )}
        </p>
      )}
    </>
  );
}

const tookWords = (ms: number): string =>
  ms < 1000 ? `${Math.max(1, Math.round(ms))} ms` : `${(ms / 1000).toFixed(1)} s`;

interface SliderProps {
  name: LimitName;
  was: number;
  value: number;
  onValue: (value: number) => void;
}

function Slider({ name, was, value, onValue }: SliderProps) {
  const id = useId();
  const { least, most, step } = limitScale(name, was);
  return (
    <div class="slider">
      <label for={id}>{LIMITS_IN_WORDS[name].says}</label>
      <input
        id={id}
        type="range"
        min={least}
        max={most}
        step={step}
        value={value}
        aria-valuetext={sayLimit(name, value)}
        onInput={(event) => onValue(Number(event.currentTarget.value))}
      />
      <span class="value">{sayLimit(name, value)}</span>
    </div>
  );
}

function AsItWas({ own, atMs }: { own: Played; atMs: number }) {
  const comesMs = own.instead?.raisedMs ?? null;
  if (comesMs === atMs) return <p class="strong">{texts.asItWas(when(atMs, 'second'))}</p>;
  return <p class="problem">{texts.notAsItWas(comesMs === null ? null : when(comesMs, 'second'))}</p>;
}

function Instead({ played, own, atMs }: { played: Played; own: Played; atMs: number }) {
  const { instead } = played;
  return (
    <>
      <p class="strong">{instead === null ? texts.never : insteadWords(instead.raisedMs, atMs)}</p>
      {instead !== null && (
        <p>
          {instead.clearedMs === null
            ? texts.wouldStand
            : texts.wouldBeOver(
                when(instead.clearedMs, 'second'),
                duration(instead.clearedMs - instead.raisedMs),
              )}
        </p>
      )}
      <p>{texts.inAll(played.all.length, own.all.length)}</p>
    </>
  );
}

function insteadWords(raisedMs: number, atMs: number): string {
  const time = when(raisedMs, 'second');
  if (raisedMs === atMs) return texts.same(time);
  const by = duration(Math.abs(raisedMs - atMs));
  return raisedMs < atMs ? texts.earlier(time, by) : texts.later(time, by);
}
