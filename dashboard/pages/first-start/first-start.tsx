import type { ComponentChildren } from 'preact';
import { useEffect } from 'preact/hooks';
import { readingTopic } from '../../../shared/wire/topics.ts';
import { may } from '../../session.ts';
import { firstStart } from '../../settings.ts';
import { chooseSound, soundState } from '../../sound/keep.ts';
import { vessels } from '../../store.ts';
import { channelWord, FIRST_START, ROLE_NAMES, SET_UP } from '../../texts/set-up.ts';
import { SHELL_TEXTS } from '../../texts/shell.ts';
import { keyOf } from '../../vessels.ts';
import { useAnswer } from '../../views/answer.ts';
import { CopyLine } from '../../views/copy-line.tsx';
import { Problem } from '../../views/form.tsx';
import { Lacks } from '../../views/lacks.tsx';
import { TypedReading } from '../../views/typed-reading.tsx';
import { degrees, when } from '../../views/words.ts';
import { getHealth, getSites } from '../set-up/calls.ts';
import { brokerFrom, publishLine } from '../set-up/place.ts';
import { PlaceForm } from '../set-up/places.tsx';
import { readingWords } from '../set-up/reading-words.ts';
import { useTestWarning } from '../set-up/test-warning.ts';
import { byName, NewVessel } from '../set-up/vessels.tsx';
import '../set-up/set-up.css';
import './first-start.css';

const SITES_EVERY_MS = 4000;
const HEALTH_EVERY_MS = 30_000;
/** An oil in a room, as the line to copy has it. */
const SAMPLE_C = '21.5';
const CHANNEL = 'liquid-temperature';

const underWay = (): void => {
  firstStart.value = 'under-way';
};
const over = (): void => {
  firstStart.value = 'no';
};

function Step({
  title,
  state,
  said,
  children,
}: {
  title: string;
  state: 'done' | 'now' | 'to-come';
  said: string | undefined;
  children: ComponentChildren;
}) {
  return (
    <li class={`step ${state}`} aria-current={state === 'now' ? 'step' : undefined}>
      <h2>
        {title}
        {state === 'done' && <span class="tick"> ✓ {FIRST_START.done}</span>}
      </h2>
      <p role="status">{said}</p>
      {state === 'now' && children}
    </li>
  );
}

function HowToSend({ at }: { at: { site: string; vessel: string } }) {
  const texts = FIRST_START.reading;
  const health = useAnswer(getHealth, HEALTH_EVERY_MS);
  const known = health.value.value;
  if (known === undefined) return <Problem problem={health.problem} />;
  const broker = brokerFrom(known.broker.listens, location.hostname);
  return (
    <>
      <p>{texts.how}</p>
      <CopyLine
        line={publishLine(broker, readingTopic(at.site, at.vessel, CHANNEL), SAMPLE_C)}
        onCopy={underWay}
      />
      {broker.only !== null && <p class="quiet">{broker.only === 'here' ? texts.here : texts.outside}</p>}
      <p>{texts.waiting}</p>
      <details>
        <summary>{texts.byHand}</summary>
        <TypedReading vesselKey={keyOf(at)} />
      </details>
    </>
  );
}

function Warning({ site }: { site: string }) {
  const texts = FIRST_START.warning;
  const { state, arrivedAt, action, send } = useTestWarning();
  return (
    <>
      <p>{texts.why}</p>
      {soundState.value === 'off' && (
        <p>
          {texts.silent}{' '}
          <button type="button" class="in-line" onClick={() => chooseSound('on')}>
            <u>{SHELL_TEXTS.sound.turnOn}</u>
          </button>
        </p>
      )}
      <p role="status" class="strong">
        {state === 'waiting' && texts.waiting}
        {state === 'lost' && SET_UP.link.lost}
        {state === 'arrived' && arrivedAt !== undefined && texts.arrived(when(arrivedAt, 'second'))}
        {state === 'arrived' && soundState.value === 'ready' && ` ${texts.heard}`}
      </p>
      <Problem problem={action.problem} />
      <div class="actions">
        {state === 'arrived' && (
          <button type="button" onClick={over}>
            {texts.seen}
          </button>
        )}
        <button
          type="button"
          class={state === 'arrived' ? 'plain' : undefined}
          aria-disabled={action.busy || state === 'waiting'}
          onClick={() => {
            underWay();
            void send(site);
          }}
        >
          {state === 'unsent' ? texts.send : texts.again}
        </button>
      </div>
    </>
  );
}

/** Leads from nothing to a first reading and a first warning; what is done already ticks itself. */
export function FirstStart() {
  const sites = useAnswer(getSites, SITES_EVERY_MS);
  const all = byName(vessels.value?.values() ?? []);
  const count = all.length;
  // A vessel makes its site known.
  useEffect(() => void sites.again(), [count]);
  const known = sites.value.value;
  const texts = FIRST_START;
  if (!may('keep'))
    return (
      <section class="first-start">
        <h1>{texts.title}</h1>
        <Lacks right="keep" />
      </section>
    );
  if (known === undefined)
    return (
      <section class="first-start">
        <h1>{texts.title}</h1>
        <Problem problem={sites.problem} />
      </section>
    );

  // The one that got furthest.
  const place = known.find(({ site }) => all.some((vessel) => vessel.site === site)) ?? known[0];
  const vessel =
    all.find(({ site, readings }) => site === place?.site && Object.keys(readings).length > 0) ??
    all.find(({ site }) => site === place?.site);
  const newest = Object.entries(vessel?.readings ?? {}).sort(
    ([, a], [, b]) => Date.parse(b.at) - Date.parse(a.at),
  )[0];

  const done = {
    place: place !== undefined && !place.pressureAssumed,
    vessel: vessel !== undefined,
    reading: newest !== undefined,
    warning: false,
  };
  const order = ['place', 'vessel', 'reading', 'warning'] as const;
  const current = order.find((step) => !done[step]);
  const stateOf = (step: (typeof order)[number]) =>
    done[step] ? 'done' : step === current ? 'now' : 'to-come';
  const waits = (step: 'vessel' | 'reading' | 'warning') =>
    stateOf(step) === 'to-come' ? texts[step].wait : undefined;

  return (
    <section class="first-start">
      <h1>{texts.title}</h1>
      <p>{texts.lead}</p>
      <ol class="steps-of-first">
        <Step
          title={texts.place.title}
          state={stateOf('place')}
          said={done.place ? texts.place.done(place!.site, degrees(place!.boilingC)) : texts.place.why}
        >
          <PlaceForm
            site={place?.site}
            start="home"
            onlyAltitude
            submit={texts.place.save}
            onDone={async () => {
              underWay();
              await sites.again();
            }}
          />
        </Step>
        <Step
          title={texts.vessel.title}
          state={stateOf('vessel')}
          said={done.vessel ? texts.vessel.done(vessel!.vessel, ROLE_NAMES[vessel!.role]) : waits('vessel')}
        >
          <NewVessel sites={[place?.site ?? '']} start="r1" submit={texts.vessel.save} onDone={underWay} />
        </Step>
        <Step
          title={texts.reading.title}
          state={stateOf('reading')}
          said={
            newest === undefined
              ? waits('reading')
              : texts.reading.done(
                  vessel!.vessel,
                  channelWord(newest[0]),
                  readingWords(newest[0], newest[1].value),
                  when(newest[1].at, 'second'),
                )
          }
        >
          {vessel !== undefined && <HowToSend at={vessel} />}
        </Step>
        <Step title={texts.warning.title} state={stateOf('warning')} said={waits('warning')}>
          {place !== undefined && <Warning site={place.site} />}
        </Step>
      </ol>
      {count > 0 && (
        <button type="button" class="plain" onClick={over}>
          {texts.later}
        </button>
      )}
    </section>
  );
}
