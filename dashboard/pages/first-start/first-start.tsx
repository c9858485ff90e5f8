import type { ComponentChildren } from 'preact';
import { useEffect } from 'preact/hooks';
import { channelKind } from '../../../shared/wire/names.ts';
import { readingTopic } from '../../../shared/wire/topics.ts';
import { vesselHref } from '../../route.ts';
import { ifFahrenheitC } from '../../sent-doubt.ts';
import { may } from '../../session.ts';
import { firstStart } from '../../settings.ts';
import { chooseSound, soundState } from '../../sound/keep.ts';
import { fetchRefused, now, refused, vessels } from '../../store.ts';
import { mendOf } from '../../texts/mends.ts';
import { REFUSED } from '../../texts/refused.ts';
import { channelWord, FIRST_START, ROLE_NAMES, SET_UP } from '../../texts/set-up.ts';
import { SHELL_TEXTS } from '../../texts/shell.ts';
import { keyOf } from '../../vessels.ts';
import { useAnswer } from '../../views/answer.ts';
import { CopyLine } from '../../views/copy-line.tsx';
import { Problem } from '../../views/form.tsx';
import { Lacks } from '../../views/lacks.tsx';
import { TypedReading } from '../../views/typed-reading.tsx';
import { UnitDoubt } from '../../views/unit-doubt.tsx';
import { degrees, when } from '../../views/words.ts';
import { getHealth, getSenders, getSites } from '../set-up/calls.ts';
import { brokerFrom, publishLine } from '../set-up/place.ts';
import { PlaceForm } from '../set-up/places.tsx';
import { readingWords } from '../set-up/reading-words.ts';
import { useTestWarning } from '../set-up/test-warning.ts';
import { byName, NewVessel } from '../set-up/vessels.tsx';
import '../set-up/set-up.css';
import './first-start.css';

const SITES_EVERY_MS = 4000;
const HEALTH_EVERY_MS = 30_000;
const REFUSED_EVERY_MS = 4000;
/** What was refused longer ago is not what somebody tries now. */
const REFUSED_LATELY_MS = 600_000;
/** Of one who tries, the newest; the page of all has the rest. */
const MOST_REFUSED = 3;
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
  after,
}: {
  title: string;
  state: 'done' | 'now' | 'to-come';
  said: string | undefined;
  /** What there is to do about it; shown while it is its turn. */
  children: ComponentChildren;
  /** What is worth a look once it is done. */
  after?: ComponentChildren;
}) {
  return (
    <li class={`step ${state}`} aria-current={state === 'now' ? 'step' : undefined}>
      <h2>
        {title}
        {state === 'done' && <span class="tick"> ✓ {FIRST_START.done}</span>}
      </h2>
      <p role="status">{said}</p>
      {state === 'now' && children}
      {state === 'done' && after}
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

type Newest = { channel: string; at: string; value: number; typed: boolean };

/** What came, whether it can be right, and where it goes on. */
function Arrived({ at, newest }: { at: { site: string; vessel: string }; newest: Newest }) {
  const texts = FIRST_START.reading;
  const ifFahrenheit = ifFahrenheitC(newest.channel, newest);
  const isTemperature = channelKind(newest.channel) === 'temperature';
  return (
    <>
      {ifFahrenheit !== null ? (
        <UnitDoubt value={newest.value} celsius={ifFahrenheit} />
      ) : (
        isTemperature && !newest.typed && <p>{texts.right}</p>
      )}
      <p>
        <a href={vesselHref(at)}>{texts.onTo(at.vessel)}</a>
      </p>
    </>
  );
}

/** What came and was not taken in, while somebody waits for it here. */
function NotTakenIn() {
  useAnswer(fetchRefused, REFUSED_EVERY_MS);
  const texts = FIRST_START.refused;
  const lately = (refused.value?.refused ?? [])
    .filter(({ last }) => now.value - Date.parse(last) <= REFUSED_LATELY_MS)
    .slice(0, MOST_REFUSED);
  return (
    <div role="status">
      {lately.length > 0 && (
        <section class="not-taken">
          <h2>{texts.title}</h2>
          <ul>
            {lately.map(({ topic, code, because, count, last, from }) => (
              <li key={`${topic} ${code}`}>
                <p class="code">{topic}</p>
                <p>
                  {because} {from !== null && REFUSED.from(from)} {texts.lastAt(count, when(last, 'second'))}
                </p>
                <p class="mend">
                  <b>{SET_UP.refused.mend}:</b> {mendOf(code) ?? SET_UP.refused.noMend}
                </p>
              </li>
            ))}
          </ul>
        </section>
      )}
    </div>
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
  const senders = useAnswer(getSenders, SITES_EVERY_MS);
  const all = byName(vessels.value?.values() ?? []);
  const count = all.length;
  // Whoever is led here stays until it is over: the first reading alone must not take the page away unsaid.
  useEffect(() => {
    if (may('keep')) underWay();
  }, []);
  // A vessel makes its site known.
  useEffect(() => {
    void sites.again();
    void senders.again();
  }, [count]);
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

  // The one that got furthest, whatever was named before: a device may send to another.
  const measured = all.find(({ readings }) => Object.keys(readings).length > 0) ?? all[0];
  const place = known.find(({ site }) => site === measured?.site) ?? known[0];
  const vessel =
    all.find(({ site, readings }) => site === place?.site && Object.keys(readings).length > 0) ??
    all.find(({ site }) => site === place?.site);
  const newest = Object.entries(vessel?.readings ?? {})
    .map(([channel, reading]) => ({ channel, ...reading }))
    .sort((a, b) => Date.parse(b.at) - Date.parse(a.at))[0];
  const sender = senders.value.value?.find(
    (one) => one.site === vessel?.site && one.vessel === vessel.vessel && one.channel === newest?.channel,
  )?.sender;

  const done = {
    // A barometer alone is not enough: what many send is reduced to sea level, and nothing here could tell.
    place:
      place !== undefined && !place.pressureAssumed && (place.altitudeM !== null || place.barometer === null),
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
      <NotTakenIn />
      <ol class="steps-of-first">
        <Step
          title={texts.place.title}
          state={stateOf('place')}
          said={
            done.place
              ? texts.place.done(place!.site, degrees(place!.boilingC))
              : place?.barometer == null
                ? texts.place.why
                : texts.place.barometer(place.barometer.pressureHPa.toFixed(0))
          }
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
                  channelWord(newest.channel),
                  readingWords(newest.channel, newest.value),
                  when(newest.at, 'second'),
                  newest.typed ? SET_UP.channels.typed : sender && texts.reading.sentBy(sender),
                )
          }
          after={newest !== undefined && <Arrived at={vessel!} newest={newest} />}
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
