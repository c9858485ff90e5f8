import { useSignal } from '@preact/signals';
import type { ComponentChildren } from 'preact';
import { useId } from 'preact/hooks';
import type { Alarm } from '../../shared/wire/api.ts';
import { longestShelfMinutes, type Priority } from '../../shared/wire/names.ts';
import { alarmSentence } from '../alarm-sentence.ts';
import { acknowledge, shelve } from '../api.ts';
import { forwardedSites, mayAt } from '../forwarded.ts';
import { type Present, presentNumber } from '../present-number.ts';
import { hrefOf, idHref, vesselHref } from '../route.ts';
import { ownName } from '../session.ts';
import { unit } from '../settings.ts';
import { isLive, later, now, refetch, vesselAt } from '../store.ts';
import { alarmTitle } from '../texts/alarm-titles.ts';
import { channelUnit, PRIORITY_WORDS, TEXTS } from '../texts/live.ts';
import { SHELL_TEXTS } from '../texts/shell.ts';
import { keyOf } from '../vessels.ts';
import { focusFirst } from './focus.ts';
import { by, Field, NameField, Problem, useAction } from './form.tsx';
import { amount, degrees, degreesApart, when } from './words.ts';

/** The outline of each priority's mark, in a square of 24. */
export const SHAPES: Readonly<Record<Priority, string>> = {
  critical: 'M8 1h8l7 7v8l-7 7H8l-7-7V8z',
  high: 'M12 2 23 22H1z',
  medium: 'M12 1 23 12 12 23 1 12z',
  low: 'M12 3a9 9 0 1 0 0 18 9 9 0 0 0 0-18z',
};
const STROKES: Readonly<Record<Priority, string>> = {
  critical: 'M12 6v8M12 16.5v2',
  high: 'M12 9v6.5M12 17.5v2',
  medium: 'M12 7v6M12 15v2',
  low: 'M12 11v6M12 7v2',
};

/** A priority's own shape and word. */
export function PriorityMark({ priority }: { priority: Priority }) {
  return (
    <span class={`mark mark-${priority}`}>
      <svg viewBox="0 0 24 24" aria-hidden="true">
        <path class="shape" d={SHAPES[priority]} />
        <path class="stroke" d={STROKES[priority]} />
      </svg>
      <span class="word">{PRIORITY_WORDS[priority]}</span>
    </span>
  );
}

/** Leads to where it is explained why an alarm came. */
export function WhyLink({ alarm, button }: { alarm: Alarm; button?: boolean }) {
  return (
    <a
      class={button ? 'button plain' : undefined}
      href={idHref('alarm', alarm.id)}
      aria-label={TEXTS.alarms.whyOf(alarmTitle(alarm.alarm), when(alarm.at, 'second'))}
    >
      {TEXTS.alarms.why}
    </a>
  );
}

/** Whose it is, where alarms of several vessels stand together. */
function Whose({ alarm }: { alarm: Alarm }) {
  return (
    <p class="whose">
      <a href={vesselHref(alarm)}>{alarm.vessel}</a> <span class="quiet">{TEXTS.vessel.at(alarm.site)}</span>
    </p>
  );
}

/** The number of its sentence as it is now: the sentence says what was when it came. */
function PresentNumber({ alarm }: { alarm: Alarm }) {
  const vessel = vesselAt(keyOf(alarm));
  const found = vessel === undefined || !isLive.value ? undefined : presentNumber(alarm, vessel, now.value);
  if (found === undefined) return null;
  return <>{TEXTS.alarms.now(sayPresent(found))} </>;
}

function sayPresent({ kind, value, channel }: Present): string {
  switch (kind) {
    case 'headroom':
      return (value < 0 ? TEXTS.alarms.above : TEXTS.alarms.below)(degreesApart(Math.abs(value)));
    case 'at':
      return degrees(value);
    case 'rate':
      return TEXTS.vessel.rate(value < 0 ? 'falling' : 'rising', degreesApart(Math.abs(value)));
    case 'mixing':
      return `${amount(value)} ${channelUnit(channel)}`;
    case 'ppm':
      return `${value.toFixed(0)} ppm`;
  }
}

/** What can be done with an alarm that stands. */
export function AlarmActions({ alarm, children }: { alarm: Alarm; children?: ComponentChildren }) {
  return (
    <div class="actions">
      {forwardedSites.value.has(alarm.site) && <span class="quiet">{TEXTS.doneAtSite}</span>}
      {alarm.acknowledged === null && <Acknowledge alarm={alarm} />}
      {alarm.standing && alarm.shelved === null && <Shelve alarm={alarm} />}
      {children}
    </div>
  );
}

export function Acknowledge({ alarm, small }: { alarm: Alarm; small?: boolean }) {
  const open = useSignal(false);
  const reason = useSignal('');
  const { busy, problem, run } = useAction();

  const send = (): void => {
    const note = reason.value.trim();
    void run(async () => {
      await acknowledge(alarm.id, { ...by(), ...(note === '' ? {} : { reason: note }) });
      await refetch().catch(later);
    });
  };

  if (!mayAt('work', alarm.site)) return null;
  if (!open.value) {
    const knownName = ownName.value;
    return (
      <div class="actions">
        <button
          type="button"
          class={small ? 'plain small' : undefined}
          disabled={busy}
          onClick={() => {
            if (knownName === '') open.value = true;
            else send();
          }}
        >
          {TEXTS.alarms.acknowledge}
          {knownName !== '' && !small && <small> {TEXTS.alarms.acknowledgeAs(knownName)}</small>}
        </button>
        {knownName !== '' && !small && (
          <button
            type="button"
            class="plain"
            onClick={() => {
              open.value = true;
            }}
          >
            {TEXTS.alarms.withReason}
          </button>
        )}
        <Problem problem={problem} />
      </div>
    );
  }
  return (
    <form
      class="inline"
      ref={focusFirst}
      onSubmit={(event) => {
        event.preventDefault();
        send();
      }}
    >
      <NameField label={TEXTS.alarms.yourName} />
      <Field
        label={TEXTS.alarms.reason}
        value={reason.value}
        onValue={(text) => {
          reason.value = text;
        }}
      />
      <button type="submit" disabled={busy}>
        {TEXTS.alarms.send}
      </button>
      <Problem problem={problem} />
    </form>
  );
}

/** Puts a standing alarm aside for a time, with a reason. */
function Shelve({ alarm }: { alarm: Alarm }) {
  const open = useSignal(false);
  const reason = useSignal('');
  const minutes = useSignal('15');
  const { busy, problem, run } = useAction();
  const id = useId();
  const texts = TEXTS.alarms;
  const longest = longestShelfMinutes(alarm.priority);

  if (!mayAt('work', alarm.site)) return null;
  if (!open.value) {
    return (
      <button
        type="button"
        class="plain"
        onClick={() => {
          open.value = true;
        }}
      >
        {texts.shelve}
      </button>
    );
  }
  return (
    <form
      class="inline"
      ref={focusFirst}
      onSubmit={(event) => {
        event.preventDefault();
        void run(async () => {
          await shelve(alarm.id, { ...by(), reason: reason.value, minutes: Number(minutes.value) });
          await refetch().catch(later);
        });
      }}
    >
      <NameField label={texts.yourName} />
      <Field
        label={texts.shelfReason}
        value={reason.value}
        required
        onValue={(text) => {
          reason.value = text;
        }}
      />
      <div class="field">
        <label for={id}>{texts.shelfTime}</label>
        <select
          id={id}
          value={minutes.value}
          onChange={(event) => {
            minutes.value = event.currentTarget.value;
          }}
        >
          {Object.entries(texts.shelfTimes)
            .filter(([time]) => Number(time) <= longest)
            .map(([time, label]) => (
              <option key={time} value={time}>
                {label}
              </option>
            ))}
        </select>
      </div>
      <button type="submit" disabled={busy}>
        {texts.shelve}
      </button>
      <Problem problem={problem} />
    </form>
  );
}

const powerCutHref = (alarm: Alarm): string => hrefOf('power-cut', { vessel: keyOf(alarm) });

function AlarmItem({ alarm, named }: { alarm: Alarm; named: boolean }) {
  const sentence = alarmSentence(alarm, unit.value);
  return (
    <li class={`alarm alarm-${alarm.priority}`}>
      <PriorityMark priority={alarm.priority} />
      <div class="what">
        {named && <Whose alarm={alarm} />}
        <p class="because">{sentence.because}</p>
        <p class="todo">{sentence.todo}</p>
        <p class="quiet">
          <PresentNumber alarm={alarm} />
          {TEXTS.alarms.since(when(alarm.at, 'second'))}
          {alarm.late && `, ${TEXTS.alarms.late}`}
          {'. '}
          {alarm.acknowledged === null
            ? `${TEXTS.alarms.notSeen}.`
            : `${TEXTS.alarms.seen(alarm.acknowledged.by, when(alarm.acknowledged.at))}${
                alarm.acknowledged.reason === null ? '' : `: ‘${alarm.acknowledged.reason}’`
              }.`}
        </p>
        <AlarmActions alarm={alarm}>
          {alarm.alarm === 'not-watching' && (
            <a class="button plain" href={powerCutHref(alarm)}>
              {SHELL_TEXTS.powerCut.linkShort}
            </a>
          )}
          <WhyLink alarm={alarm} button />
        </AlarmActions>
      </div>
    </li>
  );
}

/** One that stands and that nobody is told of: set aside, or said by another. */
function AsideItem({ alarm, named }: { alarm: Alarm; named: boolean }) {
  const { because, todo } = alarmSentence(alarm, unit.value);
  const { shelved, explainedBy } = alarm;
  return (
    <li>
      <PriorityMark priority={alarm.priority} />
      {named && <Whose alarm={alarm} />}
      <p>
        {shelved !== null &&
          `${TEXTS.alarms.shelvedUntil(when(shelved.until), shelved.by, shelved.reason)}. `}
        {because} {shelved !== null && todo}
        {explainedBy !== null && ` ${TEXTS.alarms.followsFrom(alarmTitle(explainedBy))}.`}{' '}
        <WhyLink alarm={alarm} />
      </p>
    </li>
  );
}

function AsideList({ label, alarms, named }: { label: string; alarms: readonly Alarm[]; named: boolean }) {
  if (alarms.length === 0) return null;
  return (
    <>
      {named && <h3>{label}</h3>}
      <ul class="over" aria-label={label}>
        {alarms.map((alarm) => (
          <AsideItem key={alarm.id} alarm={alarm} named={named} />
        ))}
      </ul>
    </>
  );
}

/** An alarm that is over gives no orders any more, and is told in short; why it came is one step away. */
function OverItem({ alarm, named }: { alarm: Alarm; named: boolean }) {
  return (
    <li>
      {named && <Whose alarm={alarm} />}
      <p>
        {TEXTS.alarms.overSince(when(alarm.clearedAt ?? alarm.at))} {alarmTitle(alarm.alarm)}{' '}
        <WhyLink alarm={alarm} />
      </p>
      {alarm.acknowledged === null && <Acknowledge alarm={alarm} small />}
    </li>
  );
}

/** Of those that are over so many are shown beside what stands; the rest behind one line. */
const OVER_SHOWN = 3;

function OverList({ alarms, named }: { alarms: readonly Alarm[]; named: boolean }) {
  if (alarms.length === 0) return null;
  const newest = alarms.toSorted((a, b) => (b.clearedAt ?? b.at).localeCompare(a.clearedAt ?? a.at));
  const items = (some: readonly Alarm[]) =>
    some.map((alarm) => <OverItem key={alarm.id} alarm={alarm} named={named} />);
  // One more takes no more room than the line that hides it.
  const shown = named || alarms.length === OVER_SHOWN + 1 ? alarms.length : OVER_SHOWN;
  return (
    <>
      {named && <h3>{TEXTS.alarms.over}</h3>}
      <ul class="over" aria-label={TEXTS.alarms.over}>
        {items(newest.slice(0, shown))}
      </ul>
      {newest.length > shown && (
        <details class="more-over">
          <summary>{TEXTS.alarms.moreOver(newest.length - shown)}</summary>
          <ul class="over">{items(newest.slice(shown))}</ul>
        </details>
      )}
    </>
  );
}

/**
 * Alarms of a vessel, or of all where each is named: those that stand, the gravest first, below them what follows from them and what is set
 * aside, then what is over and not yet seen.
 */
export function AlarmList({ alarms, named = false }: { alarms: readonly Alarm[]; named?: boolean }) {
  const standing = alarms.filter((alarm) => alarm.standing && alarm.told);
  const shelved = alarms.filter((alarm) => alarm.shelved !== null);
  const follows = alarms.filter((alarm) => alarm.standing && !alarm.told && alarm.shelved === null);
  const over = alarms.filter((alarm) => !alarm.standing);
  return (
    <>
      {standing.length > 0 && (
        <ul class="alarms" aria-label={TEXTS.alarms.region}>
          {standing.map((alarm) => (
            <AlarmItem key={alarm.id} alarm={alarm} named={named} />
          ))}
        </ul>
      )}
      <AsideList label={TEXTS.alarms.follows} alarms={follows} named={named} />
      <AsideList label={TEXTS.alarms.shelved} alarms={shelved} named={named} />
      <OverList alarms={over} named={named} />
    </>
  );
}
