import { useComputed, useSignalEffect } from '@preact/signals';
import type { Alarm } from '../shared/wire/api.ts';
import { PRIORITIES } from '../shared/wire/names.ts';
import { alarmSentence } from './alarm-sentence.ts';
import { PAGES } from './pages/pages.ts';
import { hrefOf, route } from './route.ts';
import { glycerolWord, heightUnit, hourCycle, personName, theme, unit, volumeUnit } from './settings.ts';
import {
  alarms,
  heardAt,
  isLive,
  isUnheard,
  lastRaised,
  notKept,
  now,
  refusedCount,
  speed,
} from './store.ts';
import { PRIORITY_WORDS, TEXTS } from './texts/live.ts';
import { gravestStanding } from './vessels.ts';
import { PriorityMark } from './views/alarms.tsx';
import { Field } from './views/form.tsx';
import { LatePage } from './views/late-page.tsx';
import { Overview } from './views/overview.tsx';
import { Hatch } from './views/scale.tsx';
import { VesselPage } from './views/vessel-page.tsx';
import { clock } from './views/words.ts';

function Choice<T extends string>(props: {
  legend: string;
  name: string;
  value: T;
  options: Readonly<Record<T, string>>;
  onChoose: (value: T) => void;
}) {
  return (
    <fieldset>
      <legend>{props.legend}</legend>
      {(Object.entries(props.options) as [T, string][]).map(([value, label]) => (
        <label key={value} class="check">
          <input
            type="radio"
            name={props.name}
            checked={props.value === value}
            onChange={() => props.onChoose(value)}
          />
          {label}
        </label>
      ))}
    </fieldset>
  );
}

/** Pages with a place in the line at the top, in the order of their use. */
const NAV = ['overview', 'batches', 'recipe', 'oil', 'stock', 'alarms', 'set-up', 'refused'] as const;

function Display() {
  return (
    <details class="display">
      <summary class="button plain">{TEXTS.display.open}</summary>
      <div>
        <Choice
          legend={TEXTS.display.temperature}
          name="unit"
          value={unit.value}
          options={{ C: '°C', F: '°F' }}
          onChoose={(value) => {
            unit.value = value;
          }}
        />
        <Choice
          legend={TEXTS.display.clock}
          name="clock"
          value={hourCycle.value}
          options={TEXTS.display.hours}
          onChoose={(value) => {
            hourCycle.value = value;
          }}
        />
        <Choice
          legend={TEXTS.display.volume}
          name="volume"
          value={volumeUnit.value}
          options={TEXTS.display.volumes}
          onChoose={(value) => {
            volumeUnit.value = value;
          }}
        />
        <Choice
          legend={TEXTS.display.height}
          name="height"
          value={heightUnit.value}
          options={TEXTS.display.heights}
          onChoose={(value) => {
            heightUnit.value = value;
          }}
        />
        <Choice
          legend={TEXTS.display.theme}
          name="theme"
          value={theme.value}
          options={TEXTS.display.themes}
          onChoose={(value) => {
            theme.value = value;
          }}
        />
        <Choice
          legend={TEXTS.display.glycerol}
          name="glycerol"
          value={glycerolWord.value}
          options={TEXTS.display.glycerolWords}
          onChoose={(value) => {
            glycerolWord.value = value;
          }}
        />
        <Field
          label={TEXTS.display.name}
          help={TEXTS.display.nameHelp}
          value={personName.value}
          onValue={(name) => {
            personName.value = name;
          }}
        />
      </div>
    </details>
  );
}

/** Whether what stands below is live, in plain words. */
function Link() {
  if (isLive.value) return <p class="link">{TEXTS.link.live(clock(now.value))}</p>;
  if (heardAt.value !== undefined || isUnheard.value) return null;
  return <p class="link">{TEXTS.link.connecting}</p>;
}

function NotLive() {
  if (isLive.value || (heardAt.value === undefined && !isUnheard.value)) return null;
  return (
    <div class="not-live" role="alert">
      <b>{heardAt.value === undefined ? TEXTS.link.neverLive : TEXTS.link.lost(clock(heardAt.value))}</b>{' '}
      {heardAt.value === undefined ? TEXTS.link.trying : TEXTS.link.lostHelp}
    </div>
  );
}

/** Readings are judged and not kept: whoever looks on must know that the record has a hole. */
function NotKept() {
  if (!isLive.value || notKept.value === undefined) return null;
  return (
    <div class="not-live" role="alert">
      <b>{TEXTS.link.notKept}</b> {TEXTS.link.notKeptHelp(notKept.value)}
    </div>
  );
}

const titleOf = (gravest: Alarm | undefined): string => {
  if (!isLive.value && heardAt.value !== undefined)
    return `${TEXTS.link.lost(clock(heardAt.value))} – ${TEXTS.product}`;
  if (gravest === undefined) return TEXTS.product;
  return `${PRIORITY_WORDS[gravest.priority]}: ${alarmSentence(gravest, unit.value).because} – ${gravest.vessel}`;
};

/** What a screen reader says when an alarm comes. */
function Announcer() {
  const spoken = useComputed(() => {
    const alarm = alarms.value.find(({ id, standing }) => standing && id === lastRaised.value);
    if (alarm === undefined) return '';
    const { because, todo } = alarmSentence(alarm, unit.value);
    return `${PRIORITY_WORDS[alarm.priority]}, ${alarm.vessel}: ${because} ${todo}`;
  });
  return (
    <p class="unseen" aria-live="assertive" aria-atomic="true">
      {spoken}
    </p>
  );
}

/** How many alarms of each priority stand and are to be told, and how many are set aside, on every page. */
function Standing() {
  const standing = alarms.value.filter((alarm) => alarm.standing && alarm.told);
  const shelved = alarms.value.filter((alarm) => alarm.shelved !== null);
  if (standing.length + shelved.length === 0) return null;
  return (
    <a class="standing" href="#/">
      {[...PRIORITIES].reverse().map((priority) => {
        const count = standing.filter((alarm) => alarm.priority === priority).length;
        return (
          count > 0 && (
            <span key={priority}>
              {count} <PriorityMark priority={priority} />
            </span>
          )
        );
      })}
      {shelved.length > 0 && TEXTS.alarms.shelvedCount(shelved.length)}
    </a>
  );
}

export function App() {
  useSignalEffect(() => {
    document.title = titleOf(gravestStanding(alarms.value));
  });
  const here = route.value;
  return (
    <div class={`page ${isLive.value ? 'live' : 'stale-page'}`}>
      <Hatch />
      <button type="button" class="skip" onClick={toContent}>
        {TEXTS.toContent}
      </button>
      <header class="top">
        <p class="product">{TEXTS.product}</p>
        <nav aria-label={TEXTS.nav.label}>
          {NAV.filter((page) => page === 'overview' || PAGES[page] !== undefined).map((page) => (
            <a key={page} href={hrefOf(page)} aria-current={here.page === page ? 'page' : undefined}>
              {TEXTS.nav[page]}
              {page === 'refused' &&
                refusedCount.value > 0 &&
                ` (${TEXTS.nav.refusedCount(refusedCount.value)})`}
            </a>
          ))}
        </nav>
        <Standing />
        <Link />
      </header>
      <NotLive />
      <NotKept />
      {speed.value !== 1 && <p class="demo">{TEXTS.link.demo(String(speed.value))}</p>}
      <main id="content" tabIndex={-1}>
        {here.page === 'vessel' ? (
          <VesselPage vesselKey={here.key} />
        ) : here.page === 'overview' ? (
          <Overview />
        ) : (
          <LatePage route={here} />
        )}
      </main>
      <footer>
        <Display />
        <p>{TEXTS.footer}</p>
      </footer>
      <Announcer />
    </div>
  );
}

/** Moves the focus itself: the hash names the page, so a link within it would leave the page. */
function toContent(): void {
  document.querySelector<HTMLElement>('main')?.focus();
}
